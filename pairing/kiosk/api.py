"""The API for other software, version 1. `openapi.json` describes it and is served as it is."""

from __future__ import annotations

import json
from importlib import resources
from typing import Any

from anyio import to_thread
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import BaseRoute, Route

import pairing
from pairing.errors import LedgerUnusable
from pairing.kiosk import bodies, shapes
from pairing.kiosk.bench import not_recorded
from pairing.kiosk.checking import Offered, checked, recorded
from pairing.kiosk.pictures import Reader
from pairing.kiosk.refusals import malformed
from pairing.kiosk.settings import Settings
from pairing.ledger import Ledger
from pairing.model import Side
from pairing.pieces import report
from pairing.wedge import WedgeSetup

MOST_SCANS = 16
LONGEST_TEXT = 2_000
LONGEST_NAME = 80
LONGEST_NUMBER = 100
_SHOWS = {"label": Side.LABEL, "card": Side.CARD, "both": None}


def document() -> dict[str, Any]:
    """The OpenAPI 3.1 document. A piece and a batch are described by the command line's own
    schema, so that the two cannot part; a piece from scans has no photos."""
    text = resources.files("pairing.kiosk").joinpath("openapi.json").read_text("utf-8")
    found: dict[str, Any] = json.loads(text)
    batch = report.schema()
    piece = batch["properties"]["pieces"]["items"]
    del piece["properties"]["photos"]["minItems"], batch["$schema"]
    batch["properties"]["pieces"]["items"] = {"$ref": "#/components/schemas/Piece"}
    found["components"]["schemas"] |= {"Piece": piece, "Batch": batch}
    return found


def routes(ledger: Ledger, reader: Reader, settings: Settings) -> list[BaseRoute]:
    """Routes under /v1."""
    setup = WedgeSetup(gs_substitutes=settings.gs)
    described = json.dumps(document()).encode()

    async def hello(_: Request) -> JSONResponse:
        return JSONResponse({"name": "counterfoil", "version": pairing.__version__})

    async def openapi(_: Request) -> Response:
        return Response(described, media_type="application/json")

    async def pieces(request: Request) -> JSONResponse:
        found = await bodies.json_object(request, settings.json_bytes)
        offered, is_kept = _offered(found)
        work = recorded if is_kept else checked
        return JSONResponse(await to_thread.run_sync(work, ledger, offered, setup))

    async def photos(request: Request) -> JSONResponse:
        shows = request.query_params.get("shows", "both")
        if shows not in _SHOWS:
            raise malformed("'shows' is label, card or both.")
        kind = request.headers.get("content-type", "")
        with reader.arriving():
            data = await bodies.raw(request, settings.photo_bytes)
            batch = await to_thread.run_sync(reader.batch, data, kind, _SHOWS[shows])
        return JSONResponse(batch)

    async def numbers(request: Request) -> JSONResponse:
        text = request.path_params["text"]
        if len(text) > LONGEST_NUMBER:
            raise malformed(f"No number has more than {LONGEST_NUMBER} characters.")
        return JSONResponse(await to_thread.run_sync(_number, ledger, text))

    return [
        Route("/v1/hello", hello, methods=["GET"]),
        Route("/v1/openapi.json", openapi, methods=["GET"]),
        Route("/v1/pieces", pieces, methods=["POST"]),
        Route("/v1/photos", photos, methods=["POST"]),
        Route("/v1/numbers/{text}", numbers, methods=["GET"]),
    ]


def _offered(found: dict[str, Any]) -> tuple[Offered, bool]:
    bodies.only(found, "scans", "strip", "box", "desk", "operator", "record", "key")
    is_kept = bodies.flag(found, "record")
    offered = Offered(
        scans=tuple(bodies.texts(found, "scans", most=MOST_SCANS, longest=LONGEST_TEXT)),
        strip=bodies.text(found, "strip", most=LONGEST_TEXT, default=""),
        box=bodies.text(found, "box", most=LONGEST_TEXT, default=""),
        desk=bodies.text(found, "desk", most=LONGEST_NAME, least=1, default="api"),
        operator=bodies.text(found, "operator", most=LONGEST_NAME, least=1, default="api"),
        key=bodies.text(found, "key", most=LONGEST_NAME, default=""),
    )
    if is_kept and not offered.key:
        raise malformed("A piece that is to be recorded needs a 'key' of its own.")
    return offered, is_kept


def _number(ledger: Ledger, text: str) -> dict[str, Any]:
    told = shapes.number(text)
    canonical = told["number"]
    try:
        story = ledger.story(canonical) if canonical else None
    except LedgerUnusable as error:
        raise not_recorded() from error
    pieces = story.pieces if story else ()
    expected = story.expected if story else ()
    return {
        **told,
        "pieces": [
            {
                "entry": one.sequence,
                "at": one.first.at,
                "state": one.state.value,
                "desk": one.first.desk,
                "article": one.article,
                "card": one.card,
            }
            for one in pieces
        ],
        "expected": [
            {
                "article": one.entry.article,
                "card": one.entry.card,
                "source": one.entry.remark,
                "is_withdrawn": one.is_withdrawn,
            }
            for one in expected
        ],
    }
