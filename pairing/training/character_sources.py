"""Where the digits and letters of the training lines come from, and which are held out.

Real digits: MNIST's training part with NIST writer ids (CC BY-SA 3.0), UNIPEN train_r01_v07
category 1a (CC BY 4.0), the training part of the UCI pen-based digits (CC BY 4.0). Letters and
further digits: handwriting and printed faces under OFL-1.1 or Apache-2.0. None of this is
copied into the project; `gather` packs it into one file to train from.
"""

from __future__ import annotations

import gzip
import io
import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from pairing.errors import CounterfoilError
from pairing.training.faces import FORBIDDEN, HAND_FACES, LEFT_OUT

CHARACTERS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
"""What the network tells apart."""
DRAWN = CHARACTERS + "abcdefghijklmnopqrstuvwxyz.,:/-#()&"
"""What faces are drawn with: captions, addresses and names have more than capitals."""
CELL_PX = 56
"""Side of the square that one glyph is kept in."""
HIGH_PX = 40
"""Height of a digit in that square (MNIST: 20 of 28, doubled)."""
FIELD_GAIN = 16.0
"""Steps of the 8-bit distance field for one pixel of the square; 128 is the edge."""
STROKE_POINTS = 64


def gather(written: Path, faces: Path, out: Path) -> None:
    """Pack the training data into `out` (.npz).

    written: the folder with mnist-train-writers.npz, unipen-digits-train.json.gz and
        pendigits-train.json.gz.
    faces: a folder with one folder a face, each with `files/*-latin-WEIGHT-normal.woff2`.
    """
    kept = [(face_fields(one.as_ttf()), one) for one in face_files(faces)]
    np.savez_compressed(
        out,
        allow_pickle=False,
        **real_digits(written),
        face_fields=np.stack([fields for fields, _ in kept]),
        face_names=np.array([f"{one.name}/{one.weight}" for _, one in kept]),
        face_is_hand=np.array([one.is_hand for _, one in kept]),
    )


def real_digits(written: Path) -> dict[str, NDArray[Any]]:
    """Scanned digits, pen strokes and whose they are, as arrays by name. written: as `gather`
    takes it. Raises CounterfoilError where the data is not there."""
    for name in ("mnist-train-writers.npz", "unipen-digits-train.json.gz"):
        if not (written / name).is_file():
            raise CounterfoilError(
                "The training data is not there",
                where=str(written / name),
                remedy="Give the folder that holds it with --written.",
            )
    mnist = np.load(written / "mnist-train-writers.npz")
    pens = [*_unipen(written), *_pendigits(written)]
    return {
        "mnist_images": mnist["images"],
        "mnist_labels": mnist["labels"].astype(np.uint8),
        "mnist_writers": mnist["writers"].astype(np.int32),
        "pen_strokes": np.stack([stroke for stroke, *_ in pens]),
        "pen_digits": np.array([digit for _, digit, *_ in pens], np.uint8),
        "pen_writers": np.array([writer for *_, writer in pens]),
    }


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceFile:
    """A face that may be trained on. weight: 400 regular, 700 bold."""

    name: str
    weight: int
    is_hand: bool
    file: Path

    def as_ttf(self) -> io.BytesIO:
        """The face without its compression."""
        return _as_ttf(self.file)


def face_files(folder: Path) -> Iterator[FaceFile]:
    """The faces below a folder in the order of their names, without those that are left out."""
    for face in sorted(path for path in folder.iterdir() if path.is_dir()):
        if face.name in FORBIDDEN | LEFT_OUT:
            continue
        for weight in (400, 700):
            if found := sorted(face.glob(f"files/*-latin-{weight}-normal.woff2")):
                is_hand = face.name in HAND_FACES
                yield FaceFile(name=face.name, weight=weight, is_hand=is_hand, file=found[0])


def _read(path: Path) -> list[dict[str, Any]]:
    with gzip.open(path) as packed:
        return list(json.load(packed))


def _unipen(written: Path) -> Iterator[tuple[NDArray[np.float16], int, str]]:
    for item in _read(written / "unipen-digits-train.json.gz"):
        strokes = [np.array(stroke, np.float32).reshape(-1, 2) for stroke in item["s"]]
        if _is_lone_bar(strokes) and item["d"] != 1:
            continue  # a stroke is missing
        yield _packed(strokes), int(item["d"]), f"unipen/{item['w']}"


def _pendigits(written: Path) -> Iterator[tuple[NDArray[np.float16], int, str]]:
    for item in _read(written / "pendigits-train.json.gz"):
        strokes = [np.array(s, np.float32).reshape(-1, 2) * (1, -1) for s in item["s"]]
        if _is_lone_bar(strokes) and item["d"] != 1:
            continue
        yield _packed(strokes), int(item["d"]), f"pendigits/{item['c'][1]}"


def _is_lone_bar(strokes: list[NDArray[Any]]) -> bool:
    points = np.concatenate(strokes)
    spread = np.linalg.svd(points - points.mean(0), compute_uv=False)
    return bool(len(points) < 3 or spread[1] < 0.06 * spread[0])


def _packed(strokes: list[NDArray[Any]]) -> NDArray[np.float16]:
    """STROKE_POINTS rows (x, y, pen down on the way to the next), centered, HIGH_PX high."""
    points = np.concatenate(strokes)
    low, high = points.min(0), points.max(0)
    wide, tall = high - low
    scale = min(HIGH_PX / max(tall, 1e-3), (CELL_PX - 12) / max(wide, 1e-3))
    lengths = [_length(stroke) for stroke in strokes]
    left = STROKE_POINTS - 2 * len(strokes)
    rows = []
    for stroke, length in zip(strokes, lengths, strict=True):
        extra = int(max(left, 0) * length / max(sum(lengths), 1e-6))
        for index, (x, y) in enumerate(dense := _resampled(stroke, 2 + extra)):
            rows.append((x, y, float(index + 1 < len(dense))))
    packed = np.zeros((STROKE_POINTS, 3), np.float32)
    rows = rows[:STROKE_POINTS]
    packed[: len(rows)] = rows
    packed[:, :2] = (packed[:, :2] - (low + high) / 2) * scale
    packed[len(rows) :] = packed[len(rows) - 1] * (1, 1, 0)
    packed[-1, 2] = 0
    return packed.astype(np.float16)


def _length(stroke: NDArray[Any]) -> float:
    return float(np.linalg.norm(np.diff(stroke, axis=0), axis=1).sum())


def _resampled(stroke: NDArray[Any], count: int) -> NDArray[Any]:
    steps = np.r_[0, np.cumsum(np.linalg.norm(np.diff(stroke, axis=0), axis=1))]
    at = np.linspace(0, steps[-1], count)
    return np.stack([np.interp(at, steps, stroke[:, axis]) for axis in (0, 1)], 1)


def _as_ttf(woff2: Path) -> io.BytesIO:
    from fontTools.ttLib import TTFont  # noqa: PLC0415 - an extra

    font = TTFont(woff2)
    font.flavor = None
    out = io.BytesIO()
    font.save(out)
    out.seek(0)
    return out


def face_fields(file: io.BytesIO | str) -> NDArray[np.uint8]:
    """Distance fields (len(DRAWN), CELL_PX, CELL_PX) uint8 of a face's characters."""
    import cv2  # noqa: PLC0415
    from PIL import Image, ImageDraw, ImageFont  # noqa: PLC0415

    fine = 4
    side = CELL_PX * fine
    trial = ImageFont.truetype(file, 200)
    tops = [trial.getbbox(c) for c in DRAWN[:10]]
    tall = max(box[3] - box[1] for box in tops)
    if hasattr(file, "seek"):
        file.seek(0)
    font = ImageFont.truetype(file, round(200 * HIGH_PX * fine / max(tall, 1)))
    boxes = [font.getbbox(c, anchor="ls") for c in DRAWN]
    middle = (min(b[1] for b in boxes[:10]) + max(b[3] for b in boxes[:10])) / 2
    fields = []
    for char, box in zip(DRAWN, boxes, strict=True):
        picture = Image.new("L", (side, side))
        left = side / 2 - (box[0] + box[2]) / 2
        ImageDraw.Draw(picture).text((left, side / 2 - middle), char, 255, font, anchor="ls")
        ink = np.asarray(picture) > 127
        inside = cv2.distanceTransform(ink.astype(np.uint8), cv2.DIST_L2, 5)
        outside = cv2.distanceTransform((~ink).astype(np.uint8), cv2.DIST_L2, 5)
        signed = np.clip(np.asarray(inside) - np.asarray(outside), -9 * fine, 9 * fine) / fine
        small = cv2.resize(signed, (CELL_PX, CELL_PX), interpolation=cv2.INTER_AREA)
        fields.append(np.clip(128 + FIELD_GAIN * np.asarray(small), 0, 255).astype(np.uint8))
    return np.stack(fields)
