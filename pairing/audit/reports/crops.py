"""The two stretches of paper that a person looks at: the label's number and the card's box,
laid level, as small JPEGs. Made for exceptions only, and kept with the run."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import cv2
import msgspec
import numpy as np
from numpy.typing import NDArray

from pairing.audit.run.job import Engine, Progress
from pairing.audit.run.rows import Corners, Row
from pairing.audit.run.run_store import Crop, Store
from pairing.audit.run.sources import Source
from pairing.errors import CounterfoilError
from pairing.model import Side
from pairing.photos import handed
from pairing.photos.files import frames

WIDE_PX, HIGH_PX = 440, 150
"""Largest crop: 22 digits are then 13 to 20 px wide each."""
_LABEL_REACH = 0.5
"""From the bars' top to below the number, in lengths of the bars; of drawn labels (bars 0.33,
the number's foot 0.45 high)."""
SHEET_WIDE_PX, SHEET_HIGH_PX = 1300, 430
"""Largest crop on an evidence sheet: 240 dots an inch on its 138 mm."""
_QUALITY, _SHEET_QUALITY = 50, 85


class Stretch(msgspec.Struct, frozen=True, kw_only=True):
    """What to cut from a photo: the place (px), None for the whole page, small."""

    photo: str
    page: int = 1
    place_px: Corners | None = None


class CropTask(msgspec.Struct, frozen=True, kw_only=True):
    """What cropping needs of a row. label, box: None where no photo is left to show it."""

    key: str
    label: Stretch | None
    box: Stretch | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Cutter:
    """Cuts crops of rows, told how many at most (total), from where their photos are."""

    source: Source
    engine: Engine
    progress: Progress
    total: int

    def cut(self, rows: Iterable[Row]) -> Iterator[tuple[str, Crop]]:
        """Each row's piece and crop. Photos that have gone since give none."""
        tasks = (
            (row.piece, partial(cropped, self.source, task_of(row)), Path(row.photos[0].photo))
            for row in rows
            if row.photos
        )
        for done, (piece, crop) in enumerate(self.engine(tasks), 1):
            self.progress("pictures cut", done, self.total)
            if not isinstance(crop, CounterfoilError):
                yield piece, crop


def keep(rows: Iterable[Row], store: Store, cutter: Cutter) -> None:
    """Cut the crops that the store has not yet, and keep them there."""
    for _, crop in cutter.cut(row for row in rows if store.crop(key_of(row)) is None):
        store.keep_crops([crop])


def of_row(row: Row, *, source: Source, engine: Engine) -> Crop:
    """One row's, large."""
    task = (0, partial(cropped, source, task_of(row), is_large=True), Path(row.piece))
    for _, crop in engine([task]):
        if not isinstance(crop, CounterfoilError):
            found: Crop = crop
            return found
    return Crop(key=key_of(row), label=b"", box=b"")


def key_of(row: Row) -> str:
    """A row's photos, whatever became of its verdict."""
    return f"{row.piece} {' '.join(row.hashes)}"


def task_of(row: Row) -> CropTask:
    """Where label and box are; where a place is not known, a photo that shows neither."""
    label, box = (
        next(
            (
                Stretch(photo=one.photo, page=one.page, place_px=one.place_px)
                for one in row.readings
                if one.side is side and one.place_px
            ),
            None,
        )
        for side in (Side.LABEL, Side.BOX)
    )
    if row.box:
        box = Stretch(photo=row.box.photo, page=row.box.page, place_px=row.box.place_px)
    shown = {one.photo for one in (label, box) if one}
    spare = (
        Stretch(photo=one.photo)
        for one in row.photos
        if one.skipped is None and one.photo not in shown
    )
    return CropTask(key=key_of(row), label=label or next(spare, None), box=box or next(spare, None))


@handed.opens(
    lambda source, task, _: source.files(one.photo for one in (task.label, task.box) if one)
)
def cropped(source: Source, task: CropTask, _: Path, *, is_large: bool = False) -> Crop:
    """In the worker: both crops."""
    label, box = (
        _jpeg(source, stretch, is_large=is_large, is_label=stretch is task.label)
        for stretch in (task.label, task.box)
    )
    return Crop(key=task.key, label=label, box=box)


def _jpeg(source: Source, stretch: Stretch | None, *, is_large: bool, is_label: bool) -> bytes:
    """b"" where the photo has gone."""
    if stretch is None:
        return b""
    limits = (SHEET_WIDE_PX, SHEET_HIGH_PX) if is_large else (WIDE_PX, HIGH_PX)
    try:
        with source.at_hand(stretch.photo) as file:
            gray = next(one.gray for one in frames(file) if one.page == stretch.page)
    except (CounterfoilError, StopIteration):
        return b""
    if stretch.place_px is None:
        cut = shrunk(gray, limits)
    else:
        cut = level(gray, stretch.place_px, limits, is_label=is_label)
    quality = _SHEET_QUALITY if is_large else _QUALITY
    done, encoded = cv2.imencode(".jpg", cut, (cv2.IMWRITE_JPEG_QUALITY, quality))
    return encoded.tobytes() if done else b""


def level(
    gray: NDArray[np.uint8],
    corners: Sequence[Sequence[float]],
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
    # A decoder may have found only a band of the bars: the number is below all of them.
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
