"""What a walk along a profile expects to see, cell by cell, before neighbors are known."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pairing.photos.code128 import encoding
from pairing.photos.code128.blur import CELL, LEAD, SAMPLES, BlurModel

Floats = NDArray[np.float64]
Floats32 = NDArray[np.float32]


@dataclass(frozen=True, slots=True, kw_only=True)
class Templates:
    """What a walk expects to see, sample by sample."""

    starts: Floats  # (3, LEAD + CELL): quiet zone and start character
    data: Floats32  # (4, 103, CELL): by the width of the space before
    squares: Floats32  # (4, 103, CELL): of `data`, and
    power: Floats32  # (4, 103): their sums
    stop: Floats  # (4, stop cells): as data, quiet zone included


def templates(model: BlurModel) -> Templates:
    """Expected darkness, with what is always true of neighbors: a bar follows."""
    after = model.whole[:103, :CELL].mean(axis=0)  # a successor's blur into this cell
    trailing = np.array([int(w[-1]) for w in encoding.WIDTHS])
    before = np.stack(
        [model.whole[:103][trailing[:103] == s, 2 * CELL :].mean(axis=0) for s in (1, 2, 3, 4)]
    )
    own = model.whole[:, CELL : 2 * CELL]
    start = model.whole[
        [encoding.START_A, encoding.START_B, encoding.START_C], CELL - LEAD : 2 * CELL
    ].copy()
    start[:, LEAD:] += after
    stop_size = encoding.STOP_MODULES * SAMPLES + LEAD
    stop_own = np.zeros(stop_size)
    whole_stop = model.stop_whole[CELL : CELL + stop_size]
    stop_own[: len(whole_stop)] = whole_stop
    stop = np.repeat(stop_own[None], 4, axis=0)
    stop[:, :CELL] += before
    data = own[None, :103] + after[None, None] + before[:, None]
    data = data.astype(np.float32)
    squares = data * data
    return Templates(starts=start, data=data, squares=squares, power=squares.sum(axis=2), stop=stop)
