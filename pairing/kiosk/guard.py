"""Checks before every route (Host, Origin, token, rates), and headers on every answer.

Written against ASGI itself, so that nothing behind it runs for a request that is refused.
"""

from __future__ import annotations

import logging
from collections.abc import Iterable
from http.cookies import CookieError, SimpleCookie

from anyio import to_thread
from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from pairing.kiosk import refusals
from pairing.kiosk.addresses import API_PREFIX, Address
from pairing.kiosk.limits import Buckets
from pairing.kiosk.refusals import Refused, too_many
from pairing.kiosk.secret import Checked
from pairing.kiosk.settings import Settings, is_address, is_loopback
from pairing.numbers.text import is_digits

ACCESS_COOKIE = "counterfoil_access"
PAGE_HEADER = "x-counterfoil"
"""Only the service's own pages send it: another site's page would have to ask first, and is
never answered (Fetch standard, CORS-preflight)."""

WITHOUT_TOKEN = (Address.ENTER.prefix, Address.PART.prefix, Address.TEXTS.prefix)
"""What a machine without the token may have: the page that asks for it, and what it is made of."""

_LOG = logging.getLogger("counterfoil.kiosk")
_FAILURES_PER_S, _FAILURES = 1 / 12, 5.0

CONTENT_POLICY = "; ".join(
    (
        "default-src 'none'",
        "script-src 'self'",
        "style-src 'self'",
        "img-src 'self' blob: data:",
        "media-src 'self' blob:",
        "connect-src 'self'",
        "base-uri 'none'",
        "form-action 'none'",
        "frame-ancestors 'none'",
        "require-trusted-types-for 'script'",
        "trusted-types 'none'",
    )
)

_HEADERS = {
    "content-security-policy": CONTENT_POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(self), microphone=(), geolocation=(), payment=(), usb=()",
    "x-frame-options": "DENY",
}


class Guard:
    """The ASGI middleware. token: what an access token is checked with."""

    def __init__(self, app: ASGIApp, *, settings: Settings, token: Checked) -> None:
        self._app = app
        self._settings = settings
        self._token = token
        self._rates = Buckets(per_s=settings.per_s, burst=settings.burst)
        self._failures = Buckets(per_s=_FAILURES_PER_S, burst=_FAILURES)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self._app(scope, receive, send)
            return
        sender = _Sender(send, is_tls=self._settings.is_tls_in_front)
        try:
            await self._check(scope)
            await self._app(scope, receive, sender)
        except Refused as refused:
            await refusals.response(refused)(scope, receive, sender)
        except Exception:
            _LOG.exception("A request failed")
            if sender.is_begun:
                return
            await refusals.response(refusals.inside())(scope, receive, sender)

    async def _check(self, scope: Scope) -> None:
        headers = Headers(scope=scope)
        client = (scope.get("client") or ("", 0))[0]
        if not self._rates.take(client):
            raise too_many("too-many", "Too many requests at once.", wait_s=1)
        self._check_host(headers.getlist("host"))
        # A method that no route takes is answered by the routes, which say what they do take.
        if scope["method"] == "POST":
            _check_origin(scope["path"], headers)
        if self._settings.needs_token and not scope["path"].startswith(WITHOUT_TOKEN):
            await self._check_token(client, headers)

    def _check_host(self, given: list[str]) -> None:
        name = _hostname(given[0]) if len(given) == 1 else ""
        own = self._settings
        if is_loopback(name) or (name and name in (*own.names, own.host)):
            return
        if not own.is_loopback and is_address(name):
            return
        raise Refused(
            status=421,
            code="host",
            message="This service is not called by that name.",
            action="Use its address, or start it with --name.",
        )

    async def _check_token(self, client: str, headers: Headers) -> None:
        given = _bearer(headers) or _cookie(headers, ACCESS_COOKIE)
        if given and self._token.is_known(given):
            return
        if not self._failures.has(client):
            raise too_many("too-many-tries", "Too many wrong tokens.", wait_s=60)
        if given:
            is_right = await to_thread.run_sync(self._token.is_right, given)
            if is_right:
                return
            self._failures.take(client)
        wants_page = "text/html" in headers.get("accept", "")
        raise Refused(
            status=303 if wants_page else 401,
            code="token",
            message="This needs the access token.",
            action=f"Open {Address.ENTER}, or send it as a bearer token.",
            headers={"location": Address.ENTER.value}
            if wants_page
            else {"www-authenticate": "Bearer"},
        )


class _Sender:
    """Passes messages on with the headers that every answer has."""

    def __init__(self, send: Send, *, is_tls: bool) -> None:
        self._send = send
        self._is_tls = is_tls
        self.is_begun = False

    async def __call__(self, message: Message) -> None:
        if message["type"] == "http.response.start":
            self.is_begun = True
            headers = MutableHeaders(scope=message)
            for name, value in _HEADERS.items():
                headers[name] = value
            headers.setdefault("cache-control", "no-store")
            if self._is_tls:
                headers["strict-transport-security"] = "max-age=31536000"
        await self._send(message)


def _check_origin(path: str, headers: Headers) -> None:
    """A page of another site may not make a browser post here."""
    origin, host = headers.get("origin"), headers.get("host", "")
    site = headers.get("sec-fetch-site", "same-origin")
    is_ours = origin is not None and origin.lower() in (
        f"http://{host.lower()}",
        f"https://{host.lower()}",
    )
    is_page = not path.startswith(API_PREFIX)
    if (origin is not None and not is_ours) or site not in ("same-origin", "none"):
        raise Refused(status=403, code="origin", message="Another site's page may not do this.")
    if is_page and (not is_ours or headers.get(PAGE_HEADER) is None):
        raise Refused(
            status=403,
            code="page",
            message="Only the kiosk's own pages do this.",
            action=f"Other software uses {API_PREFIX.rstrip('/')}.",
        )


def _hostname(host: str) -> str:
    """The name in a Host header, without the port; "" for one that is none."""
    host = host.strip().lower()
    if host.startswith("["):
        name, bracket, port = host.partition("]")
        return name[1:] if bracket and _is_port(port.removeprefix(":")) else ""
    name, _, port = host.partition(":")
    return name if _is_port(port) else ""


def _is_port(text: str) -> bool:
    return not text or is_digits(text)


def _bearer(headers: Headers) -> str:
    scheme, _, value = headers.get("authorization", "").partition(" ")
    return value.strip() if scheme.lower() == "bearer" else ""


def _cookie(headers: Headers, name: str) -> str:
    return cookies(headers.getlist("cookie")).get(name, "")


def cookies(lines: Iterable[str]) -> dict[str, str]:
    """The cookies of a request; none where the header is damaged."""
    jar: SimpleCookie = SimpleCookie()
    try:
        for line in lines:
            jar.load(line)
    except CookieError:
        return {}
    return {name: morsel.value for name, morsel in jar.items()}
