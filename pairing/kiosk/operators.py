"""The operator's page: a PIN opens it, a pass keeps it open for a while."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from anyio import to_thread
from starlette.requests import Request
from starlette.responses import JSONResponse
from starlette.routing import BaseRoute

from pairing.errors import LedgerUnusable
from pairing.kiosk import bodies, dayview, form_routes
from pairing.kiosk.addresses import Address, route
from pairing.kiosk.messages import CameBack, Pin, Sought
from pairing.kiosk.pictures import Reader
from pairing.kiosk.pin import PASS_S, Passes, Tries
from pairing.kiosk.refusals import Refused, malformed
from pairing.kiosk.returned import ReturnedCards
from pairing.kiosk.secret import Checked
from pairing.kiosk.sessions import Sessions
from pairing.kiosk.settings import Settings
from pairing.ledger import Ledger

PASS_HEADER = "x-counterfoil-pass"
POLL_HEADER = "x-counterfoil-poll"
"""The page asks for new figures by itself; that is no use of the pass."""

BROWSER_COOKIE = "counterfoil_browser"
"""Names a browser in which the PIN was right before. It opens nothing (`pin.Tries`)."""

_SPANS = (1, 7, 30)


def routes(
    ledger: Ledger, sessions: Sessions, reader: Reader, settings: Settings, *, pin: Checked
) -> list[BaseRoute]:
    """Routes of the operator's page. pin: what a PIN is checked with."""
    passes = Passes()
    cards = dayview.OutstandingCards()
    tries = Tries()
    returned = ReturnedCards(ledger, settings)

    async def open_day(request: Request) -> JSONResponse:
        given = (await bodies.decoded(request, Pin, settings.json_bytes)).pin
        browser = request.cookies.get(BROWSER_COOKIE, "")
        client = request.client.host if request.client else ""
        tries.take(browser, client)
        if not await to_thread.run_sync(pin.is_right, given):
            raise Refused(status=403, code="pin", message="This is not the PIN.")
        response = JSONResponse({"pass": passes.new(), "seconds": PASS_S})
        response.set_cookie(
            BROWSER_COOKIE,
            tries.browsers.named(browser),
            httponly=True,
            samesite="strict",
            secure=settings.is_tls_in_front,
        )
        return response

    async def close_day(request: Request) -> JSONResponse:
        passes.end(request.headers.get(PASS_HEADER, ""))
        return JSONResponse({"is_closed": True})

    async def day(request: Request) -> JSONResponse:
        given = request.headers.get(PASS_HEADER, "")
        if not passes.is_good(given, is_used=POLL_HEADER not in request.headers):
            raise Refused(status=401, code="pass", message="The PIN is needed.")
        span = request.query_params.get("days", "1")
        if span not in map(str, _SPANS):
            raise malformed("'days' is 1, 7 or 30.")
        return JSONResponse(await to_thread.run_sync(_overview, ledger, sessions, cards, int(span)))

    def check(request: Request) -> None:
        if not passes.is_good(request.headers.get(PASS_HEADER, "")):
            raise Refused(status=401, code="pass", message="The PIN is needed.")

    async def find(request: Request) -> JSONResponse:
        check(request)
        text = (await bodies.decoded(request, Sought, settings.json_bytes)).text
        return JSONResponse(await to_thread.run_sync(_found, ledger, text))

    async def take_back(request: Request) -> JSONResponse:
        check(request)
        given = await bodies.decoded(request, CameBack, settings.json_bytes)
        return JSONResponse(await to_thread.run_sync(_taken_back, returned, given))

    return [
        *form_routes.routes(reader, settings, check=check),
        route(Address.OPERATOR_RETURNED, take_back, method="POST"),
        route(Address.OPERATOR_FIND, find, method="POST"),
        route(Address.OPERATOR_OPEN, open_day, method="POST"),
        route(Address.OPERATOR_CLOSE, close_day, method="POST"),
        route(Address.OPERATOR_DAY, day),
    ]


def _found(ledger: Ledger, text: str) -> dict[str, Any]:
    try:
        return dayview.found(ledger, text)
    except LedgerUnusable as error:
        raise Refused(
            status=503, code="ledger", message="The ledger cannot be read now."
        ) from error


def _taken_back(returned: ReturnedCards, given: CameBack) -> dict[str, Any]:
    try:
        return returned.take(given)
    except LedgerUnusable as error:
        raise Refused(
            status=503, code="ledger", message="The ledger cannot be written now."
        ) from error


def _overview(
    ledger: Ledger, sessions: Sessions, cards: dayview.OutstandingCards, days: int
) -> dict[str, Any]:
    try:
        return dayview.overview(
            ledger, now=datetime.now(UTC), days=days, in_hand=sessions.in_hand, cards=cards
        )
    except LedgerUnusable as error:
        raise Refused(
            status=503, code="ledger", message="The ledger cannot be read now."
        ) from error
