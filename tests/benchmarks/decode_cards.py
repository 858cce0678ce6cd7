"""Labels and cards drawn outside the project: what is read of them, by level.

Run by `python -m tests.benchmarks.decode cards`, on ../shared/cards, and by `... scenes` on
scenes of this folder's own (`decode_scenes`).
"""

from __future__ import annotations

import json
import tempfile
import time
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.model import Role, Side, TrackingNumber
from pairing.photos.files import frames
from pairing.photos.written import read_label_print, shared_reader
from pairing.pieces.photo_groups import Photo
from pairing.pieces.reading import PhotoReadings, read_photo
from tests.benchmarks import decode_camera, decode_scenes
from tests.benchmarks.decode_scenes import Design

CARDS = Path(__file__).parents[3] / "shared" / "cards"
LEVELS = ("clean", "phone", "hard", "one")
SEED = 11  # of drawn scenes, unless one is given
_STRIP_WITH_BARS = "strip_barcode"

Gray = NDArray[np.uint8]


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """What a photo shows; "" for what it does not. strip: bars in the box."""

    article: str = ""
    card: str = ""
    strip: str = ""


def score(photos: Iterable[tuple[Path, Side | None, Truth]]) -> Counter[str]:
    """Read photos and count what came out right, what wrong, and what was refused."""
    cv2.setNumThreads(1)
    count: Counter[str] = Counter()
    for path, shows, truth in photos:
        start = time.process_time()
        read = read_photo(Photo(path=path, shows=shows))
        count["CPU ms"] += round(1000 * (time.process_time() - start))
        count["photos"] += 1
        _count_numbers(read, truth, count)
        (frame,) = frames(path)
        _count_print(frame.gray, read, count)
    return count


def _count_numbers(read: PhotoReadings, truth: Truth, count: Counter[str]) -> None:
    readings = [one for frame in read.frames for one in frame.readings]
    for what, want, sides in (
        ("article", truth.article, (Side.LABEL,)),
        ("card", truth.card, (Side.CARD,)),
        ("strip", truth.strip, (Side.BOX,)),
    ):
        got = {one.number.text for one in readings if one.side in sides}
        if want:
            count[f"{what} of"] += 1
            count[f"{what} read"] += want in got
        count[f"{what} WRONG"] += len(got - {want})
    unread = [f.code for frame in read.frames for f in frame.found]
    count["box left for unread bars"] += "box-bars-unread" in unread
    for one in readings:
        if isinstance(one.number, TrackingNumber):
            known = {truth.article, truth.card, truth.strip}
            count["numbers WRONG"] += one.number.text not in known
        count["refused for print"] += any(f.code == "label-print-differs" for f in one.findings)


def _count_print(gray: Gray, read: PhotoReadings, count: Counter[str]) -> None:
    """The print under the bars of labels and cards that were read."""
    for frame in read.frames:
        for one in frame.readings:
            number = one.number
            if one.quad is None or one.side not in {Side.LABEL, Side.CARD}:
                continue
            if not isinstance(number, TrackingNumber):
                continue
            what = "card" if number.role is Role.CARD else "label"
            line = read_label_print(gray, one.quad, shared_reader()).line
            count[f"print {what} of"] += 1
            count[f"print {what} exact"] += line is not None and line.best == number.text
            count[f"print {what} WRONG"] += line is not None and line.best != number.text


def shared_cards(level: str) -> list[tuple[Path, Side | None, Truth]]:
    """The photos of one level with their truths."""
    listed = json.loads((CARDS / f"{level}.truth.json").read_text("utf-8"))
    rows = {row["piece"]: row for row in (listed if isinstance(listed, list) else listed.values())}
    found: list[tuple[Path, Side | None, Truth]] = []
    for path in sorted((CARDS / level).glob("*.jpg")):
        name, _, side = path.stem.partition("-")
        row = rows[name]
        strip = row["written"] if row["mode"] == _STRIP_WITH_BARS else ""
        shown = {
            "label": (Side.LABEL, Truth(article=row["article"])),
            "card": (Side.CARD, Truth(card=row["receipt"], strip=strip)),
            "": (None, Truth(article=row["article"], card=row["receipt"], strip=strip)),
        }
        found.append((path, *shown[side]))
    return found


def cards() -> None:
    """What is read of ../shared/cards, one line a level."""
    if not CARDS.is_dir():
        print(f"no cards at {CARDS}: skipped")
        return
    for level in LEVELS:
        shown(level, score(shared_cards(level)))


def drawn(designs: tuple[Design, ...], count: int, seed: int = SEED) -> None:
    """What is read of scenes of this folder's own, one line a level."""
    with tempfile.TemporaryDirectory(prefix="counterfoil-scenes-") as folder:
        for level in decode_camera.LEVELS:
            shown(level, score(_drawn(designs, level, count, Path(folder), seed)))


def _drawn(
    designs: tuple[Design, ...], level: str, count: int, folder: Path, seed: int
) -> Iterator[tuple[Path, Side | None, Truth]]:
    for number, scene in enumerate(decode_scenes.scenes(designs, level, count, seed)):
        path = folder / f"{level}-{number}.png"
        cv2.imwrite(str(path), scene.gray)
        shows = Side.CARD if not scene.article else None if scene.card else Side.LABEL
        yield path, shows, Truth(article=scene.article, card=scene.card, strip=scene.strip)


def shown(title: str, count: Counter[str]) -> None:
    """Print one line of figures."""
    cells = [f"{what} {n}" for what, n in sorted(count.items()) if n]
    print(f"{title:8}" + ", ".join(cells), flush=True)
