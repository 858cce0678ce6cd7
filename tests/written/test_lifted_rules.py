"""A rule lifted off the strokes that cross it. Pictures drawn here; sizes in mm."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from pairing.photos.written.lifted_rules import lifted
from pairing.photos.written.plane import PX_PER_MM

PAPER, THROUGH_PEN = 220.0, 0.35
HIGH, WIDE, LEVEL = round(14 * PX_PER_MM), round(60 * PX_PER_MM), 8.0
STROKES = tuple(range(8, 52, 3))


def share(*lines: tuple[float, float, float, float], wide_mm: float) -> NDArray[np.float64]:
    """1 on the lines, from (x, y) to (x, y), drawn four times as large."""
    drawn = np.zeros((HIGH * 4, WIDE * 4), np.uint8)
    for line in lines:
        x0, y0, x1, y1 = (round(v * PX_PER_MM * 4) for v in line)
        cv2.line(drawn, (x0, y0), (x1, y1), (255,), round(wide_mm * PX_PER_MM * 4), cv2.LINE_AA)
    small = cv2.resize(drawn, (WIDE, HIGH), interpolation=cv2.INTER_AREA)
    return np.asarray(small, np.float64) / 255.0


def photo(through_rule: float, *, strokes: bool = True) -> tuple[NDArray[np.uint8], ...]:
    """The paper with both, with the strokes alone, and 255 on the rule."""
    rule = share((0.0, LEVEL, 60.0, LEVEL + 0.4), wide_mm=0.35)
    pen = share(*((x, 4.5, x - 1.0, 9.5) for x in STROKES), wide_mm=0.5) if strokes else 0 * rule
    light = PAPER * (1 - (1 - THROUGH_PEN) * pen)
    noise = np.random.default_rng(2).normal(0, 1.5, rule.shape)
    both, alone = (
        np.asarray(np.clip(cv2.GaussianBlur(one, (0, 0), 1.1) + noise, 0, 255), np.uint8)
        for one in (light * (1 - (1 - through_rule) * rule), light)
    )
    return both, alone, np.where(rule > 0.5, np.uint8(255), np.uint8(0))


@pytest.mark.parametrize("through_rule", [0.8, 0.6, 0.4])
def test_strokes_over_a_rule_come_out_as_without_it(through_rule: float) -> None:
    both, alone, rule = photo(through_rule)
    bare, done = lifted(both, rule, np.zeros_like(rule))
    assert (done[rule > 0] > 0).mean() > 0.99
    off = np.abs(bare.astype(int) - alone)[rule > 0]
    before = np.abs(both.astype(int) - alone)[rule > 0]
    assert off.mean() < 0.3 * before.mean()
    # Each stroke is one mark as high as it was drawn.
    _, _, stats, _ = cv2.connectedComponentsWithStats((bare < 150).astype(np.uint8))
    tall = stats[1:][stats[1:, cv2.CC_STAT_HEIGHT] > 4.5 * PX_PER_MM]
    assert len(tall) == len(STROKES)
    # Only there is anything changed.
    assert (bare == both)[: round((LEVEL - 1.2) * PX_PER_MM)].all()


def test_a_rule_without_writing_leaves_paper() -> None:
    both, _, rule = photo(0.5, strokes=False)
    bare, _ = lifted(both, rule, np.zeros_like(rule))
    assert bare[:, 40:-40].min() > 0.88 * PAPER


def test_a_black_rule_is_left_as_it_is() -> None:
    both, _, rule = photo(0.0)
    bare, done = lifted(both, rule, np.zeros_like(rule))
    assert (bare == both).all()
    assert not done.any()


def test_an_upright_rule_is_lifted_too() -> None:
    both, alone, rule = photo(0.5)
    turned = np.ascontiguousarray(both.T), np.ascontiguousarray(rule.T)
    bare, _ = lifted(turned[0], np.zeros_like(turned[1]), turned[1])
    across, _ = lifted(both, rule, np.zeros_like(rule))
    assert (bare == across.T).all()
    assert alone.shape == bare.T.shape
