"""Ink, ruled lines and the box's frame in a rectified stretch of paper.

Sizes are px of the plane (`plane.BARS_PX` to the length of the barcode) unless said otherwise.

Only the frame's own rules are painted over before reading: any other line may strike something
out. Writing over the box's edge may agree but is not called different.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.photos.written.plane import BARS_PX

Mark = tuple[float, float, float, float]
"""left, top, width, height, px."""

_LONG = BARS_PX // 7
"""Shorter strokes are writing: 7.4 mm below a 52 mm barcode. Common practice, no source:
digits in such a box are 3 to 6 mm high."""
_OVER = 8
"""Writing that goes over a rule is found again within so many px: a rule of 0.3 mm has 4 px, and
2 more where it was widened to be found aslant."""
_NEAR = 14
_ON_RULE = 0.012 * BARS_PX
"""0.6 mm; a caption's middle is twice as far from the rule below it."""
_OVER_RULE = 0.15
"""This share of a mark's height beyond a rule is more than a stroke that touches it."""
_THICKEST = 0.03 * BARS_PX
"""Of a rule, what is added to find it aslant included."""
_SHARE_OF_HEIGHT = 0.6
"""Of the frame's height an upright must cover to be its side."""
_LEAST_FORM, _OF_FORM = 7.0, 0.2
"""By how many gray levels the form's ink is darker than its paper, and what share of how dark the
darkest marks are."""
_CORNER = 0.07 * BARS_PX
"""How far a side may stand from its rules' ends."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Rules:
    """Ruled lines, (h, w) uint8 masks: long ones across and upright ones. parts: left, top,
    width, height, area of each one across, px."""

    across: NDArray[np.uint8]
    upright: NDArray[np.uint8]
    parts: tuple[tuple[int, int, int, int, int], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """Where the box is: rows from `top` to `foot`; columns from `left` to `right`, None where
    no side was seen. is_ruled: its rules were seen; else the rows are the usual ones."""

    top: float
    foot: float
    left: float | None
    right: float | None
    is_ruled: bool

    def holds(self, mark: Mark) -> bool:
        """Whether a mark's middle lies in the box."""
        x = mark[0] + mark[2] / 2
        if not self.is_level_with(mark):
            return False
        return (self.left is None or x > self.left) and (self.right is None or x < self.right)

    def is_level_with(self, mark: Mark) -> bool:
        """Whether a mark's middle lies between the rules, or on one of them."""
        return self.top - _ON_RULE < mark[1] + mark[3] / 2 < self.foot + _ON_RULE

    def is_crossed_by(self, mark: Mark) -> bool:
        """Whether a mark goes over one of the box's rules, or lies beyond a side."""
        if not self.is_ruled:
            return False
        left, top, wide, high = mark
        over = _OVER_RULE * high
        return (
            top + over < self.top
            or top + high - over > self.foot
            or (self.left is not None and left + over < self.left)
            or (self.right is not None and left + wide - over > self.right)
        )


def darkness_of(gray: NDArray[np.uint8]) -> NDArray[np.float32]:
    """By how many gray levels each pixel, a little blurred, is darker than the paper around it; 0
    where it is lighter."""
    side = BARS_PX // 16 | 1
    paper = cv2.medianBlur(cv2.resize(gray, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA),
                           side // 4 * 2 + 1)  # fmt: skip
    paper = cv2.resize(paper, gray.shape[::-1], interpolation=cv2.INTER_LINEAR)
    return np.asarray(cv2.subtract(paper, cv2.GaussianBlur(gray, (0, 0), 1.0)), np.float32)


def ink_in(ink: NDArray[np.uint8], mark: Mark) -> NDArray[np.bool_]:
    """A mark's own ink in its rectangle, (height, width): the largest piece there; what else lies
    in it is none of the mark's. ink: (h, w) uint8, 255 where inked; mark: in its px."""
    left, top, wide, high = (round(v) for v in mark)
    part = ink[top : top + high, left : left + wide]
    _, labels, stats, _ = cv2.connectedComponentsWithStats(part)
    largest = 1 + int(stats[1:, cv2.CC_STAT_AREA].argmax()) if len(stats) > 1 else 1
    return np.asarray(labels == largest, np.bool_)


def ink_of(gray: NDArray[np.uint8], *, of_form: bool = False) -> NDArray[np.uint8]:
    """255 where there is a mark darker than the paper around it. of_form: paler ones too: a form's
    rules are paler than a bold pen, and count as ink as soon as the darkest marks are left out."""
    drop = darkness_of(gray)
    strong = float(np.percentile(drop[::3, ::3], 99.0))
    least = max(_LEAST_FORM, _OF_FORM * strong) if of_form else max(10.0, 0.35 * strong)
    return np.asarray(np.where(drop > least, 255, 0), np.uint8)


def rules_of(ink: NDArray[np.uint8]) -> Rules:
    """Long rules across and upright ones, also a little aslant."""
    joined = cv2.dilate(ink, np.ones((5, 1), np.uint8))
    across = cv2.morphologyEx(joined, cv2.MORPH_OPEN, np.ones((1, _LONG), np.uint8))
    across = cv2.erode(across, np.ones((3, 1), np.uint8))
    # Seen from aside a frame's sides lean by some degrees against the bars above.
    joined = cv2.dilate(ink, np.ones((1, 7), np.uint8))
    upright = cv2.morphologyEx(joined, cv2.MORPH_OPEN, np.ones((_LONG, 1), np.uint8))
    upright = cv2.erode(upright, np.ones((1, 5), np.uint8))
    long = np.asarray(across, np.uint8)
    return Rules(across=long, upright=np.asarray(upright, np.uint8), parts=parts_of(long))


def without_rules(ink: NDArray[np.uint8], rules: Rules) -> NDArray[np.uint8]:
    """The ink that is no rule."""
    return np.asarray(np.where((rules.across | rules.upright) > 0, 0, ink), np.uint8)


def crossing(ink: NDArray[np.uint8], rules: Rules) -> NDArray[np.uint8]:
    """255 on the rules where writing goes over them: ink on both sides, also a little aslant."""
    free = without_rules(ink, rules)
    over = _beside(free, 1) & _beside(free, -1) & rules.across
    flat, upright = np.ascontiguousarray(free.T), np.ascontiguousarray(rules.upright.T)
    over |= (_beside(flat, 1) & _beside(flat, -1) & upright).T
    return np.asarray(over & ink, np.uint8)


def _beside(free: NDArray[np.uint8], side: int) -> NDArray[np.uint8]:
    """255 where there is ink within `_OVER` px above (1) or below (-1)."""
    near = np.zeros((2 * _OVER + 1, 5), np.uint8)
    near[slice(0, _OVER) if side > 0 else slice(_OVER + 1, None)] = 1
    return np.asarray(cv2.dilate(free, near), np.uint8)


def bare_rules(rules: Rules, over: NDArray[np.uint8], frame: Frame) -> NDArray[np.uint8]:
    """255 on the frame's own rules where nothing is written over them. Other lines are left:
    one of them may strike out what it runs through."""
    mask = np.zeros_like(over)
    if not frame.is_ruled:
        return mask
    for row in (frame.top, frame.foot):
        part = slice(max(0, round(row) - _NEAR), round(row) + _NEAR)
        mask[part] |= rules.across[part]
    for column in (frame.left, frame.right):
        if column is not None:
            part = slice(max(0, round(column) - _NEAR), round(column) + _NEAR)
            mask[:, part] |= rules.upright[:, part]
    mask[over > 0] = 0
    return mask


def frame_of(rules: Rules, *, unframed: tuple[int, int]) -> Frame:
    """The box between two rules; rows `unframed` where there is no such pair."""
    high_px = 0.06 * BARS_PX
    found = sorted(
        (y + high / 2, float(left), float(left + wide))
        for left, y, wide, high, _ in rules.parts
        if wide > 0.55 * BARS_PX and high < high_px
    )
    pairs = [
        (one, other)
        for one in found
        for other in found
        if 0.10 * BARS_PX < other[0] - one[0] < 0.36 * BARS_PX
    ]
    if not pairs:
        return Frame(top=unframed[0], foot=unframed[1], left=None, right=None, is_ruled=False)
    # A line drawn through writing is no rule of the frame: those begin and end together.
    upper, lower = min(pairs, key=lambda pair: (not _are_one_frame(*pair), pair[1][0] - pair[0][0]))
    top, foot = upper[0], lower[0]
    sides = [
        left + wide / 2
        for left, y, wide, high, _ in parts_of(rules.upright)
        if min(y + high, foot) - max(y, top) > _SHARE_OF_HEIGHT * (foot - top)
    ]
    ends_left, ends_right = (upper[1], lower[1]), (upper[2], lower[2])
    lefts = [x for x in sides if min(ends_left) - _CORNER < x < max(ends_left) + _CORNER]
    rights = [x for x in sides if min(ends_right) - _CORNER < x < max(ends_right) + _CORNER]
    return Frame(
        top=top, foot=foot, left=max(lefts, default=None), right=min(rights, default=None),
        is_ruled=True,
    )  # fmt: skip


def _are_one_frame(upper: tuple[float, float, float], lower: tuple[float, float, float]) -> bool:
    return max(abs(upper[1] - lower[1]), abs(upper[2] - lower[2])) < 0.03 * BARS_PX


def slope_of(rules: Rules) -> float:
    """By how much the longest rule across falls for each px to the right; 0 without any."""
    long = [
        (wide, left, y, high)
        for left, y, wide, high, area in rules.parts
        if wide > 0.55 * BARS_PX and area < _THICKEST * wide
    ]
    if not long:
        return 0.0
    wide, left, top, high = max(long)
    ys, xs = np.nonzero(rules.across[top : top + high, left : left + wide])
    xs = xs - xs.mean()
    return float((xs * ys).sum() / max(float((xs * xs).sum()), 1.0))


def struck_out(ink: NDArray[np.uint8], rules: Rules, frame: Frame) -> list[Mark]:
    """Lines drawn through writing inside the frame: long, ink above and below them, and not a
    rule of the form, which would run from side to side."""
    found: list[Mark] = []
    reach = round(0.035 * BARS_PX)
    wide_all = (frame.right or 1.4 * BARS_PX) - (frame.left or 0.0)
    for left, y, wide, high, _ in rules.parts:
        near_edge = min(y - frame.top, frame.foot - y - high) < 0.012 * BARS_PX
        if near_edge or not frame.holds((left, y, wide, high)) or wide > 0.95 * wide_all:
            continue
        columns = ink[:, left : left + wide]
        above = (columns[max(0, y - reach) : y] > 0).any(axis=0).mean()
        below = (columns[y + high : y + high + reach] > 0).any(axis=0).mean()
        if min(above, below) > 0.15:
            found.append((left, y - reach, wide, high + 2 * reach))
    return found


def parts_of(mask: NDArray[np.uint8]) -> tuple[tuple[int, int, int, int, int], ...]:
    """left, top, width, height, area of each connected part."""
    # With labels of 16 bits, where they suffice, it takes a third of the time (measured).
    labels = cv2.CV_16U if cv2.countNonZero(mask) < 0xFFFF else cv2.CV_32S
    _, _, stats, _ = cv2.connectedComponentsWithStats(mask, ltype=labels)
    return tuple((a, b, c, d, area) for a, b, c, d, area in stats[1:].tolist())
