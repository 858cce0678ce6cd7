"""Digits that another one was written over, by the paper that they enclose; drawn."""

from __future__ import annotations

from types import SimpleNamespace

import cv2
import numpy as np
import pytest

from pairing.photos.written.holes import enclosed, is_written_over

PITCH, TOP, WIDE, HIGH = 60, 20, 36, 56
Page = np.ndarray


def ring(page: Page, at: int, *, top: int = TOP, high: int = HIGH) -> None:
    middle = (round((at + 0.5) * PITCH), top + high // 2)
    cv2.ellipse(page, middle, (WIDE // 2, high // 2), 0, 0, 360, (255,), 5)


def stroke(page: Page, at: int, share: float, *, gap: int = 0) -> None:
    """From the upper right to the lower left, a share of the width aslant."""
    x, off = (at + 0.5) * PITCH, share * WIDE / 2
    cv2.line(page, (round(x + off), TOP + gap), (round(x - off), TOP + HIGH - gap), (255,), 5)


def told(page: Page, text: str, *, is_even: bool = False) -> bool:
    _, _, stats, _ = cv2.connectedComponentsWithStats(page)
    row = [tuple(float(v) for v in one[:4]) for one in stats[1:]]
    spans = tuple((at * PITCH + 10.0, at * PITCH + PITCH - 10.0) for at in range(len(text)))
    line, read = (
        SimpleNamespace(row_px=(0.0, 1.0), is_even=is_even),
        SimpleNamespace(best=text, spans_px=spans),
    )
    return is_written_over(line, page, sorted(row), read)  # type: ignore[arg-type]


def zeros(count: int = 3) -> Page:
    page = np.zeros((TOP + HIGH + 20, count * PITCH), np.uint8)
    for at in range(count):
        ring(page, at)
    return page


def test_plain_zeros_are_as_they_are_written() -> None:
    assert not told(zeros(), "000")


@pytest.mark.parametrize("share", [0.0, 0.5, 0.9])
def test_a_stroke_in_one_zero_of_several_is_seen(share: float) -> None:
    page = zeros()
    stroke(page, 1, share)
    assert told(page, "000")


def test_whoever_slashes_all_zeros_may() -> None:
    page = zeros()
    for at in range(3):
        stroke(page, at, 0.9)
    assert not told(page, "000")
    lone = zeros(1)
    stroke(lone, 0, 0.9)
    assert not told(lone, "0")


def test_a_one_in_the_only_zero_is_no_slash() -> None:
    page = zeros(1)
    stroke(page, 0, 0.15)
    assert told(page, "0")


def test_a_stroke_that_touches_nothing_is_seen() -> None:
    page = zeros()
    stroke(page, 1, 0.1, gap=14)
    assert told(page, "000")


@pytest.mark.parametrize(("digit", "is_seen"), [("8", False), ("6", True), ("3", True)])
def test_two_rings_are_an_eight(digit: str, is_seen: bool) -> None:
    page = np.zeros((TOP + HIGH + 20, 2 * PITCH), np.uint8)
    ring(page, 0)
    ring(page, 1, high=HIGH // 2)
    ring(page, 1, top=TOP + HIGH // 2, high=HIGH // 2)
    assert told(page, f"0{digit}") is is_seen


def test_a_one_with_a_ring_is_none() -> None:
    page = zeros(2)
    assert told(page, "01")
    assert not told(page, "06")


def test_letters_and_print_are_not_judged_so() -> None:
    page = zeros()
    stroke(page, 1, 0.5)
    assert not told(page, "RR0")
    assert told(page, "000")
    assert not told(page, "000", is_even=True)


def test_what_is_enclosed_is_told_by_its_share() -> None:
    page = zeros(1)
    (_, _, stats, _) = cv2.connectedComponentsWithStats(page)
    left, top, wide, high = (float(v) for v in stats[1][:4])
    found = enclosed(page, (left, top, wide, high))
    assert len(found.shares) == 1
    assert 0.4 < found.shares[0] < 0.7
    assert abs(found.middles - 0.5).max() < 0.05
    assert not found.is_marked
    assert enclosed(np.zeros_like(page), (left, top, wide, high)).shares == ()
