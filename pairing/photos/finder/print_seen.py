"""Whether marks near a number are print, as the finder's near network sees them."""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.photos.finder.segmentation import (
    EVERY_PX,
    PAPER,
    PRINT,
    STRIDE,
    STRIP,
    Segmenter,
    is_installed,
    near,
)

_AROUND_PX = 36
"""The network looks at marks with so much of what is around them: 3 mm."""
_FEWEST = 40
"""Of so few pixels it is not told what they are."""


def print_share(
    gray: NDArray[np.uint8],
    marks: Sequence[tuple[float, float, float, float]],
    network: Segmenter | None = None,
) -> float:
    """Which share of what the network takes for ink in these marks it takes for print. gray: a
    plane of `plane.PX_PER_MM` px a mm, (h, w). marks: left, top, width, height in its px. 0 where
    the networks are not installed, or see hardly any ink."""
    if network is None and not is_installed():
        return 0.0
    ends = np.array([(x, y, x + wide, y + high) for x, y, wide, high in marks])
    left, top = np.maximum(0, ends[:, :2].min(0) - _AROUND_PX).astype(int).tolist()
    right, foot = (ends[:, 2:].max(0) + _AROUND_PX).astype(int).tolist()
    part = gray[top:foot, left:right]
    high, wide = part.shape
    padded = cv2.copyMakeBorder(
        part, 0, -high % EVERY_PX, 0, -wide % EVERY_PX, cv2.BORDER_REPLICATE
    )
    kinds = (network or near()).look(np.asarray(padded, np.uint8)).kinds
    counts = np.zeros(int(kinds.max()) + 1, np.int64)
    for x, y, x2, y2 in ((ends - (left, top, left, top)) / STRIDE).astype(int).tolist():
        counts += np.bincount(kinds[y : y2 + 1, x : x2 + 1].ravel(), minlength=len(counts))
    inked = counts.sum() - counts[[k for k in (PAPER, STRIP) if k < len(counts)]].sum()
    if inked < _FEWEST or len(counts) <= PRINT:
        return 0.0
    return float(counts[PRINT] / inked)
