"""A photo is told its form: features of all known forms in one index, a homography, its fit.

Features: Lowe 2004 (IJCV 60, "Distinctive Image Features from Scale-Invariant Keypoints");
the homography: MAGSAC++ (Barath et al. 2020, CVPR), as OpenCV has it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.photos.forms.form import PX_PER_MM, Form
from pairing.photos.written.plane import laid_flat, mapped, rectangle

Floats = NDArray[np.float64]

_INDEX_PX_PER_MM = 3.5
"""At this scale features are taken. The detector doubles the picture first."""
_FEATURES, _PHOTO_FEATURES = 450, 900
_PHOTO_PX = 750
"""The photo's longer side at most, px, when features are looked for."""
_RATIO = 0.86
"""Lowe's ratio between the nearest feature of a form and the nearest other of that form."""
_LEAST_INLIERS = 10
_FIRST_TO_SECOND = 1.6
"""So many times as many inliers as the next form whose box would lie elsewhere. Measured on
`tests/benchmarks/designs.py`."""
_OFF_PX = 3.0
_LEAST_FIT = 0.5
"""Measured on `tests/benchmarks/designs.py`."""
_LEAST_REFINED_FIT = 0.7
_FIT_PX_PER_MM = 4.0
_WHOLE_PX_PER_MM, _NEAR_PX_PER_MM = 2.5, 6.0
"""Scales at which the whole card and the box's neighbourhood are aligned."""
_AROUND_MM = 12.0
_MOST_MOVED_MM = 2.0
_SAME_BOX = 0.15
"""Two forms have one box where its corners lie within this share of its length."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Match:
    """The form of a card in a photo. to_photo: (3, 3), from the form's mm to the photo's px.
    inliers: places with features that fit. fit: as of `fit_of`."""

    form: Form
    to_photo: Floats
    inliers: int
    fit: float


@dataclass(frozen=True, slots=True)
class Index:
    """The features of several forms: descriptors (n, 128) float32 of unit length, each one's
    place (n, 2) in mm, and the number of its form."""

    forms: tuple[Form, ...]
    descriptors: NDArray[np.float32]
    places: Floats
    owners: NDArray[np.int64]

    @classmethod
    def of(cls, forms: Sequence[Form]) -> Index:
        """The index of these forms."""
        parts = [_features_of(form) for form in forms]
        counts = [len(places) for places, _ in parts]
        return cls(
            forms=tuple(forms),
            descriptors=np.concatenate(
                [np.zeros((0, 128), np.float32), *(part for _, part in parts)]
            ),
            places=np.concatenate([np.zeros((0, 2)), *(places for places, _ in parts)]),
            owners=np.repeat(np.arange(len(forms)), counts),
        )


def registered(
    photo: NDArray[np.uint8], index: Index, *, mask: NDArray[np.uint8] | None = None
) -> Match | None:
    """The one form that the photo shows; None for none, a tie or a poor fit. mask: 0 where the
    photo shows something else than a card."""
    if not index.forms or min(photo.shape) < 64:
        return None
    found = _candidates(photo, index, mask)
    if not found:
        return None
    first = found[0]
    for other in found[1:]:
        is_near = other.inliers * _FIRST_TO_SECOND > first.inliers
        if is_near and not _has_same_box(first, other):
            return None
    return first


def _refined(photo: NDArray[np.uint8], match: Match) -> Match:
    """The same match, laid better: features tell a card's corners to a millimetre or two, its
    whole print tells its box to a tenth (enhanced correlation: Evangelidis and Psarakis 2008,
    IEEE TPAMI 30)."""
    form, to_photo = match.form, match.to_photo
    whole = _aligned(photo, form, to_photo, rectangle(0.0, 0.0, *form.size_mm), is_whole=True)
    fit = match.fit
    if whole is not None and (better := fit_of(photo, form, whole)) > fit:
        to_photo, fit = whole, better
    box = np.array(form.box)
    (left, top), (right, foot) = box.min(0) - _AROUND_MM, box.max(0) + _AROUND_MM
    place = rectangle(float(left), float(top), float(right - left), float(foot - top))
    near = _aligned(photo, form, to_photo, place, is_whole=False)
    if near is not None:
        moved = np.linalg.norm(mapped(near, box) - mapped(to_photo, box), axis=1).max()
        long = np.linalg.norm(np.subtract(*mapped(to_photo, box[:2])))
        px_per_mm = long / np.linalg.norm(box[1] - box[0])
        if moved < _MOST_MOVED_MM * px_per_mm:
            to_photo = near
    # What is laid well here may lie worse at the card's other end: the fit is the whole card's.
    return replace(match, to_photo=to_photo, fit=fit)


def _aligned(
    photo: NDArray[np.uint8], form: Form, to_photo: Floats, place: Floats, *, is_whole: bool
) -> Floats | None:
    """`to_photo` mended so that the form's ink in `place` (mm) lies on the photo's."""
    motion = cv2.MOTION_HOMOGRAPHY if is_whole else cv2.MOTION_AFFINE
    scale = _WHOLE_PX_PER_MM if is_whole else _NEAR_PX_PER_MM
    left, top = np.maximum(place[0], 0)
    right, foot = np.minimum(place[2], form.size_mm)
    size = (max(8, round((right - left) * scale)), max(8, round((foot - top) * scale)))
    from_px = np.array([[1 / scale, 0, left], [0, 1 / scale, top], [0, 0, 1.0]])
    there = _drop(laid_flat(photo, to_photo @ from_px, size).grey)
    to_picture = np.diag([PX_PER_MM, PX_PER_MM, 1.0]) @ from_px
    here = _drop(laid_flat(form.picture, to_picture, size).grey)
    ink = here > max(8.0, 0.35 * float(np.percentile(here, 98.5)))
    ink &= _plain(form, size, from_px, has_box=motion == cv2.MOTION_AFFINE)
    if ink.sum() < 40 * scale:
        return None
    reach = 2 * round(1.2 * scale) + 1
    mask = cv2.dilate(ink.astype(np.uint8), np.ones((reach, reach), np.uint8))
    most = 2.5 * float(np.percentile(there[mask > 0], 85)) + 4
    template = cv2.GaussianBlur(here.astype(np.float32), (0, 0), 0.25 * scale)
    picture = cv2.GaussianBlur(np.minimum(there, most).astype(np.float32), (0, 0), 0.25 * scale)
    warp = np.eye(3 if motion == cv2.MOTION_HOMOGRAPHY else 2, 3, dtype=np.float32)
    stop = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_COUNT, 25, 1e-4)
    try:
        _, found = cv2.findTransformECC(template, picture, warp, motion, stop, mask, 1)
    except cv2.error:  # it did not come to an end
        return None
    mended = np.eye(3)
    mended[: found.shape[0]] = found
    moved = mapped(mended, rectangle(0.0, 0.0, *map(float, size)))
    if np.linalg.norm(moved - rectangle(0.0, 0.0, *map(float, size)), axis=1).max() > 6 * scale:
        return None
    return np.asarray(to_photo @ from_px @ mended @ np.linalg.inv(from_px), np.float64)


def _candidates(
    photo: NDArray[np.uint8], index: Index, mask: NDArray[np.uint8] | None
) -> list[Match]:
    """Forms that fit, the one with the most inliers first."""
    small = min(1.0, _PHOTO_PX / max(photo.shape))
    picture = cv2.resize(photo, None, fx=small, fy=small, interpolation=cv2.INTER_AREA)
    if mask is not None:
        mask = np.asarray(cv2.resize(mask, picture.shape[::-1]), np.uint8)
    places, descriptors = _features(np.asarray(picture, np.uint8), _PHOTO_FEATURES, mask)
    if len(places) < _LEAST_INLIERS:
        return []
    likeness = descriptors @ index.descriptors.T
    found = []
    for number, form in enumerate(index.forms):
        own = np.flatnonzero(index.owners == number)
        if len(own) < _LEAST_INLIERS:
            continue
        here, there = _pairs(likeness[:, own])
        if len(here) < _LEAST_INLIERS:
            continue
        fitted = _fitted(index.places[own][there], places[here])
        if fitted is None or fitted[1] < _LEAST_INLIERS:
            continue
        to_photo = np.diag([1 / small, 1 / small, 1.0]) @ fitted[0]
        found.append((fitted[1], form, to_photo))
    found.sort(key=lambda one: -one[0])
    matches = []
    for inliers, form, to_photo in found[:4]:
        fit = fit_of(photo, form, to_photo)
        if fit < _LEAST_FIT:
            continue
        match = Match(form=form, to_photo=to_photo, inliers=inliers, fit=fit)
        if (match := _refined(photo, match)).fit >= _LEAST_REFINED_FIT:
            matches.append(match)
    return matches


def _pairs(likeness: NDArray[np.float32]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Which feature of the photo is which of the form: the nearest, by Lowe's ratio."""
    two = np.argpartition(-likeness, 1, axis=1)[:, :2]
    rows = np.arange(len(likeness))
    values = likeness[rows[:, None], two]
    order = np.argsort(-values, axis=1)
    best, second = values[rows, order[:, 0]], values[rows, order[:, 1]]
    # Of unit vectors the squared distance is 2 - 2 cos.
    near, far = np.sqrt(np.maximum(0, 2 - 2 * best)), np.sqrt(np.maximum(1e-9, 2 - 2 * second))
    here = np.flatnonzero((near < _RATIO * far) & (near < 0.75))
    return here, two[here, order[here, 0]]


def _fitted(mm: Floats, px: Floats) -> tuple[Floats, int] | None:
    cv2.setRNGSeed(1)
    found, inliers = cv2.findHomography(
        mm.astype(np.float32), px.astype(np.float32), cv2.USAC_MAGSAC, _OFF_PX,
        maxIters=2000, confidence=0.999,
    )  # fmt: skip
    if found is None or inliers is None:
        return None
    kept = inliers.ravel() > 0
    # Each place counts once: many features of one caption say little.
    cells = {(int(x // 4), int(y // 4)) for x, y in mm[kept]}
    return (np.asarray(found, np.float64), len(cells)) if _is_sane(found, mm[kept]) else None


def _is_sane(to_photo: Floats, mm: Floats) -> bool:
    """Whether the homography keeps the card a card: no mirror, no great slant."""
    if len(mm) < _LEAST_INLIERS:
        return False
    (left, top), (right, foot) = mm.min(0), mm.max(0)
    corners = mapped(to_photo, rectangle(left, top, right - left, foot - top))
    sides = np.roll(corners, -1, axis=0) - corners
    after = np.roll(sides, -1, axis=0)
    turns = sides[:, 0] * after[:, 1] - sides[:, 1] * after[:, 0]
    lengths = np.linalg.norm(sides, axis=1)
    ratio_x, ratio_y = lengths[0] / lengths[2], lengths[1] / lengths[3]
    spread = (lengths[0] + lengths[2]) / (lengths[1] + lengths[3])
    spread /= (right - left) / max(foot - top, 1e-6)
    return bool(
        turns.min() > 0
        and 0.5 < ratio_x < 2.0
        and 0.5 < ratio_y < 2.0
        and 0.6 < spread < 1.67
        and right - left > 25.0
        and foot - top > 15.0
    )


def fit_of(photo: NDArray[np.uint8], form: Form, to_photo: Floats) -> float:
    """How well the form's own ink, its box and bars left out, lies on the photo's: the
    correlation of the two beside that ink, -1 to 1; 0 where most of it is not in the photo."""
    scale = _FIT_PX_PER_MM
    size = (round(form.size_mm[0] * scale), round(form.size_mm[1] * scale))
    warp = to_photo @ np.diag([1 / scale, 1 / scale, 1.0])
    there = laid_flat(photo, warp, size).grey
    expected = _drop(np.asarray(cv2.resize(form.picture, size, interpolation=cv2.INTER_AREA)))
    ink = expected > max(8.0, 0.35 * float(np.percentile(expected, 98.5)))
    ink &= _plain(form, size)
    inside = mapped(warp, np.argwhere(ink)[:, ::-1].astype(np.float64))
    is_in = (inside > 1).all(1) & (inside < np.array(photo.shape[::-1]) - 2).all(1)
    if is_in.sum() < max(100.0, 0.4 * len(inside)):
        return 0.0
    beside = _near(ink) & _plain(form, size)
    one, other = (
        np.asarray(cv2.GaussianBlur(part, (0, 0), 1.0), np.float64)[beside]
        for part in (expected, _drop(there))
    )
    # A postmark or a strip may be far darker than the form's print.
    other = np.minimum(other, 2.5 * float(np.percentile(other, 80)) + 4)
    return float(np.corrcoef(one, other)[0, 1]) if one.std() and other.std() else 0.0


def _near(mask: NDArray[np.bool_]) -> NDArray[np.bool_]:
    return np.asarray(cv2.dilate(mask.astype(np.uint8), np.ones((9, 9), np.uint8))) > 0


def _drop(grey: NDArray[np.uint8]) -> NDArray[np.uint8]:
    paper = cv2.morphologyEx(grey, cv2.MORPH_CLOSE, np.ones((15, 15), np.uint8))
    return np.asarray(cv2.subtract(paper, grey), np.uint8)


def _plain(
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
    to_px = np.linalg.inv(from_px)
    for place in (*([] if has_box else [form.box]), *([form.bars] if form.bars else [])):
        cv2.fillPoly(mask, [np.round(mapped(to_px, np.array(place))).astype(np.int32)], (0,))
    return mask > 0


def _features_of(form: Form) -> tuple[Floats, NDArray[np.float32]]:
    scale = _INDEX_PX_PER_MM / PX_PER_MM
    picture = cv2.resize(form.picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    mask = np.full(picture.shape, 255, np.uint8)
    for place in [form.bars] if form.bars else []:
        corners = np.round(np.array(place) * _INDEX_PX_PER_MM).astype(np.int32)
        cv2.fillPoly(mask, [corners], (0,))
    places, descriptors = _features(np.asarray(picture, np.uint8), _FEATURES, mask)
    return places / _INDEX_PX_PER_MM, descriptors


def _features(
    grey: NDArray[np.uint8], many: int, mask: NDArray[np.uint8] | None
) -> tuple[Floats, NDArray[np.float32]]:
    """Places (n, 2), px, and descriptors (n, 128) of unit length (RootSIFT: Arandjelovic and
    Zisserman 2012, CVPR)."""
    detector = cv2.SIFT_create(nfeatures=many, contrastThreshold=0.02, edgeThreshold=14)
    points, descriptors = detector.detectAndCompute(grey, mask)
    if not points:
        return np.zeros((0, 2)), np.zeros((0, 128), np.float32)
    descriptors = np.sqrt(descriptors / np.maximum(descriptors.sum(1, keepdims=True), 1e-9))
    places = np.array([point.pt for point in points], np.float64)
    return places, np.asarray(descriptors, np.float32)


def _has_same_box(one: Match, other: Match) -> bool:
    here = mapped(one.to_photo, np.array(one.form.box))
    there = mapped(other.to_photo, np.array(other.form.box))
    long = float(np.linalg.norm(here[1] - here[0]))
    return float(np.linalg.norm(here - there, axis=1).max()) < _SAME_BOX * long
