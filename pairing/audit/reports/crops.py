"""The two stretches of paper that a person looks at: the label's number and the card's box,
laid level, as small JPEGs. Made for exceptions only, and kept beside the rows."""

from __future__ import annotations

import base64
import json
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from functools import partial
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.audit.run.journal import Journal
from pairing.audit.run.review import hashes
from pairing.audit.run.sources import Source
from pairing.errors import CounterfoilError, OutputRefused, TableUnusable
from pairing.photos.files import frames
from pairing.photos.pool import Done, Task

FILE = "crops.jsonl"
_HEAD = {"format": "counterfoil crops 1"}
WIDE_PX, HIGH_PX = 440, 150
"""Largest crop: 22 digits are then 13 to 20 px wide each."""
_LABEL_REACH = 0.5
"""From the bars' top to below the number, in lengths of the bars; of drawn labels (bars 0.33,
the number's foot 0.45 high)."""
SHEET_WIDE_PX, SHEET_HIGH_PX = 1300, 430
"""Largest crop on an evidence sheet: 240 dots an inch on its 138 mm."""
_QUALITY, _SHEET_QUALITY = 50, 85
Corners = Sequence[Sequence[float]]
Engine = Callable[[Iterable[Task[Any, str]]], Iterator[Done[Any, str]]]


def make(  # noqa: PLR0913 - rows, where their photos are, and how it is done
    rows: Iterable[Mapping[str, Any]],
    *,
    source: Source,
    folder: Path,
    engine: Engine,
    progress: Callable[[str, int, int], None],
    total: int,
) -> None:
    """Make the crops that are not there yet. Photos that have gone since give none."""
    _drop_if_damaged(folder / FILE)
    with Journal(folder / FILE, _HEAD) as journal:
        held = {line.members.get("key") for line in journal.lines()}
        tasks = (
            (row["piece"], partial(cropped, source, needed(row)), Path(row["photos"][0]["photo"]))
            for row in rows
            if row["photos"] and key_of(row) not in held
        )
        for done, (_, text) in enumerate(engine(tasks), 1):
            progress("pictures cut", done, total)
            if not isinstance(text, CounterfoilError):
                journal.append(text)


def _drop_if_damaged(path: Path) -> None:
    """They can be cut again, so a damaged file of them is no reason to read all photos anew."""
    try:
        with Journal(path, _HEAD) as journal:
            is_whole = all("key" in line.members or line.offset == 0 for line in journal.lines())
    except (TableUnusable, OutputRefused):
        is_whole = False
    if not is_whole:
        with suppress(OSError):  # where it cannot go, opening it says why
            path.unlink(missing_ok=True)


def of_row(row: Mapping[str, Any], *, source: Source, engine: Engine) -> dict[str, Any]:
    """One row's, large: base64 JPEGs or null as `label` and `box`."""
    task = (0, partial(cropped, source, needed(row), is_large=True), Path(row["piece"]))
    for _, text in engine([task]):
        if not isinstance(text, CounterfoilError):
            found: dict[str, Any] = json.loads(text)
            return found
    return {"label": None, "box": None}


def key_of(row: Mapping[str, Any]) -> str:
    """A row's photos, whatever became of its verdict."""
    return f"{row['piece']} {' '.join(hashes(row))}"


def needed(row: Mapping[str, Any]) -> dict[str, Any]:
    """What cropping needs of a row: photo and place of label and box, and their photos."""
    places: dict[str, Any] = {"label": None, "box": None}
    for reading in row["readings"]:
        if reading["side"] in places and reading["place_px"]:
            places[reading["side"]] = places[reading["side"]] or [
                reading["photo"],
                reading["page"],
                reading["place_px"],
            ]
    if row["box"]:
        places["box"] = [row["box"]["photo"], row["box"]["page"], row["box"]["place_px"]]
    usable = [one["photo"] for one in row["photos"] if one["skipped"] is None]
    return {"key": key_of(row), "places": places, "photos": usable}


def cropped(source: Source, wanted: Mapping[str, Any], _: Path, *, is_large: bool = False) -> str:
    """In the worker: both crops as JSON. Where a place is not known, the whole photo, small."""
    limits = (SHEET_WIDE_PX, SHEET_HIGH_PX) if is_large else (WIDE_PX, HIGH_PX)
    places = wanted["places"]
    shown = {place[0] for place in places.values() if place}
    spare = [photo for photo in wanted["photos"] if photo not in shown]
    found: dict[str, Any] = {"key": wanted["key"], "label": None, "box": None}
    for side, place in places.items():
        photo, page, corners = place or (spare.pop(0) if spare else None, 1, None)
        if photo is None:
            continue
        cut = _cut(source, photo, page, corners, limits, is_label=side == "label")
        picture = _encoded(cut, _SHEET_QUALITY if is_large else _QUALITY)
        found[side] = base64.b64encode(picture).decode() if picture else None
    return json.dumps(found)


def _cut(  # noqa: PLR0913 - where it is, and how large
    source: Source,
    photo: str,
    page: int,
    corners: Corners | None,
    limits: tuple[int, int],
    *,
    is_label: bool,
) -> NDArray[np.uint8] | None:
    try:
        with source.at_hand(photo):
            gray = next(one.gray for one in frames(Path(photo)) if one.page == page)
    except (CounterfoilError, StopIteration):
        return None
    return level(gray, corners, limits, is_label=is_label) if corners else shrunk(gray, limits)


def _encoded(cut: NDArray[np.uint8] | None, quality: int) -> bytes:
    if cut is None:
        return b""
    done, encoded = cv2.imencode(".jpg", cut, (cv2.IMWRITE_JPEG_QUALITY, quality))
    return encoded.tobytes() if done else b""


def level(
    gray: NDArray[np.uint8],
    corners: Corners,
    limits: tuple[int, int] = (WIDE_PX, HIGH_PX),
    *,
    is_label: bool,
) -> NDArray[np.uint8]:
    """The stretch within four corners (from top left, as read), with a margin, at most as wide
    and high as `limits` (px); below a label's bars with the number that is printed there."""
    quad = np.array(corners, np.float32)
    across = (quad[1] - quad[0] + quad[2] - quad[3]) / 2
    down = (quad[3] - quad[0] + quad[2] - quad[1]) / 2
    long, high = float(np.hypot(*across)), float(np.hypot(*down))
    if min(long, high) < 2:
        return shrunk(gray, limits)
    side = 0.04 * across
    above = 0.04 * long / high * down
    # A decoder may have found only a band of the bars: the number stands below all of them.
    below = (max(0.18, _LABEL_REACH - high / long) if is_label else 0.04) * long / high * down
    # Of tall bars the lower part says as much.
    start = max(0.0, 1 - 0.12 * long / high) if is_label else 0.0
    outer = np.array(
        [
            quad[0] + start * (quad[3] - quad[0]) - side - above,
            quad[1] + start * (quad[2] - quad[1]) + side - above,
            quad[2] + side + below,
            quad[3] - side + below,
        ],
        np.float32,
    )
    wide = float(np.hypot(*(outer[1] - outer[0])))
    tall = float(np.hypot(*(outer[3] - outer[0])))
    scale = min(limits[0] / wide, limits[1] / tall, 1.5)
    size = max(2, round(wide * scale)), max(2, round(tall * scale))
    if scale < 0.7:
        # Averaged, not picked from: thin bars and strokes would break up.
        gray = np.asarray(cv2.resize(gray, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA))
        outer = np.asarray(outer * scale, np.float32)
    target = np.array([[0, 0], [size[0], 0], [size[0], size[1]], [0, size[1]]], np.float32)
    turn = cv2.getPerspectiveTransform(outer, target)
    cut = cv2.warpPerspective(gray, turn, size, borderMode=cv2.BORDER_REPLICATE)
    return np.asarray(cut, np.uint8)


def shrunk(gray: NDArray[np.uint8], limits: tuple[int, int]) -> NDArray[np.uint8]:
    """The whole photo, small."""
    scale = min(limits[0] / gray.shape[1], 2.4 * limits[1] / gray.shape[0], 1.0)
    size = max(1, round(gray.shape[1] * scale)), max(1, round(gray.shape[0] * scale))
    return np.asarray(cv2.resize(gray, size, interpolation=cv2.INTER_AREA), np.uint8)
