"""Bodies, taken within bounds and decoded into their types before anything uses them."""

from __future__ import annotations

from typing import TypeVar

import anyio
import msgspec
from starlette.requests import Request

from pairing.kiosk.messages import Body
from pairing.kiosk.refusals import Refused, malformed
from pairing.numbers.text import is_digits

Kind = TypeVar("Kind", bound=Body)

BODY_S = 15.0
"""How long a body may take to arrive."""

_LONGEST_REASON = 200
_LONGEST_LENGTH = 18
"""Digits of a Content-Length; more are not a length, and Python refuses to count thousands."""


async def raw(request: Request, most: int) -> bytes:
    """The body. Raises Refused where it is longer than `most` bytes or does not come."""
    too_long = Refused(
        status=413, code="too-long", message=f"More than {most} bytes are not accepted."
    )
    length = request.headers.get("content-length", "0")
    if not (is_digits(length) and len(length) <= _LONGEST_LENGTH):
        raise malformed("The length of the body is not a number.")
    if int(length) > most:
        raise too_long
    parts: list[bytes] = []
    size = 0
    try:
        with anyio.fail_after(BODY_S):
            async for part in request.stream():
                size += len(part)
                if size > most:
                    raise too_long
                parts.append(part)
    except TimeoutError:
        raise Refused(status=408, code="slow", message="The body took too long.") from None
    return b"".join(parts)


async def decoded(request: Request, kind: type[Kind], most: int) -> Kind:
    """The body as a value of this type. Raises Refused."""
    media = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if media != "application/json":
        raise Refused(status=415, code="media-type", message="The body must be application/json.")
    data = await raw(request, most)
    try:
        return msgspec.json.decode(data, type=kind)
    except msgspec.ValidationError as problem:
        raise malformed(
            f"The body is not what is asked for: {str(problem)[:_LONGEST_REASON]}."
        ) from None
    except (ValueError, RecursionError):
        raise malformed("The body is not JSON.") from None
