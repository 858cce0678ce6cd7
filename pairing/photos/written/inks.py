"""Whether a number is written in two inks: another pen corrected a digit, or filled one in.

By how much ink takes light from the paper depends on the pen's pressure, on shadow and on blur; in
which proportion it takes it from red, green and blue does not, but for a film's thinning, along
which the proportion goes with the darkness. Seen over a few tenths of a mm, since a photo's color
is coarser than its brightness (JPEG, ITU-T T.871, with 4:2:0 as cameras write it), what is off that
relation in one place by far more than anywhere else in the number is another ink.

A reason to refuse, never one to trust: inks of nearly one color are not told apart.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.photos.written.form_ink import disc
from pairing.photos.written.frame import Mark
from pairing.photos.written.ink_rows import fitted, middles, tall_of
from pairing.photos.written.plane import PX_PER_MM, cut
from pairing.photos.written.region import Content, Region

Floats = NDArray[np.float32]
Colors = Callable[[], NDArray[np.uint8] | None]
"""Opens a photo's color (`files.Frame.color`)."""

_TO_HALF = np.array([[0.5, 0.0, -0.25], [0.0, 0.5, -0.25], [0.0, 0.0, 1.0]])
"""From a photo's px to those of half its scale, of which each is the mean of four."""
_AROUND_MM = 2.5
_RULES_AROUND_MM = 10.0
_SEEN_OVER_MM = 0.3
"""Standard deviation of the weights that color is taken together with."""
_BESIDE_MM = 0.15
"""Ink's color runs out so far beside it."""
_FORM_MM, _OTHER_MM = 0.36, 0.2
"""What is so near to the form's own ink, or to a mark that is none of the line's, is left out."""
_PAPER_MM, _LEAST_PAPER = 2.0, 0.03
_LEAST_TAKEN, _LEAST_WEIGHT, _FEWEST_PX = 0.02, 0.05, 200
_FLOOR = 0.06
"""Of the light that is taken: differences in proportion are never known better than to this."""
_FAR = 4.0
"""What weighs nothing in the relation, in standard deviations."""
_ROUNDS = 10
_OTHER_INK = 4.0
"""Ink is another from so many standard deviations on, over so much of one stretch of it."""
_STRETCH_MM2 = 0.35
"""A stroke of 0.4 mm that is 0.9 mm long."""
_THROUGH, _BEYOND = 0.5, 1.0
"""In heights of the line's characters, from its middle: what runs through it, and what does not."""
_OTHER_COLOR, _NEARER = 0.3, 0.4
"""So far from the form's other rules in proportion, of the light taken, and so much nearer to the
number's ink, a rule is drawn by hand. Chosen by hand: navy and black print are 0.5 apart."""


def colorless() -> None:
    """Of a photo without color."""


def is_of_two_inks(
    color: NDArray[np.uint8] | None, region: Region, content: Content, row: list[Mark]
) -> bool:
    """Whether a line of a region is written in two inks. color: the photo's (`files.Color`); where
    there is none, nothing is told. region, content: of the same photo."""
    return color is not None and most_apart(color, region, content, row) > _OTHER_INK


def most_apart(
    color: NDArray[np.uint8], region: Region, content: Content, row: list[Mark]
) -> float:
    """How far off the rest of the line's ink one stretch of it is, in standard deviations."""
    seen = _looked_at(color, region, content, row)
    weighed = _near(seen.own, _BESIDE_MM) & ~_near(seen.ink & ~seen.own, _OTHER_MM)
    weighed &= ~_near(seen.form, _FORM_MM)
    return _most_over_stretch(_off(seen.taken, weighed, seen.own))


def is_changed(
    color: NDArray[np.uint8] | None, region: Region, content: Content, row: list[Mark]
) -> bool:
    """Whether color tells that a line on a card of no known form was changed or struck out."""
    return is_of_two_inks(color, region, content, row) or is_ruled_in_own_ink(
        color, region, content, row
    )


def is_ruled_in_own_ink(
    color: NDArray[np.uint8] | None, region: Region, content: Content, row: list[Mark]
) -> bool:
    """Whether what is taken for a rule that runs through a line's lower or upper part has the color
    of its ink, and not that of the form's other rules: it was drawn through the number. Of a region
    on a card of no known form, whose `printed` are the rules that were seen."""
    if color is None:
        return False
    seen = _looked_at(color, region, content, row, _RULES_AROUND_MM)
    slope, at = fitted(*middles(row))
    ys, xs = np.mgrid[: seen.own.shape[0], : seen.own.shape[1]]
    off = np.abs(ys + seen.top - at - slope * (xs + seen.left)) / tall_of(row)
    rules = _near(seen.printed, _BESIDE_MM) & ~_near(seen.own, _FORM_MM)
    own = _proportions(seen.taken, _near(seen.own, _BESIDE_MM) & ~_near(seen.printed, _FORM_MM))
    through = _proportions(seen.taken, rules & (off < _THROUGH))
    others = _proportions(seen.taken, rules & (off > _BEYOND))
    if own is None or through is None or others is None:
        return False
    to_own, to_others = (float(np.linalg.norm(through - one)) for one in (own, others))
    return to_others > _OTHER_COLOR and to_own < _NEARER * to_others


@dataclass(frozen=True, slots=True, kw_only=True)
class _Seen:
    """The stretch around a line, its corner at left, top in the region's plane. taken: shares of
    the paper's light that are taken from red, green, blue. own, ink, form, printed: where the
    line's ink is, any ink, the form's as it was left out, and as it is known."""

    left: int
    top: int
    taken: Floats
    own: NDArray[np.bool_]
    ink: NDArray[np.bool_]
    form: NDArray[np.bool_]
    printed: NDArray[np.bool_]


def _looked_at(
    color: NDArray[np.uint8],
    region: Region,
    content: Content,
    row: list[Mark],
    around_mm: float = _AROUND_MM,
) -> _Seen:
    around, (high, wide) = around_mm * PX_PER_MM, content.ink.shape
    left, top = (max(0, int(min(m[at] for m in row) - around)) for at in (0, 1))
    right, foot = (
        min(most, int(max(m[at] + m[at + 2] for m in row) + around))
        for at, most in ((0, wide), (1, high))
    )
    here = slice(top, foot), slice(left, right)
    ink = content.ink[here] > 0
    form = (content.painted | content.lifted)[here] > 0
    printed = region.printed[here] > 0
    shift = np.array([[1.0, 0.0, left], [0.0, 1.0, top], [0.0, 0.0, 1.0]])
    to_half = _TO_HALF @ region.plane.to_photo @ shift
    flat = cut(color, to_half, (right - left, foot - top), region.plane.scale / 2)
    light = np.asarray(flat, np.float32)
    paper = _paper(light, ~_near(ink | form | printed, _FORM_MM))
    return _Seen(
        left=left,
        top=top,
        taken=np.asarray(1 - light / paper, np.float32),
        own=_marked(content.ink, row)[here],
        ink=ink,
        form=form,
        printed=printed,
    )


def _proportions(taken: Floats, where: NDArray[np.bool_]) -> NDArray[np.float64] | None:
    """In which proportion light is taken there, as in `_off`; None where too little is."""
    red, green, blue = taken[where].sum(axis=0, dtype=np.float64)
    every = (red + green + blue) / 3
    if where.sum() < _FEWEST_PX or every < _LEAST_TAKEN * where.sum():
        return None
    return np.array([(red - blue) / every, (red + blue - 2 * green) / 2 / every])


def _marked(ink: NDArray[np.uint8], row: list[Mark]) -> NDArray[np.bool_]:
    """The ink of a line's marks."""
    _, labels, stats, _ = cv2.connectedComponentsWithStats(ink)
    wanted = {tuple(round(v) for v in mark) for mark in row}
    own = np.array([tuple(map(int, one[:4])) in wanted for one in stats])
    own[0] = False
    return np.asarray(own[labels], np.bool_)


def _near(mask: NDArray[np.bool_], mm: float) -> NDArray[np.bool_]:
    return np.asarray(cv2.dilate(mask.astype(np.uint8), disc(mm)), np.uint8) > 0


def _paper(flat: Floats, free: NDArray[np.bool_]) -> Floats:
    """The paper's color everywhere, from where nothing is inked. flat: (h, w, 3)."""
    weight = free.astype(np.float32)
    sigma = _PAPER_MM * PX_PER_MM
    many = np.asarray(cv2.GaussianBlur(weight, (0, 0), sigma))[:, :, None]
    sums = np.asarray(cv2.GaussianBlur(flat * weight[:, :, None], (0, 0), sigma))
    usual = np.median(flat[free] if free.any() else flat.reshape(-1, 3), axis=0)
    paper = np.where(many > _LEAST_PAPER, sums / np.maximum(many, 1e-3), usual)
    return np.asarray(np.maximum(paper, 1.0), np.float32)


def _off(taken: Floats, weighed: NDArray[np.bool_], own: NDArray[np.bool_]) -> Floats:
    """How far off the number's own ink is in each of its px, in standard deviations, (h, w); 0
    elsewhere. taken: shares of the paper's light, (h, w, 3)."""
    weight = weighed.astype(np.float32)
    sigma = _SEEN_OVER_MM * PX_PER_MM
    red, green, blue = cv2.split(cv2.GaussianBlur(taken * weight[:, :, None], (0, 0), sigma))
    many = np.asarray(cv2.GaussianBlur(weight, (0, 0), sigma))
    every = (red + green + blue) / 3
    at = np.nonzero(own & weighed & (every > _LEAST_TAKEN) & (many > _LEAST_WEIGHT))
    off = np.zeros(own.shape, np.float32)
    if len(at[0]) < _FEWEST_PX:
        return off
    proportions = np.stack([(red - blue)[at], (red + blue - 2 * green)[at] / 2], axis=1)
    proportions = proportions.astype(np.float64) / every[at][:, None]
    darkness = (every[at] / many[at]).astype(np.float64)
    off[at] = _from_relation(proportions, darkness)
    return off


def _from_relation(
    proportions: NDArray[np.float64], darkness: NDArray[np.float64]
) -> NDArray[np.float64]:
    """How far each (n, 2) is from the straight relation that most have to the darkness, in standard
    deviations of these: fitted over and over, what is far off left out (Tukey's biweight)."""
    ahead = np.stack([np.ones(len(darkness)), darkness], axis=1)
    middle = np.median(proportions, axis=0)
    spread = 1.4826 * np.median(np.abs(proportions - middle), axis=0) + 0.01
    weights = 1 / (1 + (((proportions - middle) / spread) ** 2).sum(1) / 4)
    squared = np.zeros(len(darkness))
    for _ in range(_ROUNDS):
        heavy = ahead * weights[:, None]
        # A little is added so that a number of one darkness has a relation, too.
        system = heavy.T @ ahead + np.diag([0.0, 1e-3 * weights.sum()])
        rest = proportions - ahead @ np.linalg.solve(system, heavy.T @ proportions)
        # 1.3: what the weights take off a normal spread.
        spreads = 1.3 * (rest * weights[:, None]).T @ rest / weights.sum()
        inverse = np.linalg.inv(spreads + _FLOOR**2 * np.eye(2))
        squared = np.einsum("ij,jk,ik->i", rest, inverse, rest)
        weights = np.clip(1 - squared / _FAR**2, 0, 1) ** 2 + 1e-6
    return np.asarray(np.sqrt(squared), np.float64)


def _most_over_stretch(off: Floats) -> float:
    """The most that one connected stretch of ink is off by, all over as much of it as counts."""
    least = _STRETCH_MM2 * PX_PER_MM**2
    low, high = 0.0, float(off.max())
    while high - low > 0.1:
        middle = (low + high) / 2
        _, _, stats, _ = cv2.connectedComponentsWithStats((off > middle).astype(np.uint8))
        is_so = len(stats) > 1 and stats[1:, cv2.CC_STAT_AREA].max() >= least
        low, high = (middle, high) if is_so else (low, middle)
    return low
