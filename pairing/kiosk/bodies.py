"""Bodies and parameters, taken within bounds and checked before anything uses them."""

from __future__ import annotations

import json
from typing import Any

import anyio
from starlette.requests import Request

from pairing.kiosk.refusals import Refused, malformed

BODY_S = 15.0
"""How long a body may take to arrive."""


async def raw(request: Request, most: int) -> bytes:
    """The body. Raises Refused where it is longer than `most` bytes or does not come."""
    too_long = Refused(
        status=413, code="too-long", message=f"More than {most} bytes are not taken."
    )
    length = request.headers.get("content-length", "0")
    if not length.isdigit():
        raise malformed("The length of the body is no number.")
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


async def json_object(request: Request, most: int) -> dict[str, Any]:
    """The body as a JSON object. Raises Refused."""
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if kind != "application/json":
        raise Refused(status=415, code="media-type", message="The body must be application/json.")
    data = await raw(request, most)
    try:
        found = json.loads(data.decode("utf-8"), parse_constant=_no_constant)
    except (ValueError, RecursionError):
        raise malformed("The body is no JSON.") from None
    if not isinstance(found, dict):
        raise malformed("The body is no JSON object.")
    return found


def only(found: dict[str, Any], *names: str) -> None:
    """Refuse members that are not known: a misspelt one must not pass unseen."""
    extra = sorted(set(found) - set(names))
    if extra:
        raise malformed(f"There is no member {extra[0]!r:.60}.")


def text(
    found: dict[str, Any], name: str, *, most: int, default: str | None = None, least: int = 0
) -> str:
    """A member that is a text of `least` to `most` characters. Raises Refused."""
    value = found.get(name, default)
    if not isinstance(value, str) or not least <= len(value) <= most or not _is_unicode(value):
        raise malformed(f"{name!r} must be a text of {least} to {most} characters.")
    return value


def number(found: dict[str, Any], name: str, *, least: int, most: int) -> int:
    """A member that is a whole number. Raises Refused."""
    value = found.get(name)
    if not isinstance(value, int) or isinstance(value, bool) or not least <= value <= most:
        raise malformed(f"{name!r} must be a whole number from {least} to {most}.")
    return value


def flag(found: dict[str, Any], name: str) -> bool:
    """A member that is true or false; false where it is not there. Raises Refused."""
    value = found.get(name, False)
    if not isinstance(value, bool):
        raise malformed(f"{name!r} must be true or false.")
    return value


def texts(found: dict[str, Any], name: str, *, most: int, longest: int) -> list[str]:
    """A member that is a list of texts; empty where it is not there. Raises Refused."""
    value = found.get(name, [])
    is_good = isinstance(value, list) and len(value) <= most
    if not is_good or not all(
        isinstance(one, str) and len(one) <= longest and _is_unicode(one) for one in value
    ):
        raise malformed(f"{name!r} must be at most {most} texts of at most {longest} characters.")
    return list(value)


def one_of(found: dict[str, Any], name: str, allowed: tuple[str, ...], default: str) -> str:
    """A member that is one of the words. Raises Refused."""
    value = found.get(name, default)
    if not isinstance(value, str) or value not in allowed:
        raise malformed(f"{name!r} must be one of {', '.join(allowed)}.")
    return value


def _is_unicode(value: str) -> bool:
    """Half a surrogate pair can be written in JSON, and nowhere else."""
    return not any(0xD800 <= ord(char) <= 0xDFFF for char in value)


def _no_constant(_: str) -> Any:
    raise ValueError
