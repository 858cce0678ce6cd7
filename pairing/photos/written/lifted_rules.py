"""A form's rules lifted off what was written over them.

What is printed lets less light through, and so does a pen over it: where both lie the photo is
darker than where one does. So the gray levels on a rule are divided by what the rule alone lets
through there, which the stretch of it around shows: a stroke that crosses it stays whole, and
nothing need be painted in. Source: the law of Lambert and Beer; a photo's levels follow it near
enough (measured by `tests.benchmarks.lost`).
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.photos.written.plane import PX_PER_MM

Floats = NDArray[np.float32]

_REACH_MM = 0.9
"""A rule and its blur reach so far from its middle at most."""
_AROUND_MM = 7.0
"""What a rule lets through is told from so much of it: wider than any character on it."""
_LEAST_LONG_MM = 8.0
_LEAST_THROUGH = 0.3
"""Of a rule that lets less light through it cannot be told what lies on it."""
_PAPER, _BARE = 0.97, 0.9
"""What lets so much through is paper; and so is what is as light as this after lifting."""
_LIGHTER, _STEP = 60, 8
"""The rule alone is what so many percent of the places around are darker than, told once in so
many px along it."""
_BENT_PX, _BENT_MM = 3.0, 20.0
"""A rule lies so near to a curve of the third degree, a shorter one to a straight line."""
_LEAST_SEEN = 0.4
"""Of its length so much is seen at least."""


def lifted(
    gray: NDArray[np.uint8], across: NDArray[np.uint8], upright: NDArray[np.uint8]
) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
    """The plane without its rules, and 255 where they were lifted. gray: (h, w); across, upright:
    255 on rules of the form that are really seen, in a plane of `plane.PX_PER_MM`."""
    light, done = gray.astype(np.float32), np.zeros_like(gray)
    for xs, ys in _lines(across):
        _lift(light, done, xs, ys)
    light, done = np.ascontiguousarray(light.T), np.ascontiguousarray(done.T)
    for xs, ys in _lines(np.ascontiguousarray(upright.T)):
        _lift(light, done, xs, ys)
    bare = np.ascontiguousarray(np.clip(light.T, 0, 255), np.uint8)
    return np.asarray(bare, np.uint8), np.ascontiguousarray(done.T)


def _lines(rules: NDArray[np.uint8]) -> list[tuple[NDArray[np.intp], NDArray[np.intp]]]:
    """Pixels of each line, pieces that follow on one another together."""
    gap = 2 * round(_AROUND_MM * PX_PER_MM / 2) + 1
    joined = cv2.morphologyEx(rules, cv2.MORPH_CLOSE, np.ones((3, gap), np.uint8))
    count, labels, stats, _ = cv2.connectedComponentsWithStats(np.asarray(joined, np.uint8))
    found = []
    for at in range(1, count):
        left, top, wide, high, _ = stats[at].tolist()
        if wide < _LEAST_LONG_MM * PX_PER_MM:
            continue
        here = slice(top, top + high), slice(left, left + wide)
        ys, xs = np.nonzero((labels[here] == at) & (rules[here] > 0))
        found.append((xs + left, ys + top))
    return found


def _lift(
    light: Floats, done: NDArray[np.uint8], xs: NDArray[np.intp], ys: NDArray[np.intp]
) -> None:
    """Lift one line, in place. xs, ys: its pixels."""
    first, last = int(xs.min()), int(xs.max()) + 1
    middle = _course(xs - first, ys, last - first)
    if middle is None:
        return
    reach = round(_REACH_MM * PX_PER_MM)
    offsets = np.arange(-2 * reach, 2 * reach + 1, dtype=np.float32)[:, None]
    every = np.arange(last - first, dtype=np.float32)
    at_x = np.repeat(every[None] + first, len(offsets), 0)

    def along() -> tuple[Floats, Floats, Floats]:
        strip = cv2.remap(light, at_x, middle[None] + offsets, cv2.INTER_LINEAR,
                          borderMode=cv2.BORDER_REPLICATE)  # fmt: skip
        return _through(np.asarray(strip, np.float32), reach)

    _, _, off_middle = along()
    middle += off_middle
    through, paper, _ = along()
    top = max(0, int(middle.min()) - reach - 1)
    foot = min(light.shape[0], int(middle.max()) + reach + 2)
    if float(np.median(through.min(0))) < _LEAST_THROUGH or foot <= top:
        return
    down = np.arange(top, foot, dtype=np.float32)[:, None] - middle[None] + 2 * reach
    lets = cv2.remap(through, np.repeat(every[None], foot - top, 0), down,
                     cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT, borderValue=1.0)  # fmt: skip
    part, is_rule = light[top:foot, first:last], lets < 1.0
    freed = part / np.maximum(lets, _LEAST_THROUGH / 2)
    freed = np.where(freed > _BARE * paper, np.maximum(part, paper), freed)
    part[:] = np.where(is_rule, freed, part)
    # Of a rule's edge a hair is left where its place is told to half a pixel; a pen is wider.
    bare = cv2.morphologyEx(part, cv2.MORPH_CLOSE, np.ones((3, 1), np.uint8))
    part[:] = np.where(is_rule, bare, part)
    done[top:foot, first:last] |= np.where(is_rule, np.uint8(255), np.uint8(0))


def _course(xs: NDArray[np.intp], ys: NDArray[np.intp], long: int) -> Floats | None:
    """The row of a line's middle at each of its columns; None where its pixels are on no curve."""
    counts = np.bincount(xs, minlength=long)
    columns = np.flatnonzero(counts)
    if len(columns) < _LEAST_SEEN * long:
        return None
    middles = np.bincount(xs, weights=ys, minlength=long)[columns] / counts[columns]
    bend = 3 if long > _BENT_MM * PX_PER_MM else 1
    curve = np.polyfit(columns, middles, bend)
    keep = np.abs(middles - np.polyval(curve, columns)) < _BENT_PX
    if keep.sum() < 0.5 * len(columns):
        return None
    curve = np.polyfit(columns[keep], middles[keep], bend)
    return np.asarray(np.polyval(curve, np.arange(long)), np.float32)


def _through(strip: Floats, reach: int) -> tuple[Floats, Floats, Floats]:
    """What share of the light the rule lets through, at each place of the strip along it; the
    paper's gray level along it; and how far off the strip's middle the rule lies, px."""
    wide = min(2 * round(_AROUND_MM * PX_PER_MM / 2) + 1, 2 * (strip.shape[1] // 2) - 1)
    padded = cv2.copyMakeBorder(strip, 0, 0, wide // 2, wide // 2, cv2.BORDER_REFLECT)
    places = np.arange(0, strip.shape[1], _STEP)
    windows = np.lib.stride_tricks.sliding_window_view(padded, wide, axis=1)[:, places, ::3]
    # Writing makes darker what it is on: the lighter half shows the rule alone.
    usual = np.percentile(windows, _LIGHTER, axis=2)
    paper = np.percentile(np.concatenate([usual[:reach], usual[-reach:]]), 75, axis=0)
    share = np.minimum(1.0, usual / np.maximum(1.0, paper)).astype(np.float32)
    share[share > _PAPER] = 1.0
    # Beyond the rule's own blur nothing is its own: a line of writing is dark there too.
    middle = share.shape[0] // 2
    for side in (share[middle:], share[middle::-1]):
        side[np.maximum.accumulate(side >= 1.0, axis=0)] = 1.0
    share[: middle - reach] = share[middle + reach + 1 :] = 1.0
    lost = 1.0 - share
    offsets = np.arange(len(share), dtype=np.float32)[:, None] - middle
    off = (lost * offsets).sum(0) / np.maximum(1e-3, lost.sum(0))
    at = np.arange(strip.shape[1], dtype=np.float32) / _STEP
    across = np.repeat(at[None], share.shape[0], 0)
    down = np.repeat(np.arange(share.shape[0], dtype=np.float32)[:, None], strip.shape[1], 1)
    through = cv2.remap(share, across, down, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    paper, off = (
        np.interp(at, np.arange(len(places)), one).astype(np.float32) for one in (paper, off)
    )
    return np.asarray(through, np.float32), paper, off
