"""The form's own ink in a box that was laid flat: left out where it is really seen, and where no
stroke crosses it."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.photos.written.frame import ink_of
from pairing.photos.written.plane import PX_PER_MM

_SLACK_MM = 0.35
"""Form print is known to lie so near to where it is seen. Measured: the box is registered to
0.15 mm."""
_WINDOW_MM = 4.0
_LEAST_SEEN = 0.75
"""Of the form's ink in a window so much must be seen. Measured: under a strip, where printed
digits lie on a comb's cell marks, half."""
_RULE_PX = 61
_THIN_PX = 3
"""A rule that is seen is hidden to so far from its middle, the rest of what is near it is not."""
_GAP_MM = 1.5
"""Where writing crosses a rule it is seen broken so far to each side."""
_LETTERS_MM, _INKED_BESIDE = 0.9, 0.35
"""So far above or below a rule is paper, for most of its length; beside what letters that run
together make a line, more of the letters."""
_CROSSED_MM, _CROSSED_SLANTS = 1.0, (-0.8, -0.4, 0.0, 0.4, 0.8)
"""Where a stroke crosses a rule it has ink above and below so near, aslant by so much for each mm
down."""


def hidden_ink(
    gray: NDArray[np.uint8],
    printed: NDArray[np.uint8],
    own: NDArray[np.uint8] | None,
    box: NDArray[np.float64],
) -> NDArray[np.uint8]:
    """255 on the form's own ink where it is really seen, and on the card's own bars. All (h, w) in
    one plane, box (4, 2); printed, own: as in `region.Region`."""
    if not printed.any() and own is None:
        return np.zeros_like(gray)
    ink, faint = ink_of(gray), ink_of(gray, of_form=True)
    seen = cv2.dilate(faint, disc(0.12))
    # What crosses the place of a covered rule is not the rule: most of it must be seen there.
    side = 2 * round(_WINDOW_MM / 2 * PX_PER_MM) + 1
    expected = cv2.boxFilter((printed > 0).astype(np.float32), -1, (side, side))
    found = cv2.boxFilter(((printed > 0) & (seen > 0)).astype(np.float32), -1, (side, side))
    is_seen = cv2.dilate((found > _LEAST_SEEN * expected).astype(np.uint8), disc(_SLACK_MM))
    is_hidden = (is_seen > 0) & (seen > 0) & _near_print(printed, faint)
    is_hidden &= ~_is_written_over(ink, is_hidden)
    if own is not None:
        outside = own.copy()
        cv2.fillPoly(outside, [np.round(box).astype(np.int32)], (0,))
        is_hidden |= (outside > 0) & (seen > 0)
    return np.where(is_hidden, np.uint8(255), np.uint8(0))


def seen_rules(
    gray: NDArray[np.uint8], printed: NDArray[np.uint8]
) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
    """255 on the form's own rules where they are really seen: those across, those that stand."""
    ink = ink_of(gray, of_form=True)
    own_across, own_upright = _rules(printed)
    own = _without_words(own_across, printed), own_upright
    across, upright = (
        seen & np.asarray(cv2.dilate(known, disc(_SLACK_MM)), np.uint8)
        for known, seen in zip(own, _rules(ink), strict=True)
    )
    return across, upright


def _without_words(across: NDArray[np.uint8], printed: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Rules across without lines of letters that run together: these have ink above or below them
    all along."""
    gap = 2 * round(_GAP_MM * PX_PER_MM) + 1
    joined = cv2.morphologyEx(across, cv2.MORPH_CLOSE, np.ones((5, gap), np.uint8))
    count, labels = cv2.connectedComponents(np.asarray(joined, np.uint8))
    if count < 2:
        return across
    off = round(_LETTERS_MM * PX_PER_MM)
    labels = np.where(across > 0, labels, 0)
    many = np.maximum(1, np.bincount(labels.ravel(), minlength=count))
    words = np.zeros(count, np.bool_)
    inked = np.pad(printed > 0, ((off, off), (0, 0)))
    for beside in (inked[: -2 * off], inked[2 * off :]):
        words |= np.bincount(labels[beside], minlength=count) > _INKED_BESIDE * many
    return np.where(words[labels], np.uint8(0), across)


def _near_print(printed: NDArray[np.uint8], ink: NDArray[np.uint8]) -> NDArray[np.bool_]:
    """Where the form's ink may be: near its letters anything, near its rules what is one."""
    kernel = np.ones((_THIN_PX, _THIN_PX), np.uint8)
    expected, seen = _rules(printed), _rules(ink)
    rules = (expected[0] > 0) | (expected[1] > 0)
    letters = cv2.dilate(np.where(rules, np.uint8(0), printed), disc(_SLACK_MM))
    near = np.asarray(letters) > 0
    # A tall 1 that crosses a rule is long and straight, too.
    for own, there in zip(expected, seen, strict=True):
        beside = np.asarray(cv2.dilate(own, disc(_SLACK_MM)))
        near |= (beside > 0) & (np.asarray(cv2.dilate(there, kernel)) > 0)
    return near


def _is_written_over(ink: NDArray[np.uint8], hidden: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Where a stroke crosses the form's ink: it has ink of its own above and below. What is drawn
    over a rule would be cut in two with it."""
    free = np.where(hidden, np.uint8(0), ink)
    over = np.zeros(ink.shape, np.uint8)
    rows = np.flatnonzero(hidden.any(1))
    if not len(rows):
        return over > 0
    reach = round(_CROSSED_MM * PX_PER_MM)
    part = slice(max(0, int(rows[0]) - reach), int(rows[-1]) + reach + 1)
    for slant in _CROSSED_SLANTS:
        kernel = np.zeros((reach, 2 * round(abs(slant) * reach / 2) + 1), np.uint8)
        last = kernel.shape[1] - 1
        ends = (last, 0) if slant > 0 else (0, last)
        cv2.line(kernel, (ends[0], 0), (ends[1], reach - 1), (1,))
        closed = cv2.morphologyEx(free[part], cv2.MORPH_CLOSE, kernel)
        over[part] |= np.asarray(closed, np.uint8)
    return (over > 0) & (ink > 0)


def rules_in(ink: NDArray[np.uint8], least_px: float = 0.0) -> NDArray[np.uint8]:
    """Long straight lines, a little aslant too; those across only where pieces that follow on one
    another are as long as this: the heads of sevens in a row are one line, and no rule."""
    across, upright = _rules(ink)
    if least_px > 0:
        joined = cv2.dilate(across, np.ones((3, 2 * round(_GAP_MM * PX_PER_MM) + 1), np.uint8))
        _, labels, stats, _ = cv2.connectedComponentsWithStats(np.asarray(joined, np.uint8))
        long = stats[:, cv2.CC_STAT_WIDTH] >= least_px
        across = np.where(long[labels], across, np.uint8(0))
    return np.asarray(across | upright, np.uint8)


def rules_across(ink: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Long straight lines more or less along the plane's rows."""
    return _rules(ink)[0]


def rules_upright(ink: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Long straight lines more or less along the plane's columns."""
    return _rules(ink)[1]


def _rules(ink: NDArray[np.uint8]) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:
    """Those across, and those that stand."""
    across = cv2.dilate(ink, np.ones((3, 1), np.uint8))
    across = cv2.morphologyEx(across, cv2.MORPH_OPEN, np.ones((1, _RULE_PX), np.uint8))
    upright = cv2.dilate(ink, np.ones((1, 3), np.uint8))
    upright = cv2.morphologyEx(upright, cv2.MORPH_OPEN, np.ones((_RULE_PX, 1), np.uint8))
    return np.asarray(across, np.uint8) & ink, np.asarray(upright, np.uint8) & ink


def disc(radius_mm: float) -> NDArray[np.uint8]:
    """A round kernel."""
    side = 2 * max(1, round(radius_mm * PX_PER_MM)) + 1
    return np.asarray(cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (side, side)), np.uint8)
