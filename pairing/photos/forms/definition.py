"""A form: what is known of one design of card, as data in one file.

The file is a ZIP archive named NAME.form with two members: `form.json` and `card.png`, the
empty card seen straight from above.
"""

from __future__ import annotations

import io
import json
import math
import os
import re
import zipfile
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing import whole_file
from pairing.errors import CounterfoilError
from pairing.numbers.recognition import MODULES

Polygon = tuple[tuple[float, float], ...]
"""Corners from the top left in reading direction, mm from the card's top left corner."""

PX_PER_MM = 8.0
"""Of the stored picture: a rule of 0.2 mm still has 1.6 px."""
NO_BOX = "none"
KINDS = ("frame", "line", "comb", "free", NO_BOX)
"""How the box is marked: ruled all around, a rule to write on, cells for single characters, or
nothing but its place. `NO_BOX`: the card's other side, which has no number's box; `box` is then
a place of no meaning."""
SUFFIX = ".form"
_VERSION = 1
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9 ._-]{0,59}")
_LEAST_MM, _MOST_MM = 40.0, 420.0
"""A card's sides: from a small tag to a sheet of A3. Common practice, no source."""
_MOST_BYTES = 20_000_000
_MOST_CELLS = 40
_MOST_FIELDS, _MOST_CORNERS, _LONGEST_NAME = 200, 100, 100
"""Beyond any card; a file that comes from elsewhere may name as many as it likes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Field:
    """Another field of the form, such as the addressee's (`judge.fields` has the names)."""

    name: str
    place: Polygon


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """picture: the empty card, gray, (height, width) uint8, `PX_PER_MM` px a mm.
    size_mm: width, height. box: the number's box, four corners. kind: one of `KINDS`.
    cells: of a comb, else 0. bars: where the card's own barcode and its number lie, None
    for a card without. families: names of the number families that may be written in the box;
    () for all. fields: other fields. only_notes: codes of findings about them that the office
    has as notes (`judge.fields.SETTABLE`, `SETTABLE_ON_RETURN`). is_builtin: it comes with the
    program."""

    name: str
    picture: NDArray[np.uint8]
    size_mm: tuple[float, float]
    box: Polygon
    kind: str = "frame"
    cells: int = 0
    bars: Polygon | None = None
    families: tuple[str, ...] = ()
    fields: tuple[Field, ...] = field(default=())
    only_notes: tuple[str, ...] = ()
    is_builtin: bool = False


def checked(form: Form) -> Form:
    """The same form. Raises CounterfoilError where a part of it cannot be meant."""
    wide, high = form.size_mm
    if not _NAME.fullmatch(form.name):
        raise _wrong("A form's name is letters, digits, spaces, dots and dashes", form.name)
    if not (_LEAST_MM <= wide <= _MOST_MM and _LEAST_MM <= high <= _MOST_MM):
        raise _wrong(
            f"A card is {_LEAST_MM:.0f} to {_MOST_MM:.0f} mm wide and high", f"{wide:g}x{high:g}"
        )
    expected = (round(high * PX_PER_MM), round(wide * PX_PER_MM))
    if form.picture.shape != expected:
        raise _wrong("The form's picture does not have the card's size", str(form.picture.shape))
    if form.kind not in KINDS:
        raise _wrong(f"The box's kind is one of {', '.join(KINDS)}", form.kind)
    if not 0 <= form.cells <= _MOST_CELLS or (form.cells > 0) != (form.kind == "comb"):
        raise _wrong("A comb, and only a comb, has a number of cells", str(form.cells))
    if unknown := set(form.families) - set(MODULES):
        raise _wrong("There is no such number family", ", ".join(sorted(unknown)))
    _check_fields(form)
    _check_box(form)
    return form


def _check_fields(form: Form) -> None:
    if len(form.fields) > _MOST_FIELDS:
        raise _wrong(f"A form has at most {_MOST_FIELDS} fields", str(len(form.fields)))
    for name in (*(one.name for one in form.fields), *form.only_notes):
        if not (isinstance(name, str) and name.isprintable() and 0 < len(name) <= _LONGEST_NAME):
            raise _wrong("A field has no name that can be shown", repr(name)[:_LONGEST_NAME])
    for place in (*([] if form.bars is None else [form.bars]), *(one.place for one in form.fields)):
        if not 3 <= len(place) <= _MOST_CORNERS:
            raise _wrong("A field is not an area: it needs three corners or more", str(place)[:200])


def _check_box(form: Form) -> None:
    wide, high = form.size_mm
    if len(form.box) != 4:
        raise _wrong("The box has four corners", str(form.box))
    every = [form.box, *([form.bars] if form.bars else []), *(one.place for one in form.fields)]
    for place in every:
        for x, y in place:
            is_on_card = -2.0 <= x <= wide + 2.0 and -2.0 <= y <= high + 2.0
            if not (math.isfinite(x) and math.isfinite(y) and is_on_card):
                raise _wrong("A corner lies outside the card", f"{x:g},{y:g}")
    corners = np.array(form.box, np.float32)
    long, low = box_mm(form)
    if not cv2.isContourConvex(corners.reshape(-1, 1, 2)) or long < 15.0 or low < 2.0:
        raise _wrong(
            "The box is not an area that a number could be written in",
            " ".join(f"{x:.1f},{y:.1f}" for x, y in form.box),
        )


def box_mm(form: Form) -> tuple[float, float]:
    """How long, in reading direction, and how high the box is, mm."""
    a, b, _, d = form.box
    return math.dist(a, b), math.dist(a, d)


def as_bytes(form: Form) -> bytes:
    """The form as its file's content."""
    head: dict[str, Any] = {
        "version": _VERSION,
        "name": form.name,
        "size_mm": list(form.size_mm),
        "box": {"kind": form.kind, "corners_mm": _listed(form.box), "cells": form.cells},
        "bars_mm": None if form.bars is None else _listed(form.bars),
        "families": list(form.families),
        "fields": [{"name": one.name, "corners_mm": _listed(one.place)} for one in form.fields],
        **({"only_notes": list(form.only_notes)} if form.only_notes else {}),
    }
    is_done, png = cv2.imencode(".png", form.picture, [cv2.IMWRITE_PNG_COMPRESSION, 6])
    assert is_done
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as file:
        for name, content in (
            ("form.json", json.dumps(head, indent=1).encode()),
            ("card.png", png.tobytes()),
        ):
            file.writestr(zipfile.ZipInfo(name, (2000, 1, 1, 0, 0, 0)), content)
    return out.getvalue()


def read_form(path: Path, *, is_builtin: bool = False) -> Form:
    """A form from its file. Raises CounterfoilError."""
    try:
        return _from_bytes(whole_file.read(path, _MOST_BYTES), is_builtin=is_builtin)
    except OSError as error:
        raise CounterfoilError(
            f"The form cannot be read ({error.strerror or error})",
            where=os.fspath(path),
            remedy="Check the name of the file, and that you may read it.",
        ) from error
    except CounterfoilError:
        raise
    except Exception as error:  # a damaged archive raises whatever its parts raise
        reason = (str(error).splitlines() or [type(error).__name__])[0]
        raise _not_a_form(path, reason) from error


def _from_bytes(content: bytes, *, is_builtin: bool) -> Form:
    with zipfile.ZipFile(io.BytesIO(content)) as file:
        sizes = {one.filename: one.file_size for one in file.infolist()}
        if max(sizes.values(), default=0) > _MOST_BYTES:
            raise ValueError("a part of it is too large")
        head = json.loads(file.read("form.json"))
        png = np.frombuffer(file.read("card.png"), np.uint8)
    if head["version"] != _VERSION:
        raise ValueError(f"it is of version {head['version']}, this program reads {_VERSION}")
    size_mm = (float(head["size_mm"][0]), float(head["size_mm"][1]))
    picture = _opened(png)
    box = head["box"]
    return checked(
        Form(
            name=head["name"],
            picture=picture,
            size_mm=size_mm,
            box=_polygon(box["corners_mm"]),
            kind=box["kind"],
            cells=int(box["cells"]),
            bars=None if head["bars_mm"] is None else _polygon(head["bars_mm"]),
            families=tuple(head["families"]),
            fields=tuple(
                Field(name=one["name"], place=_polygon(one["corners_mm"])) for one in head["fields"]
            ),
            only_notes=tuple(head.get("only_notes", ())),
            is_builtin=is_builtin,
        )
    )


def _opened(png: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """The card's picture. What its head says (PNG specification, 5.3 and 11.2.2: width and height
    are bytes 16 to 24) is asked first: 20 MB may be a picture of a gigabyte."""
    head = png[:24].tobytes()
    wide, high = (int.from_bytes(head[at : at + 4], "big") for at in (16, 20))
    most_px = _MOST_MM * PX_PER_MM
    if head[:8] != b"\x89PNG\r\n\x1a\n" or not (wide <= most_px and high <= most_px):
        raise ValueError("its picture is not a PNG of a card's size")
    picture = cv2.imdecode(png, cv2.IMREAD_GRAYSCALE)
    if picture is None:
        raise ValueError("its picture cannot be opened")
    return np.asarray(picture, np.uint8)


def _polygon(given: list[list[float]]) -> Polygon:
    return tuple((float(x), float(y)) for x, y in given)


def _listed(place: Polygon) -> list[list[float]]:
    return [[round(x, 2), round(y, 2)] for x, y in place]


def _wrong(what: str, given: str) -> CounterfoilError:
    return CounterfoilError(what, where=given, remedy="Correct it and try again.")


def _not_a_form(path: Path, reason: str) -> CounterfoilError:
    return CounterfoilError(
        f"This file is not a form ({reason})",
        where=os.fspath(path),
        remedy="Give a file that `counterfoil form export` or `counterfoil form learn` made.",
    )
