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
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.judge.fields import SERVICE, SIGNATURE, FieldSeen, Mark, State
from pairing.model import Quad
from pairing.photos.forms.definition import Field
from pairing.photos.forms.field_patch import (
    Mask,
    Patch,
    area_of,
    can_be_told,
    filled_in,
    grown,
    long_mm,
    own_rules,
    patch_at,
    without_specks,
)
from pairing.photos.forms.registration import Match
from pairing.photos.written.plane import mapped, quad_of

_BOX_PX_PER_MM = 10.0
"""The small boxes of services are looked at at this scale."""
_AROUND_MM = 4.0
"""Around a field, for its own light and for moving the form."""
_JOINED_MM = 1.8
"""What lies on both sides of one of the form's rules is one mark."""
_EMPTY_MM2, _FILLED_MM2 = 0.5, 1.6
"""Less ink than the first is none, more than the second is some."""
_MARK_MM2 = 0.35
"""The least mark in a service box, about one stroke of 1 mm."""
_NEARLY_AS_DARK = 0.65
"""Light between a pen's strokes is lighter than that, even out of focus. Measured as
`judge.fields.SOLID`."""
_PART_OF_MARK = 0.5
_REACH_MM = 1.5
"""With so much of it in the box, what lies this near is counted with it. Measured on tuned designs
of `tests/benchmarks/fields.py`."""
_LEAST_WRITING_MM = 3.0
_SMALL_MM = 6.0
"""A field no larger is a box for a mark. Common practice, no source."""
_OUTSIDE_MM2, _OUTSIDE_MM = 4.0, 12.0
"""A signature beside its field has so much ink, and is so long."""
_BETWEEN_MM2 = 12.0
"""Ink that joins two boxes and is more than this is no mark: a postmark, a line of writing."""


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
    patch = patch_at(photo, match, np.array(field.place), around)
    inside = area_of(patch, field, inset_mm=0.4)
    ink = without_specks(patch, patch.ink & inside & ~own_rules(patch, field))
    area = patch.mm2(ink)
    share = float(ink.sum() / max(1, (inside & patch.open).sum()))
    is_long = long_mm(patch, ink) >= _LEAST_WRITING_MM
    mark = Mark.NONE
    if area >= _FILLED_MM2 and is_long and patch.is_clear:
        state = State.FILLED
    elif not can_be_told(patch, inside) or area > _EMPTY_MM2:
        state = State.UNTOLD
    else:
        state = State.EMPTY
        if field.name == SIGNATURE and _is_beside(patch, match, field):
            mark = Mark.OUTSIDE
    return FieldSeen(
        name=field.name, state=state, share=round(share, 4), place=_place(match, field), mark=mark
    )


def _is_beside(patch: Patch, match: Match, field: Field) -> bool:
    """Whether there is long writing beside the signature's field and in no other place of the
    form."""
    beside = ~area_of(patch, field, inset_mm=-0.3)
    others = [one.place for one in match.form.fields if one is not field]
    others += [match.form.box, *([match.form.bars] if match.form.bars else [])]
    for place in others:
        beside &= ~filled_in(patch.ink.shape, mapped(patch.from_mm, np.array(place)))
    ink = without_specks(patch, patch.ink & beside & patch.whole)
    return patch.mm2(ink) >= _OUTSIDE_MM2 and long_mm(patch, ink) >= _OUTSIDE_MM


def _services(photo: NDArray[np.uint8], match: Match, boxes: Sequence[Field]) -> list[FieldSeen]:
    """The service boxes together: a mark may lie in two of them."""
    corners = np.concatenate([np.array(one.place) for one in boxes])
    patch = patch_at(photo, match, corners, 3.0, px_per_mm=_BOX_PX_PER_MM)
    places = [area_of(patch, one, inset_mm=-0.15) for one in boxes]
    inner = [area_of(patch, one, inset_mm=0.1) for one in boxes]
    ink = without_specks(patch, patch.ink)
    # The form's own rules were taken out of marks that cross them.
    _, labels = cv2.connectedComponents(grown(ink, _JOINED_MM / 2 * patch.px_per_mm))
    labels = np.where(ink, labels, 0)
    is_between = [False] * len(boxes)
    is_reached = [False] * len(boxes)
    for number in range(1, int(labels.max()) + 1):
        mark = labels == number
        touched = [at for at, one in enumerate(places) if patch.mm2(mark & one) >= _MARK_MM2]
        if patch.mm2(mark) >= _BETWEEN_MM2:
            continue
        for at, place in enumerate(places):
            is_between[at] |= len(touched) > 1 and at in touched
            is_reached[at] |= not touched and _is_of_box(patch, mark, place, boxes[at])
    found = []
    for at, field in enumerate(boxes):
        state, share = _box(patch, ink, (places[at], inner[at]), is_reached=is_reached[at])
        mark_kind = Mark.BETWEEN if is_between[at] else Mark.NONE
        lies = _place(match, field)
        found.append(FieldSeen(name=field.name, state=state, share=share, place=lies,
                               mark=mark_kind))  # fmt: skip
    return found


def _box(
    patch: Patch, ink: Mask, where: tuple[Mask, Mask], *, is_reached: bool
) -> tuple[State, float]:
    """Whether a service's box is marked, and how solidly. where: the box, and what is inside of
    it. is_reached: a mark beside it is its own."""
    place, inside = where
    area = patch.mm2(ink & place)
    if (area >= _MARK_MM2 or is_reached) and patch.is_clear:
        return State.FILLED, round(_covered(patch, inside), 4)
    share = float((ink & inside).sum() / max(1, (inside & patch.open).sum()))
    is_empty = can_be_told(patch, place) and area <= _PART_OF_MARK * _MARK_MM2
    return State.EMPTY if is_empty else State.UNTOLD, round(share, 4)


def _is_of_box(patch: Patch, mark: Mask, place: Mask, box: Field) -> bool:
    """Whether a mark that is in no box for the most part is this one's: some of it lies in it, and
    enough within reach. A tick's long stroke goes out, and what is on the box's rules is not
    seen."""
    around = area_of(patch, box, inset_mm=-_REACH_MM)
    is_inside = patch.mm2(mark & place) > _PART_OF_MARK * _MARK_MM2
    return is_inside and patch.mm2(mark & around) >= _MARK_MM2


def _covered(patch: Patch, inside: Mask) -> float:
    """The share of a marked box that is nearly as dark as the mark. All of the box, since
    so near its own rules only the middle is free of print, and there a cross is all ink."""
    dark = patch.dark[inside]
    if not len(dark):
        return 0.0
    return float((dark > _NEARLY_AS_DARK * np.percentile(dark, 95)).mean())


def _place(match: Match, field: Field) -> Quad:
    return quad_of(mapped(match.whole_to_photo, np.array(field.place)))
