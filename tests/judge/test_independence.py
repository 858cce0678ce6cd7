"""Whether label and box were read apart from each other. Common practice of double keying, no
source: two readings count as two where neither can have been made from the other."""

from __future__ import annotations

from dataclasses import replace

import pytest

from pairing.findings import Code, Finding
from pairing.judge import independence, judge
from pairing.model import How, Quad, Reading, Side, Verdict
from tests.judge.readings import CARD, PACKAGE, PLACE, read

ELSEWHERE = Quad(top_left=(0, 50), top_right=(90, 50), bottom_right=(90, 59), bottom_left=(0, 59))
CONFIRMED = Finding.of(Code.LABEL_CONFIRMED, operator="clerk 7", why="the bars are torn")
UNCONFIRMED, ONE_SOURCE = (Finding.of(Code.LABEL_UNCONFIRMED),), (Finding.of(Code.ONE_SOURCE),)


def label(how: How, source: str, place: Quad | None) -> Reading:
    return replace(read(Side.LABEL, PACKAGE, how), source=source, quad=place)


def box(source: str, place: Quad | None) -> Reading:
    return replace(read(Side.BOX, PACKAGE, How.HAND), source=source, quad=place)


@pytest.mark.parametrize(
    ("source", "label_place", "box_place", "doubts"),
    [
        ("other.jpg", None, None, ()),
        ("other.jpg", PLACE, None, ()),
        ("one.jpg", PLACE, ELSEWHERE, ()),
        ("one.jpg", PLACE, None, ONE_SOURCE),
        ("one.jpg", None, ELSEWHERE, ONE_SOURCE),
        ("one.jpg", None, None, ONE_SOURCE),
    ],
)
def test_two_readings_are_of_two_sources_or_of_two_places_in_one_picture(
    source: str, label_place: Quad | None, box_place: Quad | None, doubts: tuple[Finding, ...]
) -> None:
    readings = label(How.BARCODE, "one.jpg", label_place), box(source, box_place)
    assert independence.doubts(readings[:1], readings[1:], ()) == doubts
    judged = judge([*readings, read(Side.CARD, CARD)])
    assert judged.verdict is (Verdict.UNREAD if doubts else Verdict.AGREES)
    assert (ONE_SOURCE[0] in judged.findings) == bool(doubts)


def test_one_independent_pair_among_several_is_enough() -> None:
    labels = [label(How.BARCODE, "one.jpg", None), label(How.PRINT, "two.jpg", None)]
    assert independence.doubts(labels, [box("one.jpg", None)], ()) == ()
    assert independence.doubts(labels[:1], [box("one.jpg", None)], ()) == ONE_SOURCE


def test_a_keyed_label_counts_on_an_operators_word_alone() -> None:
    keyed, boxes = [label(How.KEYED, "keyed", None)], [box("one.jpg", None)]
    assert independence.doubts(keyed, boxes, ()) == UNCONFIRMED
    assert independence.doubts(keyed, boxes, (CONFIRMED,)) == ()
    # Beside bars it neither helps nor hinders.
    barcode = label(How.BARCODE, "one.jpg", None)
    assert independence.doubts([*keyed, barcode], boxes, ()) == ONE_SOURCE
