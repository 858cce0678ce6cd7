"""The service put together."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from anyio import to_thread
from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse
from starlette.routing import Route
from starlette.types import ASGIApp

from pairing.kiosk import api, bodies, operators, pages, refusals, stations
from pairing.kiosk.addresses import Address, route
from pairing.kiosk.guard import ACCESS_COOKIE, Guard
from pairing.kiosk.limits import Buckets
from pairing.kiosk.messages import Token
from pairing.kiosk.pictures import Reader
from pairing.kiosk.refusals import Refused, too_many
from pairing.kiosk.secret import Checked, SecretFile, Secrets
from pairing.kiosk.sessions import Sessions
from pairing.kiosk.settings import Settings
from pairing.ledger import Ledger

_YEAR_S = 31_536_000
_TRIES_PER_S, _TRIES = 1 / 12, 5.0


def create_app(
    ledger: Ledger,
    *,
    settings: Settings,
    secrets: Secrets,
    secret_file: SecretFile | None = None,
) -> ASGIApp:
    """The service as an ASGI application. It closes the ledger's places at the end, not the
    ledger. secrets: stored hashes; without a token nobody but this machine gets in.
    secret_file: where a hash is stored again when its cost was raised; None for nowhere."""
    sessions = Sessions(ledger, settings)
    reader = Reader()
    renew = secret_file.renew if secret_file else _nowhere
    token = Checked(secrets.token, lambda new: renew(token=new))
    pin = Checked(secrets.pin, lambda new: renew(pin=new))

    @asynccontextmanager
    async def lifespan(_: Starlette) -> AsyncIterator[None]:
        with reader:
            yield
        await to_thread.run_sync(sessions.close)

    inner = Starlette(
        routes=[
            *pages.routes(),
            _enter_route(settings, token),
            *stations.routes(sessions, reader, settings),
            *operators.routes(ledger, sessions, reader, settings, pin=pin),
            *api.routes(ledger, reader, settings),
        ],
        exception_handlers={
            Refused: refusals.answer,
            HTTPException: _http,
            Exception: _inside,
        },
        lifespan=lifespan,
    )
    return Guard(inner, settings=settings, token=token)


def _nowhere(**_: str) -> None:
    """Where no file of hashes is known, none is renewed."""


def _enter_route(settings: Settings, token: Checked) -> Route:
    """Takes the access token and remembers it on that machine."""
    tries = Buckets(per_s=_TRIES_PER_S, burst=_TRIES)

    async def enter(request: Request) -> JSONResponse:
        given = (await bodies.decoded(request, Token, settings.json_bytes)).token
        if not tries.take(request.client.host if request.client else ""):
            raise too_many("too-many-tries", "Too many wrong tokens.", wait_s=60)
        if not await to_thread.run_sync(token.is_right, given):
            raise Refused(status=403, code="token", message="This is not the token.")
        response = JSONResponse({"is_entered": True})
        response.set_cookie(
            ACCESS_COOKIE,
            given,
            max_age=_YEAR_S,
            httponly=True,
            samesite="strict",
            secure=settings.is_tls_in_front,
        )
        return response

    return route(Address.ENTER, enter, method="POST")


async def _inside(_: Request, __: Exception) -> JSONResponse:
    """Anything else: `guard` logs it, nobody is told."""
    return refusals.response(refusals.inside())


async def _http(_: Request, error: Exception) -> JSONResponse:
    """Starlette's own refusals (no such route, method not served) in our shape."""
    assert isinstance(error, HTTPException)
    code = {404: "not-found", 405: "method"}.get(error.status_code, "refused")
    message = {
        404: "There is nothing at this address.",
        405: "This method is not served here.",
    }.get(error.status_code, "This cannot be served.")
    return JSONResponse(
        refusals.body(code, message), status_code=error.status_code, headers=error.headers
    )
