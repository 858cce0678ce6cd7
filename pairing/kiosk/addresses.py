"""Every address of the service, by the name of its route. Pages, scripts, the API's document and
the guard take them from here.

What is under /v1 is the API for other software and is promised: its paths never change.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from enum import StrEnum

import msgspec
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

API_PREFIX = "/v1/"


class Address(StrEnum):
    """A route's path; its name in lower case is the route's name."""

    KIOSK = "/"
    OPERATOR = "/operator"
    ENTER = "/enter"
    PART = "/page/{name}"
    TEXTS = "/texts/{name}"

    KIOSK_PLACE = "/kiosk/place"
    KIOSK_BEGIN = "/kiosk/begin"
    KIOSK_ENTRY = "/kiosk/entry"
    KIOSK_FRAME = "/kiosk/frame"
    KIOSK_ABOUT = "/kiosk/about"
    KIOSK_LEAVE = "/kiosk/leave"

    OPERATOR_OPEN = "/operator/open"
    OPERATOR_CLOSE = "/operator/close"
    OPERATOR_DAY = "/operator/day"
    OPERATOR_FIND = "/operator/find"
    OPERATOR_RETURNED = "/operator/returned"
    OPERATOR_FORMS = "/operator/forms"
    OPERATOR_PROPOSE = "/operator/forms/propose"
    OPERATOR_TEACH = "/operator/forms/teach"
    OPERATOR_FORGET = "/operator/forms/forget"

    API_HELLO = f"{API_PREFIX}hello"
    API_DOCUMENT = f"{API_PREFIX}openapi.json"
    API_PIECES = f"{API_PREFIX}pieces"
    API_PHOTOS = f"{API_PREFIX}photos"
    API_NUMBERS = f"{API_PREFIX}numbers/{{text}}"

    @property
    def route_name(self) -> str:
        """The route's name, by which scripts and templates ask for the address."""
        return self.name.lower()

    @property
    def prefix(self) -> str:
        """What every path of this route begins with: all of it where nothing varies."""
        return self.value.partition("{")[0]


def route(
    address: Address, answer: Callable[[Request], Awaitable[Response]], *, method: str = "GET"
) -> Route:
    """The named route that answers at an address."""
    return Route(address.value, answer, methods=[method], name=address.route_name)


def url(route_name: str, **parts: str) -> str:
    """The path of a named route with its parts filled in. Raises KeyError for an unknown name or
    a missing part."""
    return Address[route_name.upper()].value.format(**parts)


def script() -> bytes:
    """A script module that gives pages the addresses by the routes' names."""
    paths = {one.route_name: one.value for one in Address}
    return b"export const ADDRESSES = Object.freeze(" + msgspec.json.encode(paths) + b");\n"
