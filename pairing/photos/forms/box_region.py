"""The box of a card whose form is known, as a region to be read."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.photos.forms.definition import PX_PER_MM as PICTURE_PX_PER_MM
from pairing.photos.forms.registration import Match
from pairing.photos.written.frame import ink_of
from pairing.photos.written.plane import PX_PER_MM, inverse, laid_flat, mapped
from pairing.photos.written.region import Region

MARGIN_MM = 9.0
"""Around the box, so that a number that runs on over its edge is seen whole."""


def region_of(photo: NDArray[np.uint8], match: Match) -> Region:
    """The number's box in the photo. photo: gray (h, w) uint8."""
    box = np.array(match.form.box)
    along = (box[1] - box[0]) / np.linalg.norm(box[1] - box[0])
    down = np.array([-along[1], along[0]])
    flat = np.stack([(box - box[0]) @ along, (box - box[0]) @ down], axis=1)
    low, high = flat.min(0) - MARGIN_MM, flat.max(0) + MARGIN_MM
    corner = box[0] + low[0] * along + low[1] * down
    to_mm = np.array([[along[0], down[0], corner[0]], [along[1], down[1], corner[1]], [0, 0, 1.0]])
    to_mm = to_mm @ np.diag([1 / PX_PER_MM, 1 / PX_PER_MM, 1.0])
    size = (round((high[0] - low[0]) * PX_PER_MM), round((high[1] - low[1]) * PX_PER_MM))
    plane = laid_flat(photo, match.to_photo @ to_mm, size)
    to_picture = np.diag([PICTURE_PX_PER_MM, PICTURE_PX_PER_MM, 1.0]) @ to_mm
    picture = laid_flat(match.form.picture, to_picture, size).gray
    printed, own = ink_of(picture), np.zeros(picture.shape, np.uint8)
    if match.form.bars is not None:
        # Each card has bars and a number of its own there.
        bars = mapped(inverse(to_mm), np.array(match.form.bars))
        cv2.fillPoly(own, [np.round(bars).astype(np.int32)], (255,))
        printed[own > 0] = 0
    return Region(plane=plane, box=mapped(inverse(to_mm), box), printed=printed, own=own)
