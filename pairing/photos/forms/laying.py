"""How well a form lies on a photo, and how it is laid better.

Enhanced correlation: Evangelidis and Psarakis 2008, IEEE TPAMI 30.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.photos.forms.definition import PX_PER_MM, Form
from pairing.photos.written.plane import inverse, laid_flat, mapped, rectangle

Floats = NDArray[np.float64]

_FIT_PX_PER_MM = 4.0
_WHOLE_PX_PER_MM, _NEAR_PX_PER_MM = 2.5, 6.0
"""Scales at which the whole card and the box's neighborhood are aligned."""
_AROUND_MM = 12.0
_MOST_MOVED_MM = 2.0
_DARKER = 2.0
"""In the usual darkness of the form's ink as it is seen: what is darker is a pen's."""
_LEAST_NEAR_FIT = 0.4
"""What is laid at the box fits the whole card so well at least. Measured on the designs of
`tests/benchmarks/drawn_designs.py`: 0.53 and more where it lies rightly, 0.13 and less where it
went astray, which it does where little print is near the box."""


def fit_of(photo: NDArray[np.uint8], form: Form, to_photo: Floats) -> float:
    """How well the form's own ink, its box and bars left out, lies on the photo's: the
    correlation of the two beside that ink, -1 to 1; 0 where most of it is not in the photo."""
    scale = _FIT_PX_PER_MM
    size = (round(form.size_mm[0] * scale), round(form.size_mm[1] * scale))
    warp = to_photo @ np.diag([1 / scale, 1 / scale, 1.0])
    there = laid_flat(photo, warp, size).gray
    expected = drop_of(np.asarray(cv2.resize(form.picture, size, interpolation=cv2.INTER_AREA)))
    ink = expected > max(8.0, 0.35 * float(np.percentile(expected, 98.5)))
    ink &= plain_places(form, size)
    inside = mapped(warp, np.argwhere(ink)[:, ::-1].astype(np.float64))
    is_in = (inside > 1).all(1) & (inside < np.array(photo.shape[::-1]) - 2).all(1)
    if is_in.sum() < max(100.0, 0.4 * len(inside)):
        return 0.0
    beside = _near(ink) & plain_places(form, size)
    one, other = (
        np.asarray(cv2.GaussianBlur(part, (0, 0), 1.0), np.float64)[beside]
        for part in (expected, drop_of(there))
    )
    # A postmark or a strip may be far darker than the form's print.
    other = np.minimum(other, 2.5 * float(np.percentile(other, 80)) + 4)
    return float(np.corrcoef(one, other)[0, 1]) if one.std() and other.std() else 0.0


def refined(
    photo: NDArray[np.uint8], form: Form, to_photo: Floats, fit: float
) -> tuple[Floats, Floats, float]:
    """`to_photo`, laid better at the box and over the whole card, and the latter's fit: features
    tell a card's corners to a millimeter or two, its whole print tells its box to a tenth."""
    whole = _aligned(photo, form, to_photo, rectangle(0.0, 0.0, *form.size_mm), is_whole=True)
    if whole is not None and (better := fit_of(photo, form, whole)) > fit:
        to_photo, fit = whole, better
    box = np.array(form.box)
    (left, top), (right, foot) = box.min(0) - _AROUND_MM, box.max(0) + _AROUND_MM
    place = rectangle(float(left), float(top), float(right - left), float(foot - top))
    near = _aligned(photo, form, to_photo, place, is_whole=False)
    if near is None or _moved_mm(near, to_photo, box) >= _MOST_MOVED_MM:
        return to_photo, to_photo, fit
    near_fit = fit_of(photo, form, near)
    if near_fit < _LEAST_NEAR_FIT:
        return to_photo, to_photo, fit
    # What is laid well at the box may lie worse at the card's other end.
    return near, near if near_fit > fit else to_photo, max(fit, near_fit)


def _moved_mm(moved: Floats, to_photo: Floats, box: Floats) -> float:
    """By how much the box's corner that moved farthest did."""
    far = np.linalg.norm(mapped(moved, box) - mapped(to_photo, box), axis=1).max()
    long = np.linalg.norm(np.subtract(*mapped(to_photo, box[:2])))
    return float(far * np.linalg.norm(box[1] - box[0]) / long)


def _aligned(
    photo: NDArray[np.uint8], form: Form, to_photo: Floats, place: Floats, *, is_whole: bool
) -> Floats | None:
    """`to_photo` corrected so that the form's ink in `place` (mm) lies on the photo's."""
    motion = cv2.MOTION_HOMOGRAPHY if is_whole else cv2.MOTION_AFFINE
    scale = _WHOLE_PX_PER_MM if is_whole else _NEAR_PX_PER_MM
    left, top = np.maximum(place[0], 0)
    right, foot = np.minimum(place[2], form.size_mm)
    size = (max(8, round((right - left) * scale)), max(8, round((foot - top) * scale)))
    from_px = np.array([[1 / scale, 0, left], [0, 1 / scale, top], [0, 0, 1.0]])
    there = drop_of(laid_flat(photo, to_photo @ from_px, size).gray)
    to_picture = np.diag([PX_PER_MM, PX_PER_MM, 1.0]) @ from_px
    here = drop_of(laid_flat(form.picture, to_picture, size).gray)
    ink = here > max(8.0, 0.35 * float(np.percentile(here, 98.5)))
    ink &= plain_places(form, size, from_px, has_box=motion == cv2.MOTION_AFFINE)
    if ink.sum() < 40 * scale:
        return None
    reach = 2 * round(1.2 * scale) + 1
    mask = cv2.dilate(ink.astype(np.uint8), np.ones((reach, reach), np.uint8))
    most = 2.5 * float(np.percentile(there[mask > 0], 85)) + 4
    if not is_whole:
        # What a pen wrote beside the form's ink is as dark all along it, or darker: no say.
        usual = float(np.median(there[ink]))
        written = cv2.dilate((there > _DARKER * usual + 4).astype(np.uint8), np.ones((3, 3)))
        mask[written > 0] = 0
    template = cv2.GaussianBlur(here.astype(np.float32), (0, 0), 0.25 * scale)
    picture = cv2.GaussianBlur(np.minimum(there, most).astype(np.float32), (0, 0), 0.25 * scale)
    warp = np.eye(3 if motion == cv2.MOTION_HOMOGRAPHY else 2, 3, dtype=np.float32)
    stop = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 15, 1e-3)
    try:
        _, found = cv2.findTransformECC(template, picture, warp, motion, stop, mask, 1)
    except cv2.error:  # it did not come to an end
        return None
    corrected = np.eye(3)
    corrected[: found.shape[0]] = found
    moved = mapped(corrected, rectangle(0.0, 0.0, *map(float, size)))
    if np.linalg.norm(moved - rectangle(0.0, 0.0, *map(float, size)), axis=1).max() > 6 * scale:
        return None
    return np.asarray(to_photo @ from_px @ corrected @ np.linalg.inv(from_px), np.float64)


def plain_places(
    form: Form,
    size: tuple[int, int],
    from_px: Floats | None = None,
    *,
    has_box: bool = False,
) -> NDArray[np.bool_]:
    """Where the form's own print can be expected: not in its bars, and unless `has_box` not in
    its box. from_px: to mm; the whole card without it."""
    if from_px is None:
        from_px = np.diag([form.size_mm[0] / size[0], form.size_mm[1] / size[1], 1.0])
    mask = np.ones(size[::-1], np.uint8)
    to_px = inverse(from_px)
    for place in (*([] if has_box else [form.box]), *([form.bars] if form.bars else [])):
        cv2.fillPoly(mask, [np.round(mapped(to_px, np.array(place))).astype(np.int32)], (0,))
    return mask > 0


def _near(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    return np.asarray(cv2.dilate(mask.astype(np.uint8), np.ones((9, 9), np.uint8))) > 0


def drop_of(gray: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """How much darker than the paper around it each place of a gray picture (h, w) uint8 is."""
    paper = cv2.morphologyEx(gray, cv2.MORPH_CLOSE, np.ones((15, 15), np.uint8))
    return np.asarray(cv2.subtract(paper, gray), np.uint8)
