"""Faces and digits that random cards are drawn with; the held-out hands stay out."""

from __future__ import annotations

import zipfile
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import ImageFont

from pairing.numbers.text import is_digits
from pairing.training.character_sources import face_files, real_digits

Rng = np.random.Generator
Alpha = NDArray[np.float32]
"""(h, w) ink from 0 to 1."""
HELD_OUT_EVERY = 8
"""One face and one writer in so many is kept for measuring."""
_PENS = 0.45
"""Of hands, those of pen strokes; of the others half are scanned digits, half are faces."""


def gather(written: Path, faces: Path, out: Path) -> int:
    """Pack faces (woff2 to ttf) and digits into one zip file; how many faces. Folders as in
    `training.character_sources.gather`."""
    kept = list(face_files(faces))
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
        for face in kept:
            sort = "hand" if face.is_hand else "print"
            packed.writestr(f"{sort}/{face.name}-{face.weight}.ttf", face.as_ttf().getvalue())
        with packed.open("digits.npz", "w") as file:
            np.savez_compressed(file, allow_pickle=False, **real_digits(written))
    return len(kept)


@dataclass(slots=True)
class Materials:
    """What cards are drawn with. Each of scans, pens: for each writer ten arrays, one a digit."""

    hand_faces: list[Path]
    print_faces: list[Path]
    scans: list[list[NDArray[np.uint8]]]
    pens: list[list[NDArray[np.float32]]]
    fonts: dict[tuple[Path, int], Any] = field(default_factory=dict)

    def font(self, face: Path, size_px: int) -> Any:
        """A face at a size; kept."""
        if (face, size_px) not in self.fonts:
            if len(self.fonts) > 3000:
                self.fonts.clear()
            self.fonts[face, size_px] = ImageFont.truetype(str(face), size_px)
        return self.fonts[face, size_px]


def load(folder: Path, *, is_held_out: bool = False) -> Materials:
    """Materials of a folder that `gather`'s file was unpacked into."""
    digits = np.load(folder / "digits.npz")

    def kept(items: list[Any]) -> list[Any]:
        held = [at % HELD_OUT_EVERY == HELD_OUT_EVERY - 1 for at in range(len(items))]
        return [one for one, out in zip(items, held, strict=True) if out == is_held_out]

    return Materials(
        hand_faces=kept(sorted((folder / "hand").glob("*.ttf"))),
        print_faces=kept(sorted((folder / "print").glob("*.ttf"))),
        scans=kept(
            _by_writer(digits["mnist_writers"], digits["mnist_labels"], digits["mnist_images"])
        ),
        pens=kept(_by_writer(digits["pen_writers"], digits["pen_digits"], digits["pen_strokes"])),
    )


def _by_writer(
    writers: NDArray[Any], labels: NDArray[Any], glyphs: NDArray[Any]
) -> list[list[NDArray[Any]]]:
    order = np.argsort(writers, kind="stable")
    found = []
    for part in np.split(
        order, np.flatnonzero(np.diff(np.unique(writers[order], return_inverse=True)[1])) + 1
    ):
        each = [glyphs[part[labels[part] == digit]] for digit in range(10)]
        if all(len(one) for one in each):
            found.append(each)
    return found


@lru_cache(maxsize=1)
def _grid(size: int) -> NDArray[np.float32]:
    return np.arange(size, dtype=np.float32)


@dataclass(slots=True)
class Hand:
    """Who writes a line: a writer's digits or a face, and a pen. slant: dx for a dy of 1."""

    materials: Materials
    rng: Rng
    pen_px: float
    slant: float
    aspect: float
    sort: str
    who: Any

    @classmethod
    def any(cls, materials: Materials, rng: Rng, px_per_mm: float) -> Hand:
        """A hand at random."""
        sort = "pen" if rng.random() < _PENS else ("scan" if rng.random() < 0.5 else "face")
        pool: list[Any] = {
            "pen": materials.pens,
            "scan": materials.scans,
            "face": materials.hand_faces,
        }[sort]  # type: ignore[assignment]
        return cls(
            materials=materials, rng=rng,
            pen_px=float(px_per_mm * rng.choice([0.22, 0.3, 0.38, 0.45, 0.55, 0.7, 1.0],
                                                p=[.12, .2, .22, .2, .14, .08, .04])),
            slant=float(rng.normal(0, 0.14)), aspect=float(rng.uniform(0.72, 1.2)),
            sort=sort, who=pool[int(rng.integers(len(pool)))],
        )  # fmt: skip

    def character(self, char: str, high_px: float) -> Alpha:
        """One character's ink, cut to its bounds."""
        loose = self.rng.normal(0, 1, 4)
        high = max(6.0, high_px * (1 + 0.06 * loose[0]))
        if not is_digits(char) or self.sort == "face":
            ink = self._by_face(char, high)
        elif self.sort == "scan":
            ink = self._by_scan(int(char), high)
        else:
            ink = self._by_pen(int(char), high)
        return _sheared(ink, self.slant + 0.05 * loose[1], 0.06 * loose[2])

    def _by_face(self, char: str, high: float) -> Alpha:
        face = self.who if self.sort == "face" else self.materials.hand_faces[0]
        font = self.materials.font(face, max(8, round(high * 1.35)))
        return text_ink(font, char, stroke=int(self.pen_px > 4))

    def _by_scan(self, digit: int, high: float) -> Alpha:
        pool = self.who[digit]
        image = pool[int(self.rng.integers(len(pool)))]
        tall = high * 28 / 20
        ink = cv2.resize(image, (max(4, round(tall * self.aspect)), max(4, round(tall))),
                         interpolation=cv2.INTER_CUBIC)  # fmt: skip
        level = 150 - 22 * float(np.clip(self.pen_px - 3.4, -2, 3))
        soft = np.clip((ink.astype(np.float32) - level) / 50 + 0.5, 0, 1)
        return cropped(soft)

    def _by_pen(self, digit: int, high: float) -> Alpha:
        pool = self.who[digit]
        stroke = pool[int(self.rng.integers(len(pool)))].astype(np.float32)
        scale = high / 40
        points = stroke[:, :2] * (scale * self.aspect, scale)
        points += self.rng.normal(0, 0.15, points.shape)
        pad = int(self.pen_px) + 3
        low = points.min(0) - pad
        size = np.ceil(points.max(0) + pad - low).astype(int)
        layer = np.zeros((size[1], size[0]), np.uint8)
        at = np.round((points - low) * 16).astype(np.int32)
        thick = max(1, round(self.pen_px))
        for index in np.flatnonzero(stroke[:-1, 2] > 0.5):
            cv2.line(layer, tuple(map(int, at[index])), tuple(map(int, at[index + 1])), 255, thick,
                     cv2.LINE_AA, 4)  # fmt: skip
        return cropped(np.asarray(layer / 255, np.float32))


def text_ink(font: Any, text: str, stroke: int = 0) -> Alpha:
    """A text's ink by a face."""
    from PIL import Image, ImageDraw  # noqa: PLC0415

    left, top, right, foot = font.getbbox(text, stroke_width=stroke)
    if right <= left or foot <= top:
        return np.zeros((1, 1), np.float32)
    picture = Image.new("L", (right - left, foot - top))
    ImageDraw.Draw(picture).text((-left, -top), text, 255, font, stroke_width=stroke)
    return np.asarray(np.asarray(picture) / 255, np.float32)


def resized(ink: Alpha, wide: int, high: int) -> Alpha:
    """Shrunk to a size, px."""
    small = cv2.resize(ink, (wide, high), interpolation=cv2.INTER_AREA)
    return np.asarray(small, np.float32)


def cropped(ink: Alpha) -> Alpha:
    """Cut to what is inked."""
    rows, cols = np.flatnonzero(ink.max(1) > 0.2), np.flatnonzero(ink.max(0) > 0.2)
    if not len(rows):
        return ink[:1, :1]
    return ink[rows[0] : rows[-1] + 1, cols[0] : cols[-1] + 1]


def _sheared(ink: Alpha, shear: float, turn: float) -> Alpha:
    high, wide = ink.shape
    extra = int(abs(shear) * high + abs(turn) * wide) + 2
    down = int(abs(turn) * wide) + 1
    matrix = np.array([
        [1, -shear, extra / 2 + shear * high / 2],
        [turn, 1, down / 2 - turn * wide / 2],
    ])  # fmt: skip
    moved = cv2.warpAffine(ink, matrix, (wide + extra, high + down), flags=cv2.INTER_LINEAR)
    return cropped(np.asarray(moved, np.float32))
