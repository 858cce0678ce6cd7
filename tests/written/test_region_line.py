"""A line cut out of a region whose form has ink at it. Pictures drawn here."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from pairing.photos.written.plane import Plane, rectangle
from pairing.photos.written.region import Content, Region, content_of
from pairing.photos.written.region_line import is_bared, is_lifted, line_in, without_rules

HIGH, WIDE, RULE = 330, 1050, 236
BOX = rectangle(60.0, 60.0, 930.0, 176.0)


def region(through_rule: float, *, dividing: bool = False) -> Region:
    """Twenty digits that stand on a rule, or between a comb's black dividing lines; one 7's stem is
    on such a line."""
    gray, printed = np.full((HIGH, WIDE), 200.0), np.zeros((HIGH, WIDE), np.uint8)
    pen = np.zeros((HIGH, WIDE), np.uint8)
    for at in range(20):
        where = (100 + 42 * at, RULE)
        cv2.putText(pen, str(at % 10), where, cv2.FONT_HERSHEY_SIMPLEX, 1.5, (255,), 5)
    cv2.line(printed, (60, RULE), (990, RULE), (255,), 4)
    for x in range(93, 990, 42) if dividing else ():
        cv2.line(printed, (x, 150), (x, RULE), (255,), 4)
    gray[printed > 0] *= through_rule
    gray[pen > 0] *= 0.3
    soft = np.asarray(cv2.GaussianBlur(gray, (0, 0), 1.0), np.uint8)
    return Region(plane=Plane(gray=soft, to_photo=np.eye(3), scale=1.0), box=BOX, printed=printed)


def row_of(content: Content) -> list[tuple[float, float, float, float]]:
    return max(content.rows, key=len)


def test_a_number_on_a_rule_is_cut_without_it() -> None:
    own = region(0.5)
    content = content_of(own)
    row = row_of(content)
    assert len(row) == 20
    assert is_lifted(content, row)
    line = line_in(own.plane.gray, own, content, row)
    # Between the digits' feet there is paper.
    assert np.percentile(line.picture[25:30, 20:600], 60) > 170
    bare = without_rules(own.plane.gray, own, content)
    assert bare[RULE, 70:95].min() > 175
    assert (bare[:100] == own.plane.gray[:100]).all()


@pytest.mark.parametrize("dividing", [False, True])
def test_writing_beside_lines_that_were_painted_over_is_not_surely_whole(dividing: bool) -> None:
    own = region(0.05, dividing=dividing)
    content = content_of(own)
    assert line_in(own.plane.gray, own, content, row_of(content)).is_over_edge is dividing


@pytest.mark.parametrize("dividing", [False, True])
def test_a_line_is_shown_without_a_black_rule_along_it_but_not_with_gaps(dividing: bool) -> None:
    own = region(0.05, dividing=dividing)
    content = content_of(own)
    assert not is_lifted(content, row_of(content))
    assert is_bared(content, row_of(content)) is not dividing
    assert without_rules(own.plane.gray, own, content)[RULE, 70:95].min() > 175


def test_a_rest_of_the_forms_ink_is_not_shown() -> None:
    own = region(0.5)
    # A blot of the printer, wider than the rule that it is on.
    cv2.circle(own.plane.gray, (80, RULE + 7), 4, (40,), -1)
    content = content_of(own)
    assert content.slivers[RULE + 7, 80]
    assert without_rules(own.plane.gray, own, content)[RULE + 7, 80] > 150
