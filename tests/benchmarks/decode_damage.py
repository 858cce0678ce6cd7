"""Symbols drawn by an independent library, damaged in fifteen ways at six levels each.

Every picture is drawn from that library's modules at eight samples a module, damaged,
and averaged down to pixels, so that bar edges fall between pixels as in a photo.
Lengths are in X (the narrow bar's width).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from tests.photos.drawing import reportlab_modules

Gray = NDArray[np.uint8]
Floats = NDArray[np.float64]

_FINE = 8  # samples per module before the picture is averaged down


@dataclass(frozen=True, slots=True, kw_only=True)
class Scene:
    """How one symbol is printed and photographed; the defaults are a fair photo."""

    px_per_x: float = 2.5
    bar_height_x: float = 40.0
    quiet_x: float = 12.0
    print_beyond_quiet: bool = False
    angle_deg: float = 0.0
    tilt_up_to_deg: float = 3.0
    defocus_radius_x: float = 0.25
    motion_x: float = 0.0
    noise: float = 0.01
    contrast: float = 0.75
    jpeg_quality: int = 90
    glare_share: float = 0.0
    shade: float = 1.0
    lost_rows: float = 0.0
    lost_columns_x: float = 0.0
    crumple_x: float = 0.0
    cylinder_deg: float = 0.0


LADDER: dict[str, tuple[Callable[[Scene, float], Scene], tuple[float, ...]]] = {
    "defocus radius, X": (
        lambda s, v: replace(s, defocus_radius_x=v),
        (0.5, 0.7, 0.9, 1.1, 1.25, 1.4),
    ),
    "motion, X": (lambda s, v: replace(s, motion_x=v), (0.5, 1.0, 1.5, 2.0, 2.5, 3.0)),
    "pixels per X": (lambda s, v: replace(s, px_per_x=v), (2.2, 1.8, 1.5, 1.2, 1.0, 0.9)),
    "noise, share of range": (lambda s, v: replace(s, noise=v), (0.02, 0.05, 0.1, 0.2, 0.3, 0.4)),
    "JPEG quality": (lambda s, v: replace(s, jpeg_quality=int(v)), (50, 30, 20, 10, 5, 2)),
    "glare, share washed out": (
        lambda s, v: replace(s, glare_share=v),
        (0.2, 0.4, 0.6, 0.7, 0.8, 0.9),
    ),
    "shade, darkest part": (
        lambda s, v: replace(s, shade=v),
        (0.5, 0.25, 0.12, 0.08, 0.05, 0.03),
    ),
    "streaks across, share lost": (
        lambda s, v: replace(s, lost_rows=v),
        (0.2, 0.5, 0.7, 0.85, 0.92, 0.96),
    ),
    "streaks along, X": (
        lambda s, v: replace(s, lost_columns_x=v),
        (0.2, 0.4, 0.6, 0.8, 1.0, 1.3),
    ),
    "crumple, X": (lambda s, v: replace(s, crumple_x=v), (0.5, 1.0, 1.5, 2.0, 3.0, 4.0)),
    "cylinder, half angle": (
        lambda s, v: replace(s, cylinder_deg=v),
        (30, 45, 60, 70, 76, 80),
    ),
    "rotation, degrees": (
        lambda s, v: replace(s, angle_deg=v, tilt_up_to_deg=0.0),
        (4, 8, 15, 25, 35, 45),
    ),
    "contrast": (lambda s, v: replace(s, contrast=v), (0.4, 0.2, 0.1, 0.06, 0.04, 0.025)),
    "bar height, X": (lambda s, v: replace(s, bar_height_x=v), (16, 8, 4, 3, 2, 1.5)),
    "quiet zone, X": (
        lambda s, v: replace(s, quiet_x=v, print_beyond_quiet=True),
        (8, 5, 3, 2, 1.5, 1),
    ),
}


def random_number(rng: np.random.Generator) -> tuple[str, bool]:
    """A number of 20 or 22 digits whose mod-10 check (weights 3 and 1) holds; GS1 or not."""
    gs1 = bool(rng.integers(2))
    head = str(
        rng.choice(["9400", "9205", "9407", "9589", "9590"] if gs1 else ["70", "71", "7019"])
    )
    length = 22 if gs1 else 20
    body = head + "".join(str(d) for d in rng.integers(0, 10, length - 1 - len(head)))
    total = sum(int(d) * (3 if i % 2 == 0 else 1) for i, d in enumerate(reversed(body)))
    return body + str(-total % 10), gs1


def drawn(
    text: str,
    gs1: bool,
    scene: Scene,
    rng: np.random.Generator,
    modules_of: Callable[..., NDArray[np.bool_]] = reportlab_modules,
) -> Gray:
    """The damaged picture of one symbol whose modules `modules_of(text, gs1=gs1)` gives."""
    tilt = float(rng.uniform(-scene.tilt_up_to_deg, scene.tilt_up_to_deg))
    scene = replace(scene, angle_deg=scene.angle_deg + tilt)
    fine = _printed(modules_of(text, gs1=gs1), scene, rng)
    fine = _bent(fine, scene, rng)
    fine = _blurred(fine, scene, rng)
    light = _photographed(fine, scene, rng)
    light = _lit(light, scene, rng)
    light = light + rng.normal(0, scene.noise, light.shape)
    gray = np.clip(light * 255, 0, 255).astype(np.uint8)
    ok, packed = cv2.imencode(".jpg", gray, [cv2.IMWRITE_JPEG_QUALITY, scene.jpeg_quality])
    assert ok
    return np.asarray(cv2.imdecode(packed, cv2.IMREAD_GRAYSCALE), dtype=np.uint8)


def _printed(modules: NDArray[np.bool_], scene: Scene, rng: np.random.Generator) -> Floats:
    """Reflectance 0..1 at `_FINE` samples a module, with paper all around."""
    row = np.repeat(1.0 - modules.astype(np.float64), _FINE)
    for _ in range(3 * (scene.lost_columns_x > 0)):
        start = rng.integers(0, len(row))
        row[start : start + round(scene.lost_columns_x * _FINE)] = 1.0
    rows = max(1, round(scene.bar_height_x * _FINE))
    block = np.repeat(row[None], rows, axis=0)
    if scene.lost_rows > 0:
        _streak(block, scene.lost_rows, rng)
    quiet = round(scene.quiet_x * _FINE)
    margin = 6 * _FINE
    block = np.pad(block, ((margin, margin), (quiet, quiet)), constant_values=1.0)
    beyond = 14 * _FINE
    wide = np.pad(block, ((0, 0), (beyond, beyond)), constant_values=1.0)
    if scene.print_beyond_quiet:  # letters or a frame, right up to the quiet zone's end
        for side in (slice(beyond - 3 * _FINE, beyond), slice(-beyond, -beyond + 3 * _FINE)):
            wide[:, side] = 0.0
    return wide


def _streak(block: Floats, share: float, rng: np.random.Generator) -> None:
    """Full-width white or black lines until `share` of the rows is lost."""
    lost = np.zeros(len(block), dtype=bool)
    while lost.mean() < share:
        start = int(rng.integers(0, len(block)))
        stop = min(len(block), start + int(rng.integers(_FINE // 2, 3 * _FINE)))
        over = int(lost[start:stop].size - max(0, (share - lost.mean()) * len(block)))
        stop -= max(0, min(over, stop - start - 1))
        block[start:stop] = float(rng.integers(2))
        lost[start:stop] = True


def _bent(fine: Floats, scene: Scene, rng: np.random.Generator) -> Floats:
    """Crumpled (smooth random shifts) and laid round a cylinder whose axis is along the bars."""
    height, width = fine.shape
    ys, xs = np.mgrid[0:height, 0:width].astype(np.float32)
    if scene.crumple_x:
        for grid in (xs, ys):
            coarse = rng.normal(0, 1, (6, 8)).astype(np.float32)
            field = np.asarray(
                cv2.resize(coarse, (width, height), interpolation=cv2.INTER_CUBIC), np.float32
            )
            field *= scene.crumple_x * _FINE / max(float(np.abs(field).max()), 1e-6)
            np.add(grid, field, out=grid)
    if scene.cylinder_deg:
        half = np.deg2rad(scene.cylinder_deg)
        across = (xs - width / 2) / (width / 2)  # -1..1 in the picture
        xs = np.arcsin(np.clip(across * np.sin(half), -1, 1)) / half * (width / 2) + width / 2
        xs = xs.astype(np.float32)
    if not (scene.crumple_x or scene.cylinder_deg):
        return fine
    return cv2.remap(
        fine.astype(np.float32), xs, ys, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE
    ).astype(np.float64)


def _blurred(fine: Floats, scene: Scene, rng: np.random.Generator) -> Floats:
    radius = scene.defocus_radius_x * _FINE
    size = int(np.ceil(radius)) * 2 + 3
    ys, xs = np.mgrid[0:size, 0:size] - size // 2
    disk = np.clip(radius + 0.5 - np.hypot(xs, ys), 0, 1)
    fine = _filtered(fine, disk)
    if scene.motion_x:
        kernel = np.ones((1, max(1, round(scene.motion_x * _FINE))))
        fine = _filtered(fine, kernel)
    return fine


def _filtered(fine: Floats, kernel: Floats) -> Floats:
    weights = kernel / kernel.sum()
    filtered = cv2.filter2D(fine, -1, weights, borderType=cv2.BORDER_REPLICATE)
    return np.asarray(filtered, np.float64)


def _photographed(fine: Floats, scene: Scene, rng: np.random.Generator) -> Floats:
    """Turned, and averaged down to pixels at a random sub-pixel place."""
    height, width = fine.shape
    scale = scene.px_per_x / _FINE
    over = 4  # samples a pixel each way, averaged: a square photosite
    angle = np.deg2rad(scene.angle_deg)
    cos, sin = abs(np.cos(angle)), abs(np.sin(angle))
    out_w = int(np.ceil((width * cos + height * sin) * scale)) + 4
    out_h = int(np.ceil((height * cos + width * sin) * scale)) + 4
    matrix = cv2.getRotationMatrix2D((width / 2, height / 2), -scene.angle_deg, scale * over)
    shift = rng.uniform(0, 1, 2)
    matrix[0, 2] += (out_w / 2 + shift[0]) * over - width / 2
    matrix[1, 2] += (out_h / 2 + shift[1]) * over - height / 2
    big = cv2.warpAffine(
        fine.astype(np.float32),
        matrix,
        (out_w * over, out_h * over),
        flags=cv2.INTER_LINEAR if scale * over >= 0.9 else cv2.INTER_AREA,
        borderMode=cv2.BORDER_CONSTANT,
        borderValue=1.0,
    )
    small = cv2.resize(big, (out_w, out_h), interpolation=cv2.INTER_AREA).astype(np.float64)
    return 0.9 - scene.contrast * (1 - small)


def _lit(light: Floats, scene: Scene, rng: np.random.Generator) -> Floats:
    height, width = light.shape
    ys, xs = np.mgrid[0:height, 0:width]
    if scene.shade < 1:
        direction = rng.uniform(0, 2 * np.pi)
        ramp = np.cos(direction) * xs / width + np.sin(direction) * ys / height
        ramp = (ramp - ramp.min()) / (ramp.max() - ramp.min())
        edge = 1 / (1 + np.exp(-(ramp - 0.5) * 12))  # a shadow's soft border
        light = light * (scene.shade + (1 - scene.shade) * edge)
    if scene.glare_share:
        # A bright spot whose saturated part spans the given share of the symbol's length
        # and of its height; what is left is fainter toward the spot.
        cx, cy = width * rng.uniform(0.3, 0.7), height * rng.uniform(0.1, 0.9)
        dist = np.hypot((xs - cx) / (width * 0.5), (ys - cy) / (height * scene.glare_share * 0.5))
        light = light + 1.2 / (1 + dist**6)
    return light
