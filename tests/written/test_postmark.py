"""A postmark's rings beside the number are explained; what only looks like one is not."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from pairing.photos.written.plane import PX_PER_MM, laid_flat
from pairing.photos.written.postmark import without_postmark
from pairing.photos.written.region import Content, Region, content_of

_BOX_MM = (40.0, 45.0, 90.0, 14.0)
_MARGIN_MM = 9.0
_RULE_PX = 4


def _px(mm: float) -> int:
    return round(mm * PX_PER_MM)


def _paper() -> NDArray[np.uint8]:
    """A card of 150 by 105 mm with a number in its box."""
    paper = np.full((_px(105), _px(150)), 225, np.uint8)
    left, top, wide, high = _BOX_MM
    corners = (_px(left), _px(top)), (_px(left + wide), _px(top + high))
    cv2.rectangle(paper, *corners, (90,), _RULE_PX, cv2.LINE_AA)
    for at in range(20):
        x = left + 6 + 3.4 * at + 2.0 * (at // 4)
        cv2.putText(paper, str((7 * at + 3) % 10), (_px(x), _px(top + high - 4)),
                    cv2.FONT_HERSHEY_SIMPLEX, 1.9, (40,), 5, cv2.LINE_AA)  # fmt: skip
    return paper


def _contents(paper: NDArray[np.uint8]) -> tuple[Content, Content]:
    """What is in the box, and the same without a postmark."""
    left, top, wide, high = (one * PX_PER_MM for one in _BOX_MM)
    margin = _MARGIN_MM * PX_PER_MM
    to_photo = np.array([[1.0, 0, left - margin], [0, 1, top - margin], [0, 0, 1]])
    plane = laid_flat(paper, to_photo, (round(wide + 2 * margin), round(high + 2 * margin)))
    corners = [(0, 0), (wide, 0), (wide, high), (0, high)]
    box = np.array(corners, np.float64) + margin
    printed = np.zeros_like(plane.gray)
    (left_px, top_px), _, (right_px, foot_px), _ = np.round(box).astype(int).tolist()
    cv2.rectangle(printed, (left_px, top_px), (right_px, foot_px), (255,), _RULE_PX + 2)
    region = Region(plane=plane, box=box, printed=printed)
    content = content_of(region)
    return content, without_postmark(paper, region, content)


def _arc(paper: NDArray[np.uint8], middle: tuple[float, float], radius: float,
         degrees: tuple[float, float] = (0.0, 360.0)) -> None:  # fmt: skip
    at, axes = (_px(middle[0]), _px(middle[1])), (_px(radius), _px(radius))
    cv2.ellipse(paper, at, axes, 0, *degrees, (120,), _px(0.45), cv2.LINE_AA)


def test_rings_that_go_on_around_off_the_box_are_explained() -> None:
    # 25 and 16 mm wide: common practice, no source.
    paper = _paper()
    for radius in (12.5, 8.0):
        _arc(paper, (127.0, 37.0), radius)
    before, after = _contents(paper)
    assert len(before.left_over) + len(before.rows) > 1
    assert not after.left_over
    assert [len(row) for row in after.rows] == [20]


@pytest.mark.parametrize(
    ("why", "middle", "radius", "degrees"),
    [
        ("half of a ring", (127.0, 37.0), 12.5, (60.0, 230.0)),
        ("a ring around digits", (110.0, 53.0), 6.5, (0.0, 360.0)),
        ("a ring that runs through digits", (118.0, 45.0), 12.5, (0.0, 360.0)),
        ("a small ring, as around a digit", (125.0, 50.0), 3.5, (0.0, 360.0)),
    ],
)
def test_what_only_looks_like_one_is_not(
    why: str, middle: tuple[float, float], radius: float, degrees: tuple[float, float]
) -> None:
    paper = _paper()
    _arc(paper, middle, radius, degrees)
    before, after = _contents(paper)
    plain, _ = _contents(_paper())
    assert [before.rows, before.left_over] != [plain.rows, plain.left_over], why
    assert after.rows == before.rows, why
    assert after.left_over == before.left_over, why


def test_a_stroke_beside_a_ring_stays() -> None:
    paper = _paper()
    _arc(paper, (127.0, 37.0), 12.5)
    cv2.putText(paper, "no", (_px(60.0), _px(49.5)), cv2.FONT_HERSHEY_SIMPLEX, 1.2, (60,), 4)
    _, after = _contents(paper)
    assert after.left_over or len(after.rows) > 1


def test_a_box_with_nothing_beside_its_number_is_as_it_was() -> None:
    before, after = _contents(_paper())
    assert after is before
    assert [len(row) for row in after.rows] == [20]
