"""All glyphs as signed distance fields, ordered by hand and character, on one device.

A hand is one writer or one face. A distance field can be drawn with any pen: where the
field exceeds a threshold there is ink.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import torch

from pairing.training.character_sources import CELL_PX, DRAWN, FIELD_GAIN

PEN_HALF_PX = 2.4
"""Half a pen's width in the field of a stroke, of digits 40 high: a 0.6 mm line in 5 mm."""

KINDS = ("mnist", "pen", "hand-face", "print")
PARTS = ("train", "calibration", "test")


@dataclass(frozen=True, slots=True, kw_only=True)
class Glyphs:
    """fields: (n, CELL_PX, CELL_PX) uint8. left, right: (n,) ink columns from the middle, px.
    half: (n,) half the width of the stroke where it is thinnest, px.
    first, count: (hands, len(DRAWN)) where a hand's glyphs of a character lie in `order`.
    kind: (hands,) index into KINDS. part: (hands,) index into PARTS."""

    fields: torch.Tensor
    left: torch.Tensor
    right: torch.Tensor
    half: torch.Tensor
    order: torch.Tensor
    first: torch.Tensor
    count: torch.Tensor
    kind: torch.Tensor
    part: torch.Tensor
    names: tuple[str, ...]


def load(path: Path, device: torch.device) -> Glyphs:
    """Unpack what `sources.gather` wrote."""
    data = np.load(path)
    cache = path.with_suffix(".fields.npy")
    labels, hands = [], []
    names: list[str] = []
    kinds: list[int] = []
    labels.append(data["mnist_labels"])
    hands.append(_numbered(data["mnist_writers"].astype(str), "mnist/", 0, names, kinds))
    labels.append(data["pen_digits"])
    hands.append(_numbered(_merged(data["pen_writers"]), "", 1, names, kinds))
    faces = data["face_fields"]
    labels.append(np.tile(np.arange(len(DRAWN), dtype=np.uint8), len(faces)))
    base = len(names)
    hands.append(np.repeat(np.arange(base, base + len(faces)), len(DRAWN)))
    names += [f"face/{name}" for name in data["face_names"]]
    kinds += [2 if is_hand else 3 for is_hand in data["face_is_hand"]]
    if device.type == "cpu" and cache.is_file():
        fields = torch.from_numpy(np.load(cache))
    else:
        fields = _all_fields(data, device)
        if device.type == "cpu":
            np.save(cache, fields.numpy())
    return ordered(fields, np.concatenate(labels), np.concatenate(hands), names, kinds)


def _all_fields(data: Mapping[str, np.ndarray], device: torch.device) -> torch.Tensor:
    images, strokes, faces = (
        torch.from_numpy(data[name]) for name in ("mnist_images", "pen_strokes", "face_fields")
    )
    fields = [of_images(part.to(device)) for part in images.split(500)]
    fields += [_of_strokes(part.to(device)) for part in strokes.split(100)]
    fields.append(faces.to(device).reshape(-1, CELL_PX, CELL_PX))
    return torch.cat(fields)


def _numbered(
    writers: np.ndarray, prefix: str, kind: int, names: list[str], kinds: list[int]
) -> np.ndarray:
    unique, index = np.unique(writers, return_inverse=True)
    base = len(names)
    names += [prefix + str(name) for name in unique]
    kinds += [kind] * len(unique)
    return index + base


def _merged(writers: np.ndarray, least: int = 40) -> np.ndarray:
    """Files with few digits are put together by their folder (about one site's session)."""
    unique, index, count = np.unique(writers, return_inverse=True, return_counts=True)
    merged = [
        name if n >= least else "/".join(name.split("/")[:2]) + "/few"
        for name, n in zip(unique, count, strict=True)
    ]
    return np.array(merged)[index]


def ordered(
    fields: torch.Tensor, labels: np.ndarray, hands: np.ndarray, names: list[str], kinds: list[int]
) -> Glyphs:
    """The glyphs put in order: labels (n,) places in DRAWN, hands (n,) indices into `names`,
    kinds of the hands."""
    device = fields.device
    key = hands.astype(np.int64) * len(DRAWN) + labels
    order = np.argsort(key, kind="stable")
    count = np.bincount(key, minlength=len(names) * len(DRAWN)).reshape(-1, len(DRAWN))
    first = np.r_[0, np.cumsum(count.ravel())[:-1]].reshape(-1, len(DRAWN))
    ink = (fields > 128).any(1)
    columns = torch.arange(CELL_PX, device=device) + 0.5 - CELL_PX / 2
    big = torch.tensor(99.0, device=device)
    left = torch.where(ink, columns, big).amin(1).clamp(max=0.0)
    right = torch.where(ink, columns, -big).amax(1).clamp(min=0.0)
    return Glyphs(
        fields=fields,
        left=left,
        right=right,
        half=torch.cat([_thinnest(some) for some in fields.split(4000)]),
        order=torch.from_numpy(order).to(device),
        first=torch.from_numpy(first).to(device),
        count=torch.from_numpy(count).to(device),
        kind=torch.tensor(kinds, device=device),
        part=torch.tensor([_part(n, i) for i, n in enumerate(names)], device=device),
        names=tuple(names),
    )


def _thinnest(fields: torch.Tensor, share: float = 0.1) -> torch.Tensor:
    """(n,) half the width that a tenth of the stroke's length at most falls short of, px."""
    # On the middle of a stroke no neighbor lies deeper in the ink by half a pixel.
    deep = fields[:, None].half()
    deepest = torch.nn.functional.max_pool2d(deep, 3, stride=1, padding=1)
    ridge = ((deep > 128) & (deep >= deepest - FIELD_GAIN / 2)).flatten(1)
    half = torch.where(ridge, (deep.flatten(1) - 128) / FIELD_GAIN, 99.0).sort(1).values
    at = (share * ridge.sum(1)).long()[:, None]
    # The widest where nothing is ink at the field's own pen.
    widest = (fields.flatten(1).amax(1).float() - 128) / FIELD_GAIN
    return torch.minimum(half.gather(1, at)[:, 0].float(), widest)


def _part(name: str, index: int) -> int:
    """One hand in ten is kept for the calibration, one for the test; a face with its weights."""
    is_face = name.startswith("face/")
    tenth = sum(map(ord, name.split("/")[1])) % 12 if is_face else index % 10
    return {3: 1, 7: 2}.get(tenth, 0)


def of_images(images: torch.Tensor) -> torch.Tensor:
    """Fields of (n, 28, 28) uint8 MNIST images."""
    fine = torch.nn.functional.interpolate(
        images[:, None].float(), scale_factor=2, mode="bicubic", align_corners=False
    )[:, 0]
    ink = fine > 110  # a little under half, so that thin strokes hold together
    signed = _distance(~ink) - _distance(ink)
    return _as_field(signed)


def _distance(target: torch.Tensor, reach: int = 9) -> torch.Tensor:
    """Euclidean distance (n, h, w) of each pixel to the nearest True one, px, at most 9."""
    square = torch.where(target, 0.0, float(reach**2))
    for axis in (1, 2):
        nearest = square.clone()
        size = square.shape[axis]
        for by in range(1, reach):
            here, there = nearest.narrow(axis, by, size - by), square.narrow(axis, 0, size - by)
            torch.minimum(here, there + by**2, out=here)
            here, there = nearest.narrow(axis, 0, size - by), square.narrow(axis, by, size - by)
            torch.minimum(here, there + by**2, out=here)
        square = nearest
    return square.sqrt()


def _of_strokes(strokes: torch.Tensor) -> torch.Tensor:
    points = strokes.float()
    at = torch.arange(CELL_PX, device=strokes.device) + 0.5 - CELL_PX / 2
    y, x = torch.meshgrid(at, at, indexing="ij")
    grid = torch.stack([x, y], -1).reshape(1, -1, 2)
    nearest = torch.full((len(points), grid.shape[1]), 12.0, device=strokes.device)
    for index in range(points.shape[1] - 1):
        start, end = points[:, index, None, :2], points[:, index + 1, None, :2]
        along = end - start
        share = ((grid - start) * along).sum(-1) / (along**2).sum(-1).clamp(min=1e-6)
        near = (grid - start - share.clamp(0, 1)[..., None] * along).norm(dim=-1)
        down = points[:, index, 2, None] > 0.5
        nearest = torch.where(down, torch.minimum(nearest, near), nearest)
    return _as_field((PEN_HALF_PX - nearest).reshape(-1, CELL_PX, CELL_PX))


def _as_field(signed_px: torch.Tensor) -> torch.Tensor:
    return (128 + FIELD_GAIN * signed_px).clamp(0, 255).to(torch.uint8)


def pick(
    glyphs: Glyphs, hands: torch.Tensor, characters: torch.Tensor, rng: torch.Generator
) -> torch.Tensor:
    """Indices of glyphs for `characters` (b, l) by `hands` (b, l); -1 where the hand has none."""
    count = glyphs.count[hands, characters]
    chance = torch.rand(count.shape, device=count.device, generator=rng)
    at = glyphs.first[hands, characters] + (chance * count).long()
    return torch.where(count > 0, glyphs.order[at.clamp(max=len(glyphs.order) - 1)], -1)


__all__ = ["KINDS", "PARTS", "Glyphs", "load", "pick"]
