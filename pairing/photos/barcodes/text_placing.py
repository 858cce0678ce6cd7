"""Where along a block the bars of a text that was read lie.

Some readings come without their place: an engine met the bars on a few scan lines, in a block
that reaches over a form's rules on either side. What the bars must look like is known by then,
so they are looked for at every scale.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.model import Quad
from pairing.photos.barcodes.engines import Gray
from pairing.photos.barcodes.quads import Floats, corners_of, length_px, quad_of
from pairing.photos.barcodes.rectify import flat_cut
from pairing.photos.code128 import encoding

_ROWS = 9
_QUIET_SHARE = 0.06
_MOST_COLUMNS = 1600
_SCALE_STEP = 0.012
"""Of the length: over 150 modules the ends are then at most a module from where they belong."""

_LEAST_SHARE = 0.25  # of the block's length
_LEAST_LIKENESS = 0.6
"""Correlation of the profile with the bars of the text. Bars of another text of the same length
come to 0.3 (drawn numbers)."""


def placed_by_text(gray: Gray, quad: Quad, text: str, aim: str) -> Quad | None:
    """The part of `quad` across which the bars of `text` lie, start first; None where they are
    not found, or where the text has no one spelling. Its rows stay as they are."""
    values = encoding.shortest_values(text, aim=aim)
    if values is None:
        return None
    modules = _modules_of(values)
    quiet = round(_QUIET_SHARE * min(_MOST_COLUMNS, length_px(quad)))
    columns = int(min(_MOST_COLUMNS, max(200, length_px(quad)))) - 2 * quiet
    flat = flat_cut(gray, quad, columns=columns, rows=_ROWS, quiet_columns=quiet)
    profile = -flat[_ROWS // 2 - 1 : _ROWS // 2 + 2].mean(axis=0)
    best: tuple[float, float, float, bool] = (_LEAST_LIKENESS, 0.0, 0.0, False)
    size = len(profile) * 0.995
    while size >= max(_LEAST_SHARE * columns, len(modules)):
        template = np.asarray(
            cv2.resize(modules[None], (round(size), 1), interpolation=cv2.INTER_AREA), np.float32
        )[0]
        for backwards in (False, True):
            found = _best_shift(profile, template[::-1] if backwards else template)
            if found[0] > best[0]:
                best = (found[0], found[1], found[1] + len(template), backwards)
        size *= 1 - _SCALE_STEP
    if best[2] <= best[1]:
        return None
    first, last = ((at - quiet) / columns for at in (best[1], best[2]))
    return _between(quad, first, last, backwards=best[3])


def _modules_of(values: tuple[int, ...]) -> NDArray[np.float32]:
    """Darkness of each module from the first bar to the last."""
    characters = [encoding.WIDTHS[v] for v in (*values, encoding.check_value(values))]
    widths = [int(w) for c in (*characters, encoding.STOP_WIDTHS) for w in c]
    return np.concatenate([np.full(w, 1.0 - at % 2, np.float32) for at, w in enumerate(widths)])


def _best_shift(profile: Floats, template: NDArray[np.float32]) -> tuple[float, float]:
    """The greatest correlation of the template with a stretch of the profile, and its column."""
    if len(template) > len(profile):
        return 0.0, 0.0
    match = cv2.matchTemplate(
        profile.astype(np.float32)[None], template[None].copy(), cv2.TM_CCOEFF_NORMED
    )[0]
    at = int(np.argmax(match))
    return float(match[at]), float(at)


def _between(quad: Quad, first: float, last: float, *, backwards: bool) -> Quad:
    """The quad between two shares of its length; turned by half a turn where read backwards."""
    a, b, c, d = corners_of(quad)
    points = [a + (b - a) * first, a + (b - a) * last, d + (c - d) * last, d + (c - d) * first]
    if backwards:
        points = points[2:] + points[:2]
    return quad_of([(float(x), float(y)) for x, y in points])
