"""What was read, as bytes and back: the frozen values that pass between the rooms, tagged with
their names (MessagePack, compressed), so that a run can stop and go on."""

from __future__ import annotations

import dataclasses
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
from pairing.judge.box import evidence
from pairing.model import Family
from pairing.numbers import family
from pairing.photos.written.reader import WrittenLine
from pairing.pieces import photo_groups, reading
from pairing.pieces.reading import PhotoReadings

_TAG = "~"
_LEAST = 1e-9
"""Smaller probabilities become 0: all of them together change no decision (thresholds ask for
e^10.3 to one, 3e-5, between two texts of a whole line), and zeros pack well."""


def _kinds(modules: Iterable[ModuleType]) -> dict[str, type]:
    return {
        name: value
        for module in modules
        for name, value in vars(module).items()
        if isinstance(value, type) and (dataclasses.is_dataclass(value) or issubclass(value, Enum))
    }


_KINDS = _kinds((findings, model, photo_groups, reading, evidence))
"""The only types that come back from a file, by their names."""


def encoded(read: PhotoReadings) -> bytes:
    """What was read of a photo, as bytes."""
    return zlib.compress(msgspec.msgpack.encode(_plain(read)), 6)


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
        return {_TAG: type(value).__name__, "is": value.value}
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
            "is": [_plain(one) for one in value.pictures],
            "blots": [_plain(one) for one in value.blots],
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
        case "WrittenLine":
            parts = (value["is"], value.get("blots", ()))
            every = ([_value(one) for one in part] for part in parts)
            return WrittenLine(*every)
    kind = _KINDS[tag]
    if issubclass(kind, Enum):
        return kind(value["is"])
    return kind(**{name: _value(one) for name, one in value.items() if name != _TAG})


def _members(value: Any) -> dict[str, Any]:
    name = type(value).__name__
    if _KINDS.get(name) is not type(value) or not dataclasses.is_dataclass(value):
        raise TypeError(name)
    members: dict[str, Any] = {_TAG: name}
    for field in dataclasses.fields(_KINDS[name]):
        one = getattr(value, field.name)
        if field.default is dataclasses.MISSING or one != field.default:
            members[field.name] = _plain(one)
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
    floats = np.frombuffer(values.reshape(4, -1).T.tobytes(), "<f4")
    return floats.reshape(shape).astype(np.float64)
