"""The API for other software, version 1. `openapi` describes it, from the same types."""

from __future__ import annotations

import re

import msgspec
from anyio import to_thread
from msgspec.structs import replace
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import BaseRoute

import pairing
from pairing.errors import LedgerUnusable
from pairing.kiosk import bodies, openapi, shapes
from pairing.kiosk.addresses import Address, route
from pairing.kiosk.checking import checked, recorded
from pairing.kiosk.messages import Answer, Hello, Known, KnownExpectation, KnownPiece, Offer
from pairing.kiosk.pictures import Reader
from pairing.kiosk.refusals import malformed
from pairing.kiosk.sessions import not_recorded
from pairing.kiosk.settings import Settings
from pairing.ledger import Ledger
from pairing.model import Side
from pairing.pieces import office_rules

_NUMBER = re.compile(openapi.NUMBER_PATTERN)
_SIDES = {"label": Side.LABEL, "card": Side.CARD, "both": None}


def routes(ledger: Ledger, reader: Reader, settings: Settings) -> list[BaseRoute]:
    """Routes under /v1."""
    setup = office_rules.wedge_setup(settings.gs)
    described = msgspec.json.encode(openapi.document())

    async def document(_: Request) -> Response:
        return Response(described, media_type="application/json")

    async def pieces(request: Request) -> Response:
        offer = await bodies.decoded(request, Offer, settings.json_bytes)
        _check(offer)
        work = recorded if offer.record else checked
        return _answer(await to_thread.run_sync(work, ledger, offer, setup))

    async def photos(request: Request) -> JSONResponse:
        shows = request.query_params.get("shows", "both")
        if shows not in _SIDES:
            raise malformed("'shows' is label, card or both.")
        kind = request.headers.get("content-type", "")
        with reader.arriving():
            data = await bodies.raw(request, settings.photo_bytes)
            batch = await to_thread.run_sync(reader.batch, data, kind, _SIDES[shows])
        return JSONResponse(batch)

    async def numbers(request: Request) -> Response:
        text = request.path_params["text"]
        if not _NUMBER.search(text):
            raise malformed(
                f"A number is at most {openapi.LONGEST_NUMBER} characters of printable ASCII."
            )
        return _answer(await to_thread.run_sync(_number, ledger, text))

    return [
        route(Address.API_HELLO, _hello),
        route(Address.API_DOCUMENT, document),
        route(Address.API_PIECES, pieces, method="POST"),
        route(Address.API_PHOTOS, photos, method="POST"),
        route(Address.API_NUMBERS, numbers),
    ]


async def _hello(_: Request) -> Response:
    return _answer(Hello(name="counterfoil", version=pairing.__version__))


def _check(offer: Offer) -> None:
    if offer.scans is msgspec.UNSET and not offer.strip and not offer.box:
        raise malformed("An offer holds 'scans', 'strip' or 'box'.")
    if offer.record and not offer.key:
        raise malformed("A piece that is to be recorded needs a 'key' of its own.")


def _answer(value: Answer) -> Response:
    return Response(msgspec.json.encode(value), media_type="application/json")


def _number(ledger: Ledger, text: str) -> Known:
    known = shapes.number(text)
    try:
        story = ledger.story(known.number) if known.number else None
    except LedgerUnusable as error:
        raise not_recorded() from error
    if story is None:
        return known
    return replace(
        known,
        pieces=[
            KnownPiece(
                entry=one.sequence,
                at=one.first.at,
                state=one.state,
                desk=one.first.desk,
                article=one.article,
                card=one.card,
            )
            for one in story.pieces
        ],
        expected=[
            KnownExpectation(
                article=one.entry.article,
                card=one.entry.card,
                source=one.entry.remark,
                is_withdrawn=one.is_withdrawn,
            )
            for one in story.expected
        ],
    )
