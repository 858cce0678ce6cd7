"""A profile shown as a picture, for engines that read pictures."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.photos.barcodes.engines import Gray
from pairing.photos.barcodes.profile import Profile
from pairing.photos.barcodes.rectify import Strip

_ROWS_SHOWN = 32


def profile_image(profile: Profile, strip: Strip, *, blanked: bool) -> Gray:
    """The profile as a picture for the engines: finer, a little sharper, bars made tall.

    blanked: paint over what lies outside the first and the last bar, where print
    runs into the quiet zone.
    """
    dark = np.clip(profile.dark, -0.2, 1.2)
    if blanked:
        first, last = _outer_bars(profile, strip)
        columns = np.arange(len(dark)) + 0.5
        dark = np.where((columns < first) | (columns > last), 0.0, dark)
    fine = cv2.resize(
        dark[None].astype(np.float32),
        (round(len(dark) * 3 / max(strip.scale, 1.0)), 1),
        interpolation=cv2.INTER_CUBIC,
    )[0]
    soft = cv2.GaussianBlur(fine[None], (0, 0), 3.0)[0]
    fine = fine + 0.7 * (fine - soft)
    pad = 30
    row = np.pad(np.clip(235 - 210 * fine, 0, 255), pad, constant_values=235.0)
    return np.repeat(row[None].astype(np.uint8), _ROWS_SHOWN, axis=0)


def _outer_bars(profile: Profile, strip: Strip) -> tuple[float, float]:
    """Where the bars seem to begin and end: the widest clear space near each end of the
    block, within a sixth of its length, is taken for the quiet zone."""
    dark = profile.dark > 0.5
    size = len(dark)
    reach = (strip.bars[1] - strip.bars[0]) / 6
    first = _after_widest_space(dark, strip.bars[0] + reach)
    last = size - _after_widest_space(dark[::-1], size - strip.bars[1] + reach)
    return float(first), float(last)


def _after_widest_space(dark: NDArray[np.bool_], limit: float) -> int:
    edges = np.flatnonzero(np.diff(np.concatenate(([1], dark.astype(np.int8), [1]))))
    starts, ends = edges[::2], edges[1::2]  # spaces, from the outside in
    inside = ends <= limit
    if not inside.any():
        return 0
    widths = (ends - starts)[inside]
    return int(ends[inside][int(np.argmax(widths))])
