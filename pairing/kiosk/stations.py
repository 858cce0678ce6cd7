"""What the kiosk's page asks of the service."""

from __future__ import annotations

from typing import Annotated

import msgspec
from anyio import to_thread
from msgspec import Meta
from starlette.requests import Request
from starlette.responses import JSONResponse
from starlette.routing import BaseRoute

from pairing.desk.for_whom import Field
from pairing.kiosk import bodies, shapes
from pairing.kiosk.addresses import Address, route
from pairing.kiosk.messages import Body
from pairing.kiosk.pictures import Reader
from pairing.kiosk.refusals import malformed
from pairing.kiosk.sessions import EntryKind, Sessions
from pairing.kiosk.settings import Settings

LONGEST_ENTRY = 4_000
"""Characters of one scan; the wedge looks at 2,000 and says so of more."""

Name = Annotated[str, Meta(pattern=r"\A[A-Za-z0-9_-]{16,64}\Z")]
"""A session's or an entry's name, as the service or the page made it."""


LONGEST_WAIT_MS = 86_400_000
"""A day: stops of earlier days say nothing of a piece (`desk.lookup`)."""


class Begin(Body):
    """A page opens. instead: the session that it had before, whose entries it offers again.
    waited_ms: how long ago it took the last of them."""

    instead: Annotated[str, Meta(max_length=64)] = ""
    waited_ms: Annotated[int, Meta(ge=0, le=LONGEST_WAIT_MS)] = 0


class PageEntry(Body):
    """One entry of a page."""

    session: Name
    kind: EntryKind
    key: Name
    text: Annotated[str, Meta(max_length=LONGEST_ENTRY)] = ""


class About(Body):
    """For whom and why a piece is. of: its entry, once it is recorded; without it the piece in
    hand, or the next one."""

    session: Name
    key: Name
    about: dict[Field, Annotated[str, Meta(max_length=LONGEST_ENTRY)]]
    of: Annotated[int, Meta(ge=1)] | None = None


class Leave(Body):
    """A page closes."""

    session: Name


def routes(sessions: Sessions, reader: Reader, settings: Settings) -> list[BaseRoute]:
    """Routes of the kiosk's page."""
    place = {
        "desk": settings.desk,
        "language": settings.language,
        "idle_s": settings.idle_s,
        "asks_kind": settings.asks_kind,
    }

    async def here(_: Request) -> JSONResponse:
        return JSONResponse(place)

    async def begin(request: Request) -> JSONResponse:
        given = await bodies.decoded(request, Begin, settings.json_bytes)
        return JSONResponse({**place, "session": sessions.begin(given.instead, given.waited_ms)})

    async def entry(request: Request) -> JSONResponse:
        given = await bodies.decoded(request, PageEntry, settings.json_bytes)
        entry = (given.session, given.kind, given.text, given.key)
        return JSONResponse(await to_thread.run_sync(sessions.enter, *entry))

    async def frame(request: Request) -> JSONResponse:
        session = _name(request.headers.get("x-counterfoil-session"))
        key = _name(request.headers.get("x-counterfoil-key"))
        kind = request.headers.get("content-type", "")
        with reader.arriving():
            data = await bodies.raw(request, settings.photo_bytes)
            seen, boxes = await to_thread.run_sync(reader.frame, data, kind)
        answer = await to_thread.run_sync(sessions.see, session, seen, key)
        outlines = [shapes.outline(one) for one in seen.readings if one.quad is not None]
        outlines += [{"side": "box", "corners": shapes.corners(box)} for box in boxes]
        return JSONResponse({**answer, "outlines": outlines})

    async def about(request: Request) -> JSONResponse:
        given = await bodies.decoded(request, About, settings.json_bytes)
        said = (given.session, given.about, given.of, given.key)
        return JSONResponse(await to_thread.run_sync(sessions.tell, *said))

    async def leave(request: Request) -> JSONResponse:
        given = await bodies.decoded(request, Leave, settings.json_bytes)
        await to_thread.run_sync(sessions.leave, given.session)
        return JSONResponse({"is_left": True})

    return [
        route(Address.KIOSK_PLACE, here),
        route(Address.KIOSK_BEGIN, begin, method="POST"),
        route(Address.KIOSK_ENTRY, entry, method="POST"),
        route(Address.KIOSK_FRAME, frame, method="POST"),
        route(Address.KIOSK_ABOUT, about, method="POST"),
        route(Address.KIOSK_LEAVE, leave, method="POST"),
    ]


def _name(given: str | None) -> str:
    try:
        return msgspec.convert(given, Name)
    except msgspec.ValidationError:
        raise malformed("A name of 16 to 64 letters, digits, - and _ is needed.") from None
