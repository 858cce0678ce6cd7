"""What the camera saw in the box, weighed once and blind.

Pieces: the sample set's manifest. The decision itself is tested with `pairing.judge.box`.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from pairing.kiosk.camera_box import Frame, Writing, beside_print
from pairing.model import How, Side, TrackingNumber
from pairing.numbers import identify
from pairing.pieces.photo_groups import Photo
from pairing.pieces.reading import read_photo
from tests.kiosk.making import SAMPLES, copied_pieces

ROWS = {row["piece"]: row for row in copied_pieces()}


def frame(name: str) -> Frame:
    """A photo of the sample set as a camera's frame."""
    first = read_photo(Photo(path=Path(SAMPLES / name), shows=None)).frames[0]
    return Frame(readings=first.readings, seen=first.seen, digest="0" * 64)


@pytest.mark.parametrize("piece", ["0008", "0010", "0013", "0015", "0017", "0021"])
def test_a_written_box_is_never_taken_for_what_it_is_not(piece: str) -> None:
    writing, row = Writing(), ROWS[piece]
    writing.add(frame(f"{piece}-card.jpg"))
    label = identify(row["article"])
    assert isinstance(label, TrackingNumber)
    readings, _ = writing.weighed(label, row["card"])
    assert [one.number.text for one in readings] in ([], [row["box"]])
    assert all(one.how is How.HAND and one.side is Side.BOX for one in readings)


def test_it_is_weighed_once_a_piece() -> None:
    writing, row = Writing(), ROWS["0008"]
    seen = frame("0008-card.jpg")
    label = identify(row["article"])
    assert isinstance(label, TrackingNumber)
    assert writing.weighed(label, row["card"]) == ((), "")  # nothing seen yet: still to come
    writing.add(seen)
    writing.add(replace(seen, digest="1" * 64))
    first, digest = writing.weighed(label, row["card"])
    assert digest == ("0" * 64 if first else "")
    assert writing.weighed(label, row["card"]) == ((), "")


def test_the_box_of_another_card_is_never_this_ones() -> None:
    """A card was seen and put back; label and another card came after. What was in its box
    says nothing of theirs, even where it repeats the label's number."""
    row = ROWS["0010"]
    label = identify(row["article"])
    assert isinstance(label, TrackingNumber)
    own, other = Writing(), Writing()
    for writing in (own, other):
        writing.add(frame("0010-card.jpg"))
    assert other.weighed(label, ROWS["0008"]["card"]) == ((), "")
    assert other.weighed(label, None) == ((), "")
    (box,), _ = own.weighed(label, row["card"])
    assert box.number.text == row["article"]


def test_bars_and_print_of_one_strip() -> None:
    """Piece 0001: both say the same. Piece 0033: the print says another number; it is either
    seen to differ or not read surely, and then the bars count."""
    same = frame("0001-card.jpg")
    (box,) = [one for one in beside_print(same.readings, same.seen) if one.side is Side.BOX]
    assert not box.in_doubt
    other = frame("0033-card.jpg")
    (box,) = [one for one in beside_print(other.readings, other.seen) if one.side is Side.BOX]
    assert box.in_doubt
    assert "another number is printed" in box.findings[-1].message
