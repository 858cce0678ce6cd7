"""A number whose last digit is too faint to count as ink. Checked against what was drawn."""

from __future__ import annotations

import cv2
import numpy as np

from pairing.photos.written.faint_ends import goes_on_faintly
from pairing.photos.written.frame import Mark, ink_of, parts_of

PAPER, INK, FAINT = 190, 70, 162


def line(*, after: str = "", value: int = FAINT, gap: int = 0) -> np.ndarray:
    gray = np.full((220, 900), PAPER, np.uint8)
    for at, digit in enumerate("70616249048892159665"):
        cv2.putText(gray, digit, (40 + 36 * at, 130), cv2.FONT_HERSHEY_SIMPLEX, 1.5, (INK,), 5)
    where = (40 + 36 * 20 + gap, 130)
    cv2.putText(gray, after, where, cv2.FONT_HERSHEY_SIMPLEX, 1.5, (value,), 5)
    noisy = gray + np.random.default_rng(5).normal(0, 2, gray.shape)
    return np.asarray(np.clip(cv2.GaussianBlur(noisy, (0, 0), 1.0), 0, 255), np.uint8)


def marks(gray: np.ndarray) -> list[Mark]:
    return [(*part[:2], *part[2:4]) for part in parts_of(ink_of(gray)) if part[3] > 20]


def test_a_digit_too_faint_to_be_ink_is_seen() -> None:
    gray = line(after="2")
    assert max(x + wide for x, _, wide, _ in marks(gray)) < 770
    assert goes_on_faintly(gray, marks(gray))


def test_paper_alone_and_a_side_of_the_box_are_nothing() -> None:
    gray = line()
    assert not goes_on_faintly(gray, marks(gray))
    cv2.line(gray, (785, 0), (785, 219), (FAINT,), 4)
    assert not goes_on_faintly(gray, marks(gray)[:20])


def test_what_is_farther_off_does_not_belong_to_it() -> None:
    gray = line(after="2", gap=50)
    assert not goes_on_faintly(gray, marks(gray))
