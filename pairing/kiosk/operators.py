"""The operator's page: a PIN opens it, a pass keeps it open for a while."""

from __future__ import annotations

import secrets
import threading
import time
from collections import OrderedDict
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

from anyio import to_thread
from starlette.requests import Request
from starlette.responses import JSONResponse
from starlette.routing import BaseRoute, Route

from pairing.errors import LedgerUnusable
from pairing.kiosk import bodies, dayview
from pairing.kiosk.limits import Buckets
from pairing.kiosk.messages import Pin
from pairing.kiosk.refusals import Refused, malformed
from pairing.kiosk.secret import Checked
from pairing.kiosk.sessions import Sessions
from pairing.kiosk.settings import Settings
from pairing.ledger import Ledger

PASS_HEADER = "x-counterfoil-pass"
POLL_HEADER = "x-counterfoil-poll"
"""The page asks for new figures by itself; that is no use of the pass."""

PASS_S = 900.0
"""A pass that was not used for this long has ended. Common practice, no source."""

BROWSER_COOKIE = "counterfoil_browser"
"""Names a browser in which the PIN was right before. It opens nothing; its tries are counted
apart, so that whoever guesses from behind the same proxy does not lock it out."""

_MOST_BROWSERS = 256
_MOST_PASSES = 16
_TRIES_PER_S, _TRIES = 1 / 20, 5.0
_SPANS = (1, 7, 30)


class Passes:
    """Who has given the PIN. Nothing of it outlives the process."""

    def __init__(self, ticks: Callable[[], float] = time.monotonic) -> None:
        self._ticks = ticks
        self._used: OrderedDict[str, float] = OrderedDict()
        self._turn = threading.Lock()

    def new(self) -> str:
        """A new pass; the one used longest ago goes where there are too many."""
        given = secrets.token_urlsafe(24)
        with self._turn:
            self._used[given] = self._ticks()
            if len(self._used) > _MOST_PASSES:
                self._used.popitem(last=False)
        return given

    def is_good(self, given: str, *, is_used: bool = True) -> bool:
        """Whether the pass is one of these; if it `is_used` it then lives on."""
        with self._turn:
            used = self._used.get(given)
            if used is None:
                return False
            if self._ticks() - used > PASS_S:
                del self._used[given]
                return False
            if is_used:
                self._used[given] = self._ticks()
                self._used.move_to_end(given)
            return True

    def end(self, given: str) -> None:
        """The pass is good no longer."""
        with self._turn:
            self._used.pop(given, None)


class Browsers:
    """The browsers in which the PIN was right. Nothing of it outlives the process."""

    def __init__(self) -> None:
        self._known: OrderedDict[str, None] = OrderedDict()

    def knows(self, name: str) -> bool:
        """Whether this is the name of one."""
        return name in self._known

    def named(self, name: str) -> str:
        """Its name, a new one where it has none; the oldest goes where there are too many."""
        if name in self._known:
            return name
        new = secrets.token_urlsafe(24)
        self._known[new] = None
        if len(self._known) > _MOST_BROWSERS:
            self._known.popitem(last=False)
        return new


def routes(
    ledger: Ledger, sessions: Sessions, settings: Settings, *, pin: Checked
) -> list[BaseRoute]:
    """Routes of the operator's page. pin: what a PIN is checked with."""
    passes = Passes()
    cards = dayview.OutstandingCards()
    browsers = Browsers()
    tries = Buckets(per_s=_TRIES_PER_S, burst=_TRIES)

    async def open_day(request: Request) -> JSONResponse:
        given = (await bodies.decoded(request, Pin, settings.json_bytes)).pin
        browser = request.cookies.get(BROWSER_COOKIE, "")
        client = request.client.host if request.client else ""
        if not tries.take(f"browser {browser}" if browsers.knows(browser) else client):
            raise Refused(
                status=429,
                code="too-many-tries",
                message="Too many wrong PINs.",
                action="Wait a minute.",
                headers={"retry-after": "60"},
            )
        if not await to_thread.run_sync(pin.is_right, given):
            raise Refused(status=403, code="pin", message="This is not the PIN.")
        response = JSONResponse({"pass": passes.new(), "seconds": PASS_S})
        response.set_cookie(
            BROWSER_COOKIE,
            browsers.named(browser),
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

    return [
        Route("/operator/open", open_day, methods=["POST"]),
        Route("/operator/close", close_day, methods=["POST"]),
        Route("/operator/day", day, methods=["GET"]),
    ]


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
