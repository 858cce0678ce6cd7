"""The other fields of a card whose form is known: which are filled, by the ink that is left once
the form's own print is taken off.

The photo's field and the empty card's are laid side by side, moved onto each other once more (a
form is laid best at the number's box), and what is dark in the photo where the empty card is not
is people's ink. A field that is not whole in the photo, or that a reflection covers, or whose own
print is not to be seen, cannot be told. Limits were set on the tuned designs of
`tests/benchmarks/fields.py`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.judge.fields import SERVICE, SIGNATURE, FieldSeen, Mark, State
from pairing.model import Quad
from pairing.photos.forms.definition import PX_PER_MM as PICTURE_PX_PER_MM
from pairing.photos.forms.definition import Field
from pairing.photos.forms.registration import Match
from pairing.photos.written.plane import inverse, laid_flat, mapped, quad_of, rectangle

_PX_PER_MM, _BOX_PX_PER_MM = 6.0, 10.0
"""Scales at which fields, and the small boxes of services, are looked at."""
_AROUND_MM = 4.0
"""Around a field, for its own light and for moving the form."""
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
_JOINED_MM = 1.8
"""What lies on both sides of one of the form's rules is one mark."""
_EMPTY_MM2, _FILLED_MM2 = 0.5, 1.6
"""Less ink than the first is none, more than the second is some."""
_MARK_MM2 = 0.35
"""The least mark in a service box, about one stroke of 1 mm."""
_LEAST_WRITING_MM = 3.0
_SMALL_MM = 6.0
"""A field no larger is a box for a mark. Common practice, no source."""
_GLARE, _PAPER_BELOW, _MOST_GLARE = 252, 246, 0.12
_LEAST_SEEN = 0.3
"""Of the contrast that the form's own print has on the empty card, so much must be seen."""
_OUTSIDE_MM2, _OUTSIDE_MM = 4.0, 12.0
"""A signature beside its field has so much ink, and is so long."""
_BETWEEN_MM2 = 12.0
"""Ink that joins two boxes and is more than this is no mark: a postmark, a line of writing."""

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Patch:
    """A part of the card laid flat. ink: people's. open: where the form's own print does not
    hide ink. glare: as light as a photo can be. whole: which of it is in the photo. is_clear:
    whether the form's own print is to be seen. from_mm: from the form's mm to its px."""

    ink: Mask
    open: Mask
    glare: Mask
    whole: Mask
    is_clear: bool
    from_mm: Floats
    px_per_mm: float

    def mm2(self, ink: Mask) -> float:
        """How much that is."""
        return float(ink.sum()) / self.px_per_mm**2


def seen_fields(photo: NDArray[np.uint8], match: Match) -> tuple[FieldSeen, ...]:
    """What of each field of the form is seen. photo: gray (h, w) uint8."""
    form = match.form
    boxes = [one for one in form.fields if one.name.startswith(SERVICE)]
    marks = [one for one in form.fields if one not in boxes and _is_small(one)]
    found = [_field(photo, match, one) for one in form.fields if one not in (*boxes, *marks)]
    for group in (boxes, *([one] for one in marks)):
        found += _services(photo, match, group) if group else []
    return tuple(replace(one, only_notes=form.only_notes) for one in found)


def _is_small(field: Field) -> bool:
    """Whether a field is a box to be marked and not written in."""
    corners = np.array(field.place)
    return bool((corners.max(0) - corners.min(0)).max() < _SMALL_MM)


def _field(photo: NDArray[np.uint8], match: Match, field: Field) -> FieldSeen:
    around = 10.0 if field.name == SIGNATURE else _AROUND_MM
    patch = _patch(photo, match, np.array(field.place), around)
    inside = _inside(patch, field, inset_mm=0.4)
    ink = _without_specks(patch, patch.ink & inside)
    area = patch.mm2(ink)
    share = float(ink.sum() / max(1, (inside & patch.open).sum()))
    is_long = _long_mm(patch, ink) >= _LEAST_WRITING_MM
    mark = Mark.NONE
    if area >= _FILLED_MM2 and is_long:
        state = State.FILLED
    elif not _can_be_told(patch, inside) or area > _EMPTY_MM2:
        state = State.UNTOLD
    else:
        state = State.EMPTY
        if field.name == SIGNATURE and _is_beside(patch, match, field):
            mark = Mark.OUTSIDE
    return FieldSeen(
        name=field.name, state=state, share=round(share, 4), place=_place(match, field), mark=mark
    )


def _is_beside(patch: _Patch, match: Match, field: Field) -> bool:
    """Whether there is long writing beside the signature's field and in no other place of the
    form."""
    beside = ~_inside(patch, field, inset_mm=-0.3)
    others = [one.place for one in match.form.fields if one is not field]
    others += [match.form.box, *([match.form.bars] if match.form.bars else [])]
    for place in others:
        beside &= ~_filled(patch.ink.shape, mapped(patch.from_mm, np.array(place)))
    ink = _without_specks(patch, patch.ink & beside & patch.whole)
    return patch.mm2(ink) >= _OUTSIDE_MM2 and _long_mm(patch, ink) >= _OUTSIDE_MM


def _services(photo: NDArray[np.uint8], match: Match, boxes: Sequence[Field]) -> list[FieldSeen]:
    """The service boxes together: a mark may lie in two of them."""
    corners = np.concatenate([np.array(one.place) for one in boxes])
    patch = _patch(photo, match, corners, 3.0, px_per_mm=_BOX_PX_PER_MM)
    places = [_inside(patch, one, inset_mm=-0.15) for one in boxes]
    inner = [_inside(patch, one, inset_mm=0.1) for one in boxes]
    ink = _without_specks(patch, patch.ink)
    # The form's own rules were taken out of marks that cross them.
    _, labels = cv2.connectedComponents(_grown(ink, _JOINED_MM / 2 * patch.px_per_mm))
    labels = np.where(ink, labels, 0)
    is_between = [False] * len(boxes)
    for number in range(1, int(labels.max()) + 1):
        mark = labels == number
        touched = [at for at, one in enumerate(places) if patch.mm2(mark & one) >= _MARK_MM2]
        if len(touched) > 1 and patch.mm2(mark) < _BETWEEN_MM2:
            for at in touched:
                is_between[at] = True
    found = []
    for at, field in enumerate(boxes):
        area = patch.mm2(ink & places[at])
        share = float((ink & inner[at]).sum() / max(1, (inner[at] & patch.open).sum()))
        if area >= _MARK_MM2:
            state = State.FILLED
        elif not _can_be_told(patch, places[at]) or area > 0.5 * _MARK_MM2:
            state = State.UNTOLD
        else:
            state = State.EMPTY
        found.append(
            FieldSeen(
                name=field.name,
                state=state,
                share=round(share, 4),
                place=_place(match, field),
                mark=Mark.BETWEEN if is_between[at] else Mark.NONE,
            )
        )
    return found


def _patch(
    photo: NDArray[np.uint8],
    match: Match,
    corners: Floats,
    around_mm: float,
    *,
    px_per_mm: float = _PX_PER_MM,
) -> _Patch:
    wide, high = match.form.size_mm
    (left, top), (right, foot) = corners.min(0) - around_mm, corners.max(0) + around_mm
    left, top, right, foot = max(left, 0.0), max(top, 0.0), min(right, wide), min(foot, high)
    size = (round((right - left) * px_per_mm), round((foot - top) * px_per_mm))
    to_mm = np.array([[1 / px_per_mm, 0, left], [0, 1 / px_per_mm, top], [0, 0, 1.0]])
    to_photo = match.to_photo @ to_mm
    gray = laid_flat(photo, to_photo, size).gray
    to_picture = np.diag([PICTURE_PX_PER_MM, PICTURE_PX_PER_MM, 1.0]) @ to_mm
    printed = _missing(laid_flat(match.form.picture, to_picture, size).gray, px_per_mm)
    dark = _missing(gray, px_per_mm)
    x, y = _shift(printed, dark, round(_MOVED_MM * px_per_mm))
    printed = np.roll(printed, (y, x), (0, 1))
    form_ink = printed > _FORM_INK
    if match.form.bars is not None:
        form_ink |= _filled(form_ink.shape, mapped(inverse(to_mm), np.array(match.form.bars)))
    near = _grown(form_ink, _BESIDE_MM * px_per_mm) > 0
    from_mm = np.array([[1, 0, x], [0, 1, y], [0, 0, 1.0]]) @ inverse(to_mm)
    whole = _filled(form_ink.shape, mapped(inverse(to_photo), _frame_of(photo)))
    # Paper that is overexposed all over is no reflection.
    is_dull = not whole.any() or float(np.median(gray[whole])) < _PAPER_BELOW
    glare = (gray >= _GLARE) & is_dull
    beside = _grown(~whole, 0.5 * px_per_mm) | _grown(glare & _is_wide(glare), 3.0 * px_per_mm)
    return _Patch(
        ink=(dark > _INK) & ~near & (beside == 0),
        open=~near,
        glare=glare,
        whole=whole,
        is_clear=_is_clear(printed, dark),
        from_mm=from_mm,
        px_per_mm=px_per_mm,
    )


def _is_wide(mask: Mask) -> Mask:
    """Without what is narrower than 9 px: single light pixels are noise."""
    kernel = np.ones((9, 9), np.uint8)
    return np.asarray(cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_OPEN, kernel) > 0)


def _frame_of(photo: NDArray[np.uint8]) -> Floats:
    return rectangle(1.0, 1.0, photo.shape[1] - 3.0, photo.shape[0] - 3.0)


def _grown(mask: Mask, by_px: float) -> NDArray[np.uint8]:
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


def _can_be_told(patch: _Patch, inside: Mask) -> bool:
    many = max(1, int(inside.sum()))
    is_whole = (patch.whole & inside).sum() >= 0.97 * many
    is_dull = (patch.glare & inside).sum() <= _MOST_GLARE * many
    return bool(is_whole and is_dull and patch.is_clear)


def _inside(patch: _Patch, field: Field, *, inset_mm: float) -> Mask:
    corners = np.array(field.place)
    middle = corners.mean(0)
    away = corners - middle
    moved = corners - np.sign(away) * inset_mm
    return _filled(patch.ink.shape, mapped(patch.from_mm, moved))


def _filled(shape: tuple[int, ...], corners: Floats) -> Mask:
    mask = np.zeros(shape, np.uint8)
    cv2.fillPoly(mask, [np.round(corners).astype(np.int32)], (1,))
    return mask > 0


def _without_specks(patch: _Patch, ink: Mask) -> Mask:
    count, labels, stats, _ = cv2.connectedComponentsWithStats(ink.astype(np.uint8))
    kept = np.zeros(count, bool)
    kept[1:] = stats[1:, cv2.CC_STAT_AREA] >= _SPECK_MM2 * patch.px_per_mm**2
    return np.asarray(kept[labels])


def _long_mm(patch: _Patch, ink: Mask) -> float:
    ys, xs = np.nonzero(ink)
    if not len(xs):
        return 0.0
    return float(max(np.ptp(xs), np.ptp(ys))) / patch.px_per_mm


def _place(match: Match, field: Field) -> Quad:
    return quad_of(mapped(match.to_photo, np.array(field.place)))
