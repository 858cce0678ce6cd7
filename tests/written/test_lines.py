"""Lines cut from drawn cards, by hands and faces never trained on (`draw_lines.py` says how
they were made and under which licenses), against labels that they do and do not repeat."""

from __future__ import annotations

import csv
from pathlib import Path

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from stdnum import ean

from pairing.judge.box import decide
from pairing.model import Verdict
from pairing.photos.written import Reader, WrittenLine, read, thresholds
from pairing.photos.written.reader import _RECENT, HIGH_PX, WIDE_PX, Look

FOLDER = Path(__file__).parent / "lines"
ROWS = list(csv.DictReader((FOLDER / "lines.csv").open(newline="")))
IDS = [f"{at}-{row['hand'] or row['by']}-{row['kind']}" for at, row in enumerate(ROWS)]

KINDS = len({row["kind"] for row in ROWS})


@pytest.fixture(scope="module")
def lines() -> list[WrittenLine]:
    reader = Reader.load()
    sheet = cv2.imread(str(FOLDER / "lines.png"), cv2.IMREAD_GRAYSCALE)
    assert sheet is not None
    pictures = np.split(np.asarray(sheet, np.uint8), len(ROWS))
    assert {len(picture) for picture in pictures} == {HIGH_PX}
    return [read([picture], reader) for picture in pictures]


def verdict(line: WrittenLine, label: str, card: str, rate: str = "1e-4") -> Verdict:
    return decide(
        line, label, thresholds=thresholds(rate), group_sizes=(4,), card=card
    ).verdict  # fmt: skip


def test_the_traps_are_what_they_are_called() -> None:
    """python-stdnum: every number here is valid by itself but the look-alikes, so that no check
    digit could tell."""
    kinds = {row["kind"] for row in ROWS}
    assert kinds == {"right", "look-alike", "swap-five-apart", "own-card-number",
                     "neighbour-label"}  # fmt: skip
    for row in ROWS:
        assert (row["text"] == row["article"]) == (row["kind"] == "right")
        is_valid = ean.calc_check_digit(row["text"][:-1]) == row["text"][-1]
        assert is_valid == (row["kind"] != "look-alike")


@pytest.mark.parametrize("at", range(len(ROWS)), ids=IDS)
def test_no_line_agrees_with_a_label_that_it_does_not_repeat(
    lines: list[WrittenLine], at: int
) -> None:
    """Its own label, the card's own number, and the labels of the lines drawn along with it, at
    the loosest rate; what the stricter ones let pass, this one does."""
    row = ROWS[at]
    kin = ROWS[at // KINDS * KINDS : at // KINDS * KINDS + KINDS]
    for label in {other[side] for other in kin for side in ("article", "card", "text")}:
        if label != row["text"]:
            assert verdict(lines[at], label, row["card"], "1e-3") is not Verdict.AGREES


@pytest.mark.parametrize("at", range(len(ROWS)), ids=IDS)
def test_no_line_differs_from_the_label_that_it_repeats(lines: list[WrittenLine], at: int) -> None:
    row = ROWS[at]
    assert verdict(lines[at], row["text"], row["card"]) is not Verdict.DIFFERS


@pytest.mark.parametrize(
    "at", [at for at, row in enumerate(ROWS) if row["by"] != "hand"], ids=lambda at: IDS[at]
)
def test_print_is_read_to_the_digit(lines: list[WrittenLine], at: int) -> None:
    row = ROWS[at]
    assert lines[at].best == row["text"]
    right = Verdict.AGREES if row["kind"] == "right" else Verdict.DIFFERS
    assert verdict(lines[at], row["article"], row["card"]) is right


def test_most_handwriting_is_read_to_the_digit(lines: list[WrittenLine]) -> None:
    by_hand = [at for at, row in enumerate(ROWS) if row["by"] == "hand"]
    right = [at for at in by_hand if lines[at].best == ROWS[at]["text"]]
    assert len(right) >= 0.7 * len(by_hand)


def test_a_picture_is_looked_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    reader = Reader.load()
    rng = np.random.default_rng(3)
    pictures = rng.integers(0, 255, (_RECENT + 1, HIGH_PX, WIDE_PX), dtype=np.uint8)
    seen: list[int] = []
    look = Reader._seen

    def counted(self: Reader, line: NDArray[np.uint8]) -> Look:
        seen.append(len(seen))
        return look(self, line)

    monkeypatch.setattr(Reader, "_seen", counted)
    first = reader.look(pictures[0])
    again = reader.look(pictures[0].copy())
    assert len(seen) == 1
    assert all(np.array_equal(a, b) for a, b in zip(first, again, strict=True))
    others = [reader.look(one) for one in pictures[1:]]
    assert len(seen) == _RECENT + 1
    assert not np.array_equal(others[0].chances, first.chances)
    fresh = Reader.load().look(pictures[0])  # the first was left out by now
    assert all(np.array_equal(a, b) for a, b in zip(reader.look(pictures[0]), fresh, strict=True))
    assert len(seen) == _RECENT + 3
