"""What was read, as bytes and back: the frozen values that pass between the rooms, tagged with
their names (MessagePack, compressed), so that a run can stop and go on."""

from __future__ import annotations

import dataclasses
import math
import zlib
from collections.abc import Iterable
from enum import Enum
from pathlib import Path
from types import ModuleType
from typing import Any

import msgspec
import numpy as np
from numpy.typing import NDArray

from pairing import findings, model
from pairing.errors import TableUnusable
from pairing.judge import fields
from pairing.judge.box import evidence
from pairing.model import Family, Quad
from pairing.numbers import family
from pairing.photos.written.reader import WrittenLine
from pairing.pieces import photo_groups, reading
from pairing.pieces.reading import PhotoReadings

_TAG = "~"
_LEAST = 1e-9
"""Smaller probabilities become 0: all of them together change no decision (thresholds ask for
e^10.3 to one, 3e-5, between two texts of a whole line), and zeros pack well."""
_LEAST_BLOT = 1e-3
"""The same of blots, which are held against SPOILED alone (`photos.written.reader`)."""
_LOG_STEPS = 65_534 / -math.log(_LEAST)
"""Probabilities are kept as 16-bit logarithms: to 0.016 % of each, by which no text's logarithm
changes by more than 0.005 (tests/audit/test_codec.py)."""
_QUAD_PARTS = 16
"""Corners of single digits are kept to a sixteenth of a pixel."""


def _kinds(modules: Iterable[ModuleType]) -> dict[str, type]:
    return {
        name: value
        for module in modules
        for name, value in vars(module).items()
        if isinstance(value, type) and (dataclasses.is_dataclass(value) or issubclass(value, Enum))
    }


_KINDS = _kinds((findings, model, photo_groups, reading, evidence, fields))
"""The only types that come back from a file, by their names."""


def encoded(read: PhotoReadings) -> bytes:
    """What was read of a photo, as bytes."""
    return zlib.compress(msgspec.msgpack.encode(_plain(read)), 9)


def decoded(data: bytes, *, where: str) -> PhotoReadings:
    """What `encoded` was given. where: names the photo. Raises TableUnusable for bytes that are
    damaged."""
    try:
        found: PhotoReadings = _value(msgspec.msgpack.decode(zlib.decompress(data)))
    except (zlib.error, msgspec.DecodeError, KeyError, TypeError, ValueError) as error:
        raise TableUnusable(
            f"What was read before of this photo is damaged ({type(error).__name__}: {error})",
            where=where,
            remedy="Name another place for the results, and read the photos again.",
        ) from error
    return found


def _plain(value: Any) -> Any:
    """`value` as what MessagePack takes. Dataclasses leave out members that are as by default."""
    if isinstance(value, Enum):
        return {_TAG: _known(value), "is": value.value}
    if isinstance(value, str):
        return value.encode("utf-8", "backslashreplace").decode()
    if value is None or isinstance(value, bool | int | float):
        return value
    if isinstance(value, Path):
        return {_TAG: "Path", "is": str(value)}
    if isinstance(value, Family):
        return {_TAG: "Family", "is": value.name}
    if isinstance(value, tuple | list):
        return [_plain(one) for one in value]
    if isinstance(value, np.ndarray):
        return {_TAG: "array", "shape": list(value.shape), "is": _packed(value)}
    if isinstance(value, np.generic):
        return value.item()
    if isinstance(value, WrittenLine):
        return {
            _TAG: "WrittenLine",
            "is": [_steps(one) for one in value.pictures],
            "blots": [_logs(np.where(one < _LEAST_BLOT, 0, one)) for one in value.blots],
        }
    return _members(value)


def _value(value: Any) -> Any:
    """What `_plain` was given. Raises KeyError, TypeError or ValueError for anything else."""
    if isinstance(value, list):
        return tuple(_value(one) for one in value)
    if not isinstance(value, dict):
        return value
    tag = value[_TAG]
    match tag:
        case "Path":
            return Path(value["is"])
        case "Family":
            return family(value["is"])
        case "array":
            return _unpacked(value["is"], value["shape"])
        case "steps":
            return _from_steps(value)
        case "quad":
            return _from_corners(value["is"])
        case "WrittenLine":
            parts = (value["is"], value.get("blots", ()))
            every = ([_value(one) for one in part] for part in parts)
            return WrittenLine(*every)
    kind = _KINDS[tag]
    if issubclass(kind, Enum):
        return kind(value["is"])
    return kind(**{name: _value(one) for name, one in value.items() if name != _TAG})


def _known(value: Any) -> str:
    """The name of its type. Raises TypeError for one that would not come back."""
    name = type(value).__name__
    if _KINDS.get(name) is not type(value):
        raise TypeError(name)
    return name


def _members(value: Any) -> dict[str, Any]:
    name = _known(value)
    members: dict[str, Any] = {_TAG: name}
    for field in dataclasses.fields(_KINDS[name]):
        one = getattr(value, field.name)
        if field.default is dataclasses.MISSING or one != field.default:
            is_many = (name, field.name) == ("Seen", "digit_quads")
            members[field.name] = [_corners(quad) for quad in one] if is_many else _plain(one)
    return members


def _packed(array: NDArray[Any]) -> bytes:
    whole = np.asarray(array)
    if whole.dtype == np.uint8:
        return b"B" + whole.tobytes()
    small = np.where(np.abs(whole) < _LEAST, 0, whole).astype("<f4")
    # Bytes of equal weight side by side pack better: most of them are zero.
    return b"f" + np.frombuffer(small.tobytes(), np.uint8).reshape(-1, 4).T.tobytes()


def _unpacked(data: bytes, shape: list[int]) -> NDArray[Any]:
    values = np.frombuffer(data, np.uint8, offset=1)
    if data[:1] == b"B":
        return values.reshape(shape)
    if data[:1] == b"l":
        words = np.ascontiguousarray(values.reshape(2, -1)[::-1].T).view("<u2").reshape(shape)
        return np.where(words == 0, 0, np.exp((words.astype(np.float64) - 65_535) / _LOG_STEPS))
    floats = np.frombuffer(values.reshape(4, -1).T.tobytes(), "<f4")
    return floats.reshape(shape).astype(np.float64)


def _logs(values: NDArray[Any]) -> dict[str, Any]:
    """Probabilities as 16-bit logarithms, 0 for none; high bytes first, which pack better."""
    whole = np.asarray(values, np.float64)
    with np.errstate(divide="ignore"):
        codes = np.where(whole < _LEAST, 0, 65_535 + np.log(whole) * _LOG_STEPS)
    words = np.clip(np.rint(codes), 0, 65_535).astype("<u2")
    packed = b"l" + words.view(np.uint8).reshape(-1, 2).T[::-1].tobytes()
    return {_TAG: "array", "shape": list(whole.shape), "is": packed}


def _steps(values: NDArray[Any]) -> dict[str, Any]:
    """Probabilities (steps, classes) that add up to 1 in each step: the likeliest is what the
    others leave."""
    top = values.argmax(1)
    others = np.array(values, np.float64)
    others[np.arange(len(top)), top] = 0
    return {_TAG: "steps", "top": top.astype(np.uint8).tobytes(), "others": _logs(others)}


def _from_steps(value: dict[str, Any]) -> NDArray[Any]:
    found: NDArray[Any] = _value(value["others"])
    top = np.frombuffer(value["top"], np.uint8)
    found[np.arange(len(top)), top] = 1 - found.sum(1)
    return found


def _corners(quad: Quad) -> dict[str, Any]:
    """A digit's place, of which there are many: the first corner, and the others from there on,
    in parts of a pixel."""
    places = np.rint(np.array(quad.corners, np.float64) * _QUAD_PARTS).astype(np.int64)
    places[1:] -= places[0]
    return {_TAG: "quad", "is": [int(one) for one in places.ravel()]}


def _from_corners(parts: list[int]) -> Quad:
    places = np.array(parts, np.float64).reshape(4, 2)
    places[1:] += places[0]
    corners = [(float(x), float(y)) for x, y in places / _QUAD_PARTS]
    names = ("top_left", "top_right", "bottom_right", "bottom_left")
    return Quad(**dict(zip(names, corners, strict=True)))
