"""A part of a photographed card laid flat beside the empty card: people's ink in it."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.photos.forms.definition import PX_PER_MM as PICTURE_PX_PER_MM
from pairing.photos.forms.definition import Field
from pairing.photos.forms.registration import Match
from pairing.photos.written.plane import inverse, laid_flat, mapped, rectangle

_PX_PER_MM = 6.0
"""The scale at which fields are looked at."""
_MOVED_MM = 1.2
"""The form is moved by this much at most."""
_PAPER_MM = 6.0
"""Ink narrower than this is darker than the paper around it."""
_INK, _FORM_INK = 0.14, 0.055
"""Of the paper's light so much is missing where there is ink; on the empty card, so little may
be form print."""
_BESIDE_MM = 0.3
"""So near the form's own print ink is not told from it."""
_SPECK_MM2 = 0.12
_GLARE, _PAPER_BELOW, _MOST_GLARE = 252, 246, 0.12
_LEAST_SEEN = 0.3
"""Of the contrast that the form's own print has on the empty card, so much must be seen."""
_RULE_SHARE, _RULE_OFF_MM = 0.5, 4.0
"""A straight line along an edge of a field, as long as this share of it and no farther from it, is
the form's own rule, which lies elsewhere where the card is laid a little wrongly."""

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class Patch:
    """A part of the card laid flat. ink: people's. open: where the form's own print does not
    hide ink. glare: as light as a photo can be. whole: which of it is in the photo. is_clear:
    whether the form's own print is to be seen. dark: the share of the paper's light that is
    missing, 0 to 1, the form's print too. from_mm: from the form's mm to its px."""

    ink: Mask
    open: Mask
    glare: Mask
    whole: Mask
    is_clear: bool
    dark: NDArray[np.float32]
    from_mm: Floats
    px_per_mm: float

    def mm2(self, ink: Mask) -> float:
        """How much that is."""
        return float(ink.sum()) / self.px_per_mm**2


def patch_at(
    photo: NDArray[np.uint8],
    match: Match,
    corners: Floats,
    around_mm: float,
    *,
    px_per_mm: float = _PX_PER_MM,
) -> Patch:
    """What is around these corners (mm), and people's ink in it."""
    wide, high = match.form.size_mm
    (left, top), (right, foot) = corners.min(0) - around_mm, corners.max(0) + around_mm
    left, top, right, foot = max(left, 0.0), max(top, 0.0), min(right, wide), min(foot, high)
    size = (round((right - left) * px_per_mm), round((foot - top) * px_per_mm))
    to_mm = np.array([[1 / px_per_mm, 0, left], [0, 1 / px_per_mm, top], [0, 0, 1.0]])
    to_photo = match.whole_to_photo @ to_mm
    gray = laid_flat(photo, to_photo, size).gray
    to_picture = np.diag([PICTURE_PX_PER_MM, PICTURE_PX_PER_MM, 1.0]) @ to_mm
    printed = _missing(laid_flat(match.form.picture, to_picture, size).gray, px_per_mm)
    dark = _missing(gray, px_per_mm)
    x, y = _shift(printed, dark, round(_MOVED_MM * px_per_mm))
    printed = np.roll(printed, (y, x), (0, 1))
    form_ink = printed > _FORM_INK
    if match.form.bars is not None:
        form_ink |= filled_in(form_ink.shape, mapped(inverse(to_mm), np.array(match.form.bars)))
    near = grown(form_ink, _BESIDE_MM * px_per_mm) > 0
    from_mm = np.array([[1, 0, x], [0, 1, y], [0, 0, 1.0]]) @ inverse(to_mm)
    whole = filled_in(form_ink.shape, mapped(inverse(to_photo), _frame_of(photo)))
    glare = _glare(gray, whole)
    beside = grown(~whole, 0.5 * px_per_mm) | grown(glare & _is_wide(glare), 3.0 * px_per_mm)
    return Patch(
        ink=(dark > _INK) & ~near & (beside == 0),
        open=~near,
        glare=glare,
        whole=whole,
        is_clear=_is_clear(printed, dark),
        dark=dark,
        from_mm=from_mm,
        px_per_mm=px_per_mm,
    )


def _glare(gray: NDArray[np.uint8], whole: Mask) -> Mask:
    """Reflections. Paper that is overexposed all over is none."""
    is_dull = not whole.any() or float(np.median(gray[whole])) < _PAPER_BELOW
    return (gray >= _GLARE) & is_dull


def _is_wide(mask: Mask) -> Mask:
    """Without what is narrower than 9 px: single light pixels are noise."""
    kernel = np.ones((9, 9), np.uint8)
    return np.asarray(cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_OPEN, kernel) > 0)


def _frame_of(photo: NDArray[np.uint8]) -> Floats:
    return rectangle(1.0, 1.0, photo.shape[1] - 3.0, photo.shape[0] - 3.0)


def grown(mask: Mask, by_px: float) -> NDArray[np.uint8]:
    """The mask with what is so near, 0 or 1."""
    reach = 2 * round(by_px) + 1
    grown = cv2.dilate(mask.astype(np.uint8), np.ones((reach, reach), np.uint8))
    return np.asarray(grown, np.uint8)


def _missing(gray: NDArray[np.uint8], px_per_mm: float) -> NDArray[np.float32]:
    """The share of the paper's light that is missing, 0 to 1."""
    smooth = cv2.GaussianBlur(gray, (0, 0), 0.13 * px_per_mm)
    reach = 2 * round(_PAPER_MM * px_per_mm / 2) + 1
    paper = cv2.morphologyEx(smooth, cv2.MORPH_CLOSE, np.ones((reach, reach), np.uint8))
    drop = cv2.subtract(paper, smooth).astype(np.float32)
    return np.asarray(drop / np.maximum(paper, 40), np.float32)


def _shift(
    printed: NDArray[np.float32], dark: NDArray[np.float32], most_px: int
) -> tuple[int, int]:
    """By how many px the form's print is to be moved so that it lies on the photo's."""
    m = most_px
    if min(printed.shape) <= 4 * m or (printed > _FORM_INK).sum() < 60:
        return 0, 0
    template = printed[m:-m, m:-m]
    if not (template > _FORM_INK).any():
        return 0, 0
    # Pen ink is darker than most print: it must not draw the form to it.
    most = float(np.percentile(template[template > _FORM_INK], 90))
    likeness = cv2.matchTemplate(np.minimum(dark, most), template, cv2.TM_CCORR_NORMED)
    y, x = np.unravel_index(int(likeness.argmax()), likeness.shape)
    if likeness[y, x] < likeness[m, m] + 0.01:
        return 0, 0
    return int(x) - m, int(y) - m


def _is_clear(printed: NDArray[np.float32], dark: NDArray[np.float32]) -> bool:
    """Whether the form's own print is to be seen about there; where there is none, yes."""
    ink = printed > 0.15
    if ink.sum() < 40:
        return True
    return bool(np.median(dark[ink]) >= _LEAST_SEEN * np.median(printed[ink]))


def can_be_told(patch: Patch, inside: Mask) -> bool:
    """Whether a place without ink is empty: whole, not under a reflection, its print seen."""
    many = max(1, int(inside.sum()))
    is_whole = (patch.whole & inside).sum() >= 0.97 * many
    is_dull = (patch.glare & inside).sum() <= _MOST_GLARE * many
    return bool(is_whole and is_dull and patch.is_clear)


def area_of(patch: Patch, field: Field, *, inset_mm: float) -> Mask:
    """Where a field is, without so much along its edges."""
    corners = np.array(field.place)
    middle = corners.mean(0)
    away = corners - middle
    moved = corners - np.sign(away) * inset_mm
    return filled_in(patch.ink.shape, mapped(patch.from_mm, moved))


def filled_in(shape: tuple[int, ...], corners: Floats) -> Mask:
    """What the corners (px) enclose."""
    mask = np.zeros(shape, np.uint8)
    cv2.fillPoly(mask, [np.round(corners).astype(np.int32)], (1,))
    return mask > 0


def without_specks(patch: Patch, ink: Mask) -> Mask:
    """Ink without what is too small to be a stroke."""
    count, labels, stats, _ = cv2.connectedComponentsWithStats(ink.astype(np.uint8))
    kept = np.zeros(count, bool)
    kept[1:] = stats[1:, cv2.CC_STAT_AREA] >= _SPECK_MM2 * patch.px_per_mm**2
    return np.asarray(kept[labels])


def long_mm(patch: Patch, ink: Mask) -> float:
    """How wide or high ink is, mm."""
    ys, xs = np.nonzero(ink)
    if not len(xs):
        return 0.0
    return float(max(np.ptp(xs), np.ptp(ys))) / patch.px_per_mm


def own_rules(patch: Patch, field: Field) -> Mask:
    """Ink along the field's edges that is the form's own rule."""
    corners = mapped(patch.from_mm, np.array(field.place))
    wide, high = np.ptp(corners, axis=0)
    band = area_of(patch, field, inset_mm=0.0) & ~area_of(patch, field, inset_mm=_RULE_OFF_MM)
    found = np.zeros(patch.ink.shape, bool)
    for shape in ((1, round(_RULE_SHARE * wide)), (round(_RULE_SHARE * high), 1)):
        kernel = np.ones((max(1, shape[0]), max(1, shape[1])), np.uint8)
        lines = cv2.morphologyEx((patch.ink & band).astype(np.uint8), cv2.MORPH_OPEN, kernel)
        found |= grown(lines > 0, 0.25 * patch.px_per_mm) > 0
    return found & band
