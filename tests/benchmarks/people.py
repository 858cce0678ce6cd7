"""Numbers written by people: their digits lie in the folder `shared` beside the repository.

Only writers that the reader's training kept for its test (`training.glyphs`) write here. A line
is by one person; it is composed of single digits, so how people join digits is not shown.
"""

from __future__ import annotations

import gzip
import json
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.demo.hand import BALLPOINT_BLACK, BALLPOINT_BLUE, FOUNTAIN_BLUE, GEL_BLACK
from pairing.demo.sheet import PX_PER_MM, Color
from pairing.training.character_sources import _is_lone_bar

FOLDER = Path(__file__).resolve().parents[3] / "shared" / "written"
_FIELD_PX = 160
"""Side of a digit's square; the digit is `_TALL_PX` high or wide."""
_TALL_PX = 112
_TEST_TENTH = 7
"""Of the writers, by name, each whose place ends so is kept for the test (`training.glyphs`)."""
_INKS = (BALLPOINT_BLACK, BALLPOINT_BLUE, FOUNTAIN_BLUE, GEL_BLACK)
_FEWEST = 3
_MNIST_WRITERS = 539
Strokes = list[NDArray[np.float64]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    """One writer. fields: for each digit several signed distances to the ink's edge, in the digit's
    square, (_FIELD_PX, _FIELD_PX) float32, positive inside. pen_mm: what is added to the pen."""

    name: str
    ink: Color
    fields: tuple[tuple[NDArray[np.float32], ...], ...]
    pen_mm: float
    apart: float


def people() -> tuple[str, ...]:
    """Names of the writers; () where the folder is absent."""
    if not (FOLDER / "mnist-train-writers.npz").is_file():
        return ()
    return tuple(sorted((*_images(), *_strokes())))


@cache
def person(name: str, seed: int = 0) -> Person:
    """One of them; the seed chooses pen and spacing."""
    rng = np.random.default_rng([seed, *name.encode()])
    images, strokes = _images().get(name), _strokes().get(name)
    drawn = [
        tuple(_field_of(one) for one in digits[:6])
        for digits in (images or [[_drawn(one) for one in some] for some in (strokes or [])])
    ]
    return Person(
        name=name,
        ink=_INKS[int(rng.integers(len(_INKS)))],
        fields=tuple(drawn),
        pen_mm=float(rng.uniform(-0.2, 0.1)),
        apart=float(rng.uniform(0.0, 0.3)),
    )


def write_number(
    text: str, who: Person, *, height_mm: float, width_mm: float, rng: np.random.Generator,
    middles_mm: list[float] | None = None,
) -> NDArray[np.float32]:  # fmt: skip
    """As `demo.hand.write_line`: the ink, three digit heights high, the baseline two heights from
    the top. middles_mm: where each digit's middle is in it, is added to this list."""
    tall = height_mm * PX_PER_MM
    steps = [0.5 if c == " " else 0.0 for c in text]
    chosen = [None if c == " " else who.fields[int(c)][int(rng.integers(len(who.fields[int(c)])))]
              for c in text]  # fmt: skip
    widths = [step if one is None else _width(one) + who.apart
              for one, step in zip(chosen, steps, strict=True)]  # fmt: skip
    tall *= min(1.0, 0.95 * width_mm * PX_PER_MM / ((sum(widths) + 0.6) * tall))
    page = np.zeros((round(3 * tall), round(width_mm * PX_PER_MM + tall)), np.float32)
    x, rise = 0.3 * tall, rng.normal(0, 0.008)
    slant = rng.normal(0.0, 0.05)
    for one, wide in zip(chosen, widths, strict=True):
        if one is not None:
            size = tall * rng.normal(1, 0.05)
            bob = rng.normal(0, 0.04) * tall - rise * x
            _lay(page, one, (x + 0.5 * wide * tall, 1.5 * tall + bob), size, slant, who.pen_mm)
            if middles_mm is not None:
                middles_mm.append((x + 0.5 * wide * tall) / PX_PER_MM)
        x += wide * tall * rng.normal(1, 0.03)
    coarse = rng.uniform(0.72, 0.98, (6, page.shape[1] // 40 + 2)).astype(np.float32)
    return np.asarray(page * cv2.resize(coarse, page.shape[::-1]), np.float32)


def _lay(
    page: NDArray[np.float32], field: NDArray[np.float32], at: tuple[float, float], tall: float,
    slant: float, pen_mm: float,
) -> None:  # fmt: skip
    scale = _TALL_PX / tall
    middle = _FIELD_PX / 2
    matrix = np.array([
        [scale, slant * scale, middle - scale * at[0] - slant * scale * at[1]],
        [0.0, scale, middle - scale * at[1]],
    ])  # fmt: skip
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    moved = cv2.warpAffine(
        field, matrix, page.shape[::-1],
        flags=flags, borderMode=cv2.BORDER_CONSTANT, borderValue=-99.0,
    )  # fmt: skip
    ink = np.clip(np.asarray(moved) / scale + 0.5 * pen_mm * PX_PER_MM + 0.5, 0, 1)
    np.maximum(page, ink.astype(np.float32), out=page)


def _width(field: NDArray[np.float32]) -> float:
    columns = np.flatnonzero((field > 0).any(0))
    return max(0.12, float(np.ptp(columns)) / _TALL_PX)


def _field_of(picture: NDArray[np.uint8]) -> NDArray[np.float32]:
    """The signed distance of a picture's ink, its box in the middle. picture: 255 ink."""
    inside = np.where(picture > 110, np.uint8(255), np.uint8(0))
    rows, columns = np.nonzero(inside)
    field = cv2.distanceTransform(inside, cv2.DIST_L2, 5)
    field -= np.maximum(0, cv2.distanceTransform(255 - inside, cv2.DIST_L2, 5) - 1)
    scale = _TALL_PX / max(np.ptp(rows) + 1, 0.8 * (np.ptp(columns) + 1))
    middle = (columns.min() + columns.max()) / 2, (rows.min() + rows.max()) / 2
    matrix = np.array([[scale, 0, _FIELD_PX / 2 - scale * middle[0]],
                       [0, scale, _FIELD_PX / 2 - scale * middle[1]]])  # fmt: skip
    return np.asarray(
        cv2.warpAffine(field * np.float32(scale), matrix, (_FIELD_PX, _FIELD_PX),
                       borderMode=cv2.BORDER_CONSTANT, borderValue=-99.0), np.float32,
    )  # fmt: skip


@cache
def _images() -> dict[str, list[list[NDArray[np.uint8]]]]:
    data = np.load(FOLDER / "mnist-train-writers.npz")
    images, labels, writers = data["images"], data["labels"], data["writers"].astype(str)
    found = {}
    for name in np.unique(writers)[_TEST_TENTH::10]:
        digits = [
            [_enlarged(one) for one in images[(writers == name) & (labels == digit)]]
            for digit in range(10)
        ]
        if min(map(len, digits)) >= _FEWEST:
            found[f"mnist/{name}"] = digits
    return found


def _enlarged(image: NDArray[np.uint8]) -> NDArray[np.uint8]:
    return np.asarray(cv2.resize(image, None, fx=5, fy=5, interpolation=cv2.INTER_CUBIC), np.uint8)


@cache
def _strokes() -> dict[str, list[list[Strokes]]]:
    items = [
        (f"unipen/{one['w']}", int(one["d"]), [np.array(s, float).reshape(-1, 2) for s in one["s"]])
        for one in _read("unipen-digits-train.json.gz")
    ]
    items += [
        (f"pendigits/{one['c'][1]}", int(one["d"]),
         [np.array(s, float).reshape(-1, 2) * (1, -1) for s in one["s"]])
        for one in _read("pendigits-train.json.gz")
    ]  # fmt: skip
    items = [one for one in items if one[1] == 1 or not _is_lone_bar(one[2])]
    # The writers' names as `training.glyphs` makes them, so that the same ones are the test's.
    unique, index, count = np.unique([one[0] for one in items], return_inverse=True,
                                     return_counts=True)  # fmt: skip
    merged = np.array([
        str(name) if n >= 40 else "/".join(str(name).split("/")[:2]) + "/few"
        for name, n in zip(unique, count, strict=True)
    ])  # fmt: skip
    kept = set(np.unique(merged)[(_TEST_TENTH - _MNIST_WRITERS) % 10 :: 10].tolist())
    every: dict[str, list[list[Strokes]]] = {}
    for (_, digit, strokes), at in zip(items, index, strict=True):
        if merged[at] in kept:
            every.setdefault(str(merged[at]), [[] for _ in range(10)])[digit].append(strokes)
    return {name: one for name, one in every.items() if min(map(len, one)) >= _FEWEST}


def _read(name: str) -> list[dict[str, Any]]:
    with gzip.open(FOLDER / name) as packed:
        return list(json.load(packed))


def _drawn(strokes: Strokes) -> NDArray[np.uint8]:
    points = np.concatenate(strokes)
    low = points.min(0)
    tall = max(1.0, float(np.ptp(points[:, 1])), 0.8 * float(np.ptp(points[:, 0])))
    picture = np.zeros((150, 220), np.uint8)
    for stroke in strokes:
        path = np.round(((stroke - low) * (112 / tall) + 16) * 16).astype(np.int32)
        cv2.polylines(picture, [path.reshape(-1, 1, 2)], False, (255,), 11, cv2.LINE_AA, 4)
    return picture
