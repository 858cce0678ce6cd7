"""Dots on a rule of the form, under or over a line: a writer takes back what they stand by.

A dot that touches the rule is one mark with it, and no taller than what the rule's blur may be; so
it is looked for along the rule, where that gets thicker for the width of a pen and thin again.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.photos.written.comb_ticks import evenly
from pairing.photos.written.frame import Mark
from pairing.photos.written.ink_rows import fitted, middles, tall_of
from pairing.photos.written.plane import PX_PER_MM

_FEWEST_MARKS = 7
"""A number has at least 13 characters; two or three of them may touch."""
_FROM, _TO = 0.35, 1.5
"""Of the line's height, from its middle: where a rule under or over it lies."""
_LEAST_LONG = 0.4
"""Of the line's length so much of the rule is seen at least."""
_THICK_MM = 0.6
"""A rule's pixels lie so near to where most of them do."""
_LOOK_MM = 1.6
"""So far from the rule's middle it is looked at."""
_LEAST_MM, _MOST_MM, _OVER_GRAIN = 0.16, 1.2, 5.0
"""So far a dot sticks out from the rule, and so many times farther than its grain does (a standard
deviation): less is the photo's, more is a character's foot."""
_AROUND_MM = 4.0
"""Against the rule this far around it is told what sticks out."""
_LEAST_STRONG = 12.0
"""By so many gray levels the rule is darker than its paper."""
_WIDE_MM = (0.3, 1.4)
_FLAT = 1.3
"""What is more times as high as wide is a comb's dividing line."""
_FREE_MM = 0.25
"""On the rule's other side nothing sticks out so far there: else a stroke crosses the rule."""
_FEWEST, _EVEN = 3, 0.5
"""So many dots are no specks, each as wide and as high as the next to within so much."""
_APART_MM, _OF_FOOT = 0.33, 0.25
"""A foot goes on so far beyond where it sticks out, over so much of its width. Dots drawn by
`tests.benchmarks.alterations` are 0.6 mm and more from the number."""
_MOST_APART = 2.2
"""In heights of the line's characters: one dot stands under each of them."""


def dots_on_rules(
    gray: NDArray[np.uint8], rules: NDArray[np.uint8], row: list[Mark], own: NDArray[np.bool_]
) -> list[Mark]:
    """Dots that touch a rule above or below a line. gray: (h, w), the form's ink in it; rules: 255
    on what runs along it (`form_ink.rules_across`); row: the line's marks, in a plane of
    `plane.PX_PER_MM`; own: (h, w), their pixels."""
    if len(row) < _FEWEST_MARKS:
        return []
    tall = tall_of(row)
    slope, at = fitted(*middles(row))
    left = max(0, round(min(m[0] for m in row)))
    right = min(gray.shape[1], round(max(m[0] + m[2] for m in row)))
    ys, xs = np.nonzero(rules[:, left:right])
    xs = xs + left
    off = (ys - at - slope * xs) / tall
    found: list[Mark] = []
    for side in (-1, 1):
        near = (side * off > _FROM) & (side * off < _TO)
        for level in _levels(off[near]):
            here = near & (np.abs(off - level) * tall < _THICK_MM * PX_PER_MM)
            near &= ~here
            if len(np.unique(xs[here])) > _LEAST_LONG * (right - left):
                for toward, dots in _dots_on(gray, (xs[here], ys[here]), (left, right)):
                    is_free = toward == side
                    apart = [dot for dot in dots if is_free or not _is_foot(dot, own, toward)]
                    found += _in_a_row(apart, _MOST_APART * tall)
    return found


def _is_foot(dot: Mark, own: NDArray[np.bool_], side: int) -> bool:
    """Whether what sticks out from a rule towards the number is the foot, or the head, of a
    character that goes on from there: between a dot and the number is paper. side: -1 for up."""
    left, top, wide, high = (round(v) for v in dot)
    reach = round(_APART_MM * PX_PER_MM)
    first, last = (top - reach, top + 1) if side < 0 else (top + high - 1, top + high + reach)
    part = own[max(0, first) : max(0, last), max(0, left) : max(0, left + wide)]
    return bool(part.any(0).sum() > _OF_FOOT * wide)


def _levels(off: NDArray[np.float64]) -> list[float]:
    """Where rules lie: levels that many pixels are on, the fullest first, none by another."""
    counts, edges = np.histogram(off, bins=np.arange(-_TO, _TO + 0.1, 0.1))
    kept: list[float] = []
    for at in np.argsort(-counts):
        level = float(edges[at]) + 0.05
        if counts[at] and all(abs(level - other) > 0.25 for other in kept):
            kept.append(level)
    return kept[:3]


def _dots_on(
    gray: NDArray[np.uint8],
    rule: tuple[NDArray[np.int64], NDArray[np.int64]],
    ends: tuple[int, int],
) -> list[tuple[int, list[Mark]]]:
    """What sticks out from a rule upwards (-1) and downwards (1)."""
    xs, ys = rule
    line = np.polyfit(xs, ys, 2)
    columns = np.arange(*ends, dtype=np.float32)
    middle = np.polyval(line, columns).astype(np.float32)
    reach = round(_LOOK_MM * PX_PER_MM)
    offsets = np.arange(-reach, reach + 1, dtype=np.float32)[:, None]
    across = np.repeat(columns[None], len(offsets), 0)
    flat = cv2.remap(gray, across, middle[None] + offsets, cv2.INTER_LINEAR).astype(np.float64)
    paper = np.percentile(flat, 80, axis=0)
    strong = float(np.median(paper - flat[reach]))
    if strong < _LEAST_STRONG:
        return []
    dark = np.clip((paper - flat) / strong, 0.0, 1.2)
    # What does not hang together with the rule, as a character's foot above it, does not count.
    sides = [np.minimum.accumulate(side) for side in (dark[reach::-1], dark[reach:])]
    sticks_out = [_beyond(side) for side in sides]
    found: list[tuple[int, list[Mark]]] = []
    for this, other, side in ((0, 1, -1), (1, 0, 1)):
        dots = []
        grain = 1.48 * float(np.median(np.abs(sticks_out[this])))
        least = max(_LEAST_MM * PX_PER_MM, _OVER_GRAIN * grain)
        for first, last in _runs(sticks_out[this] > least / 2):
            wide, high = float(last - first), float(sticks_out[this][first:last].max())
            is_free = sticks_out[other][first:last].max() < max(_FREE_MM * PX_PER_MM, high / 2)
            is_sized = _WIDE_MM[0] < wide / PX_PER_MM < _WIDE_MM[1]
            if is_free and is_sized and least < high < min(_MOST_MM * PX_PER_MM, _FLAT * wide):
                y = float(middle[first]) + (0.0 if side > 0 else -high)
                dots.append((float(first + ends[0]), y, wide, high))
        found.append((side, dots))
    return found


def _beyond(side: NDArray[np.float64]) -> NDArray[np.float64]:
    """By how much more is inked than of the rule itself, px, from its middle outwards."""
    thick = cv2.blur(side.sum(0)[None], (3, 1))[0]
    around = round(_AROUND_MM * PX_PER_MM)
    padded = np.pad(thick, around, mode="reflect" if len(thick) > around else "edge")
    usual = np.median(np.lib.stride_tricks.sliding_window_view(padded, 2 * around + 1), axis=1)
    return np.asarray(thick - usual)


def _runs(is_there: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Where it is true, first and one after the last."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], is_there.astype(np.int8), [0]))))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def _in_a_row(dots: list[Mark], most_apart: float) -> list[Mark]:
    """Those that follow on one another, alike; () for fewer than a few."""
    found: list[Mark] = []
    group: list[Mark] = []
    for dot in [*dots, None]:
        is_next = dot is not None and (not group or (
            dot[0] - group[-1][0] < most_apart
            and all(abs(dot[n] - group[-1][n]) < _EVEN * max(dot[n], group[-1][n]) for n in (2, 3))
        ))  # fmt: skip
        if is_next and dot is not None:
            group.append(dot)
            continue
        # What stands so evenly, and so often, is what shows of a comb's dividing lines.
        found += group if len(group) >= _FEWEST and not evenly(group) else []
        group = [] if dot is None else [dot]
    return found
