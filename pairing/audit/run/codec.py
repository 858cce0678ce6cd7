"""What was read, as JSON and back: the frozen values that pass between the rooms, tagged with
their names, so that a run can stop and go on."""

from __future__ import annotations

import base64
import dataclasses
import zlib
from collections.abc import Iterable
from enum import Enum
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pairing import findings, model
from pairing.judge.box import evidence
from pairing.model import Family
from pairing.numbers import family
from pairing.photos.written.reader import WrittenLine
from pairing.pieces import photo_groups, reading

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


def encoded(value: Any) -> Any:
    """`value` as what json.dumps takes. Dataclasses leave out members that are as by default."""
    if isinstance(value, Enum):
        return {_TAG: type(value).__name__, "is": value.value}
    if value is None or isinstance(value, str | bool | int | float):
        return value
    if isinstance(value, Path):
        return {_TAG: "Path", "is": str(value)}
    if isinstance(value, Family):
        return {_TAG: "Family", "is": value.name}
    if isinstance(value, tuple | list):
        return [encoded(one) for one in value]
    if isinstance(value, np.ndarray):
        return {_TAG: "array", "shape": list(value.shape), "is": _packed(value)}
    if isinstance(value, np.generic):
        return value.item()
    if isinstance(value, WrittenLine):
        return {
            _TAG: "WrittenLine",
            "is": [encoded(one) for one in value.pictures],
            "blots": [encoded(one) for one in value.blots],
        }
    return _members(value)


def decoded(value: Any) -> Any:
    """What `encoded` was given. Raises KeyError, TypeError or ValueError for what is no such
    thing."""
    if isinstance(value, list):
        return tuple(decoded(one) for one in value)
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
            every = ([decoded(one) for one in part] for part in parts)
            return WrittenLine(*every)
    kind = _KINDS[tag]
    if issubclass(kind, Enum):
        return kind(value["is"])
    return kind(**{name: decoded(one) for name, one in value.items() if name != _TAG})


def _members(value: Any) -> dict[str, Any]:
    name = type(value).__name__
    if _KINDS.get(name) is not type(value) or not dataclasses.is_dataclass(value):
        raise TypeError(name)
    members: dict[str, Any] = {_TAG: name}
    for field in dataclasses.fields(_KINDS[name]):
        one = getattr(value, field.name)
        if field.default is dataclasses.MISSING or one != field.default:
            members[field.name] = encoded(one)
    return members


def _packed(array: NDArray[Any]) -> str:
    whole = np.asarray(array)
    if whole.dtype == np.uint8:
        kind, data = "B", whole.tobytes()
    else:
        small = np.where(np.abs(whole) < _LEAST, 0, whole).astype("<f4")
        # Bytes of equal weight side by side pack better: most of them are zero.
        kind = "f"
        data = np.frombuffer(small.tobytes(), np.uint8).reshape(-1, 4).T.tobytes()
    return kind + base64.b85encode(zlib.compress(data, 6)).decode()


def _unpacked(text: str, shape: list[int]) -> NDArray[Any]:
    data = np.frombuffer(zlib.decompress(base64.b85decode(text[1:])), np.uint8)
    if text[0] == "B":
        return data.reshape(shape)
    values = np.frombuffer(data.reshape(4, -1).T.tobytes(), "<f4")
    return values.reshape(shape).astype(np.float64)
