"""A line that the finder proposes, laid flat with the paper around it."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.photos.finder.number_lines import Proposal
from pairing.photos.finder.segmentation import EVERY_PX, NUMBER, STROKE, near
from pairing.photos.written.box_lines import Line
from pairing.photos.written.comb_ticks import comb_lines
from pairing.photos.written.form_ink import rules_in, rules_upright
from pairing.photos.written.frame import ink_of
from pairing.photos.written.plane import PX_PER_MM, homography, laid_flat, rectangle
from pairing.photos.written.reader import LINE_KINDS, Look
from pairing.photos.written.region import Region

_ENDS_MM = 3.0
_AROUND = 2.3
"""In heights of the line, above and below its middle: what is farther off has nothing to do with
it (`beside_line._BESIDE` is 1.6)."""
_MARGIN_MM = 3.0
_CORE = 0.36
"""In the same, from the line's middle: what runs there runs through its characters, and is no
rule whatever it looks like."""
_LEAST_RULE = 0.5
"""Of the line's length: shorter lines along it are parts of its characters."""

_ALTERED_FAR, _ALTERED_NEAR = 0.4, 0.29
"""A line likelier than this to be altered is not read. Chosen on cards of
`tests/benchmarks/designs.py` (`TUNED`, level phone): of 15 right lines the highest were 0.23 and
0.26; of 33 altered ones 27 pass one of them or `_STROKES`."""
_SURE_FAR, _SURE_NEAR = 0.6, 0.45
"""The same where the reader surely sees a whole number. Right lines by hand on cards drawn by
parameters: up to 0.46 and 0.35; numbers struck out as a whole there: from 0.69 and 0.48 on."""
_STROKES = 0.02
"""Of the number's pixels so many others may be strokes: on those right lines there were none."""
_SURELY_WHOLE = 0.02
"""A line less likely than this to be altered, as the reader sees it, is taken for whole unless the
finder is sure. Measured on cards drawn by parameters, level phone: of 20 altered in part (one each
of 20 kinds) the lowest was 0.87, of 24 right lines by hand 20 were below 0.02."""
_NEAR_MM = 15.0


def is_line_altered(
    photo: NDArray[np.uint8], line: Line, look: Look, proposed: Sequence[Proposal]
) -> bool:
    """Whether the finder sees a line that was read, or one near it, altered. Farther off it may be
    a title. photo: gray (h, w) uint8. look: what the reader saw in the line."""
    inked = line.inked()
    around = np.array(inked.corners, np.float32).reshape(-1, 1, 2)
    is_sure = float(look.kinds[LINE_KINDS.index("altered")]) < _SURELY_WHOLE
    for one in proposed:
        corners = one.corners.astype(np.float32).reshape(-1, 1, 2)
        is_here = cv2.pointPolygonTest(corners, inked.center, measureDist=False) >= 0
        x, y = one.corners.mean(0)
        off = -cv2.pointPolygonTest(around, (float(x), float(y)), measureDist=True)
        if not is_here and off > _NEAR_MM * one.px_per_mm:
            continue
        if is_altered(proposed_region(photo, one), one, is_sure=is_here and is_sure):
            return True
    return False


def is_altered(region: Region, one: Proposal, *, is_sure: bool) -> bool:
    """Whether the networks see the line struck out, written over or added to. A reason to refuse;
    False is none to trust. is_sure: whether the reader surely sees a whole number there."""
    most_far, most_near = (_SURE_FAR, _SURE_NEAR) if is_sure else (_ALTERED_FAR, _ALTERED_NEAR)
    if one.altered > most_far:
        return True
    high, wide = region.plane.gray.shape
    padded = cv2.copyMakeBorder(
        region.plane.gray, 0, -high % EVERY_PX, 0, -wide % EVERY_PX, cv2.BORDER_REPLICATE
    )
    scores = near().look(np.asarray(padded, np.uint8))
    number = scores.kinds == NUMBER
    if not number.any():
        return True
    strokes = int((scores.kinds == STROKE).sum())
    is_struck = strokes > _STROKES * int(number.sum())
    return is_struck or float(scores.altered[number].mean()) > most_near


def proposed_region(photo: NDArray[np.uint8], one: Proposal) -> Region:
    """The line and the paper around it, its long rules above, below and beside the characters
    known as the form's own. photo: gray (h, w) uint8."""
    sides = np.linalg.norm(np.roll(one.corners, -1, axis=0) - one.corners, axis=1)
    wide = float(sides[0] + sides[2]) / 2 / one.px_per_mm * PX_PER_MM
    high = float(sides[1] + sides[3]) / 2 / one.px_per_mm * PX_PER_MM
    ends, above = _ENDS_MM * PX_PER_MM, (_AROUND - 0.5) * high
    margin = _MARGIN_MM * PX_PER_MM
    line = rectangle(margin + ends, margin + above, wide, high)
    size = round(wide + 2 * (margin + ends)), round(high + 2 * (margin + above))
    plane = laid_flat(photo, homography(line, one.corners), size)
    box = rectangle(margin, margin, wide + 2 * ends, high + 2 * above)
    ink = ink_of(plane.gray)
    printed = rules_in(ink, _LEAST_RULE * wide)
    middle = round(margin + above + high / 2)
    core = round(_CORE * high)
    left, right = round(margin + ends / 2), round(margin + 1.5 * ends + wide)
    printed[middle - core : middle + core, left:right] = 0
    printed |= comb_lines(rules_upright(ink))
    return Region(plane=plane, box=box, printed=printed)
