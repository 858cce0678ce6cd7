"""How much of a form's own print a photo really shows, place by place.

The fit of a whole card (`laying.fit_of`) is carried by what is darkest on it: two forms with the
same bar across their heads fit each other's cards, whatever is below. Here each place counts once.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.photos.forms.definition import Form
from pairing.photos.forms.laying import drop_of, plain_places
from pairing.photos.written.plane import laid_flat

Floats = NDArray[np.float64]

_PX_PER_MM = 4.0
_PLACE_MM = 9.0
_SLACK_MM = 1.0
"""So far a place's print may lie off: far from the box a form is laid less well."""
_PALEST, _LEAST_DARK = 0.12, 6.0
"""Print is what is so much as dark as the form's darkest, and by so many gray levels. Chosen by
hand."""
_LEAST_INK_MM2, _LEAST_PLAIN = 2.25, 0.5
"""A place has so much print, and so large a part of it lies off the box and the bars."""
_LIKE = 0.5
"""The correlation at which a place's print is seen. Measured on the designs named in `registration`
(the least share of a right form, the greatest of another): with 0.4 0.83 and 0.90, with 0.5 0.82
and 0.76, with 0.6 0.80 and 0.72."""


def share_seen(photo: NDArray[np.uint8], form: Form, to_photo: Floats) -> float:
    """Of the places of a card with print of its own, its box and bars left out, the share at
    which the photo shows that print, 0 to 1. photo: gray (h, w) uint8; to_photo: (3, 3), from the
    form's mm to px."""
    size = (round(form.size_mm[0] * _PX_PER_MM), round(form.size_mm[1] * _PX_PER_MM))
    warp = to_photo @ np.diag([1 / _PX_PER_MM, 1 / _PX_PER_MM, 1.0])
    there = drop_of(laid_flat(photo, warp, size).gray)
    own = drop_of(
        np.asarray(cv2.resize(form.picture, size, interpolation=cv2.INTER_AREA), np.uint8)
    )
    plain = plain_places(form, size)
    ink = (own > max(_LEAST_DARK, _PALEST * float(np.percentile(own, 99.5)))) & plain
    expected, seen = (
        np.asarray(cv2.GaussianBlur(one.astype(np.float32), (0, 0), 1.0), np.float32)
        for one in (own, there)
    )
    step, slack = round(_PLACE_MM * _PX_PER_MM), round(_SLACK_MM * _PX_PER_MM)
    likeness = []
    for top in range(0, size[1] - step // 2, step):
        for left in range(0, size[0] - step // 2, step):
            here = slice(top, top + step), slice(left, left + step)
            is_enough = ink[here].sum() >= _LEAST_INK_MM2 * _PX_PER_MM**2
            if is_enough and plain[here].mean() >= _LEAST_PLAIN and expected[here].std() >= 1:
                around = seen[max(0, top - slack) : top + step + slack,
                              max(0, left - slack) : left + step + slack]  # fmt: skip
                likeness.append(_likeness(around, expected[here], plain[here]))
    return float(np.mean(np.array(likeness) >= _LIKE)) if likeness else 0.0


def _likeness(
    around: NDArray[np.float32], expected: NDArray[np.float32], plain: NDArray[np.bool_]
) -> float:
    """The best correlation of a place's print with what is seen there or a little beside."""
    mask = None if plain.all() else plain.astype(np.float32)
    found = np.asarray(cv2.matchTemplate(around, expected, cv2.TM_CCOEFF_NORMED, mask=mask))
    found = found[np.isfinite(found)]
    return float(found.max()) if found.size else 0.0
