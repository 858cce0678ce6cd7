"""What the kiosk's page asks of the service."""

from __future__ import annotations

import re

from anyio import to_thread
from starlette.requests import Request
from starlette.responses import JSONResponse
from starlette.routing import BaseRoute, Route

from pairing.kiosk import bodies, shapes
from pairing.kiosk.bench import Bench, EntryKind
from pairing.kiosk.pictures import Reader
from pairing.kiosk.refusals import malformed
from pairing.kiosk.settings import Settings

LONGEST_TEXT = 4_000
"""Characters of one scan; the wedge looks at 2,000 and says so of more."""

_NAME = re.compile(r"[A-Za-z0-9_-]{16,64}")
_KINDS = tuple(kind.value for kind in EntryKind)


def routes(bench: Bench, reader: Reader, settings: Settings) -> list[BaseRoute]:
    """Routes of the kiosk's page."""
    place = {
        "desk": settings.desk,
        "language": settings.language,
        "idle_s": settings.idle_s,
    }

    async def about(_: Request) -> JSONResponse:
        return JSONResponse(place)

    async def begin(request: Request) -> JSONResponse:
        found = await bodies.json_object(request, settings.json_bytes)
        bodies.only(found, "instead")
        instead = bodies.text(found, "instead", most=64, default="")
        return JSONResponse({**place, "session": bench.begin(instead)})

    async def entry(request: Request) -> JSONResponse:
        found = await bodies.json_object(request, settings.json_bytes)
        bodies.only(found, "session", "kind", "text", "key")
        kind = EntryKind(bodies.one_of(found, "kind", _KINDS, ""))
        text = bodies.text(found, "text", most=LONGEST_TEXT, default="")
        session, key = _name(found.get("session")), _name(found.get("key"))
        return JSONResponse(await to_thread.run_sync(bench.enter, session, kind, text, key))

    async def frame(request: Request) -> JSONResponse:
        session = _name(request.headers.get("x-counterfoil-session"))
        key = _name(request.headers.get("x-counterfoil-key"))
        data = await bodies.raw(request, settings.photo_bytes)
        kind = request.headers.get("content-type", "")
        seen, boxes = await to_thread.run_sync(reader.frame, data, kind)
        answer = await to_thread.run_sync(bench.see, session, seen, key)
        outlines = [shapes.outline(one) for one in seen.readings if one.quad is not None]
        outlines += [{"side": "box", "corners": shapes.corners(box)} for box in boxes]
        return JSONResponse({**answer, "outlines": outlines})

    async def leave(request: Request) -> JSONResponse:
        found = await bodies.json_object(request, settings.json_bytes)
        bodies.only(found, "session")
        await to_thread.run_sync(bench.leave, _name(found.get("session")))
        return JSONResponse({"is_left": True})

    return [
        Route("/kiosk/place", about, methods=["GET"]),
        Route("/kiosk/begin", begin, methods=["POST"]),
        Route("/kiosk/entry", entry, methods=["POST"]),
        Route("/kiosk/frame", frame, methods=["POST"]),
        Route("/kiosk/leave", leave, methods=["POST"]),
    ]


def _name(given: object) -> str:
    """A session's or an entry's name, as the service or the page made it."""
    if not isinstance(given, str) or not _NAME.fullmatch(given):
        raise malformed("A name of 16 to 64 letters, digits, - and _ is needed.")
    return given
