"""Requests that are not served: one shape for all, no word about the inside."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse


@dataclass(slots=True, kw_only=True)
class Refused(Exception):
    """A request that is refused. It never leaves the service: `answer` makes it a response.

    status: HTTP's. code: stable, lower case with hyphens. message, action: for people.
    """

    status: int
    code: str
    message: str
    action: str = ""
    headers: dict[str, str] = field(default_factory=dict)


def body(code: str, message: str, action: str = "") -> dict[str, Any]:
    """The JSON of a refusal."""
    return {"error": {"code": code, "message": message, "action": action}}


def response(refused: Refused) -> JSONResponse:
    """A refusal as a response."""
    return JSONResponse(
        body(refused.code, refused.message, refused.action),
        status_code=refused.status,
        headers=refused.headers or None,
    )


async def answer(_: Request, error: Exception) -> JSONResponse:
    """Starlette's handler for `Refused`."""
    assert isinstance(error, Refused)
    return response(error)


def not_found() -> Refused:
    """Nothing there."""
    return Refused(status=404, code="not-found", message="There is nothing at this address.")


def too_many(code: str, message: str, *, wait_s: int) -> Refused:
    """More than is taken in `wait_s` (RFC 6585 section 4, RFC 9110 section 10.2.3)."""
    return Refused(
        status=429,
        code=code,
        message=message,
        action="Wait a minute." if wait_s >= 60 else "Wait a second.",
        headers={"retry-after": str(wait_s)},
    )


def malformed(message: str) -> Refused:
    """A body or parameter that is not what the API's document asks for."""
    return Refused(
        status=400,
        code="malformed",
        message=message,
        action="See /v1/openapi.json for what is taken.",
    )


def inside() -> Refused:
    """Something went wrong in here; the log says what."""
    return Refused(
        status=500,
        code="inside",
        message="The service could not do this.",
        action="Look at its log.",
    )
