"""Writing wherever people put it in the box, on drawn cards by a hand never trained on
(`pairing/demo`): small, large and over the side, in two lines, on the rule, through it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from pairing.demo import PIECES, BoxBy
from pairing.demo.cards import BOX_MM, card_sheet
from pairing.demo.hand import HANDS
from pairing.demo.paper import grouped, write
from pairing.demo.studio import _alone
from pairing.judge.box import decide
from pairing.model import Verdict
from pairing.photos.barcodes.symbols import read_symbols
from pairing.photos.written import Unread, read_box, shared_reader, thresholds
from pairing.photos.written.box import BoxReading

NUMBER = "9589073361400945807301"  # made up
LEFT, TOP, WIDE, HIGH = BOX_MM
FOOT = TOP + HIGH


@dataclass(frozen=True, slots=True, kw_only=True)
class Written:
    """One line on a card: what, from where, its baseline, the room it has, its height (mm)."""

    text: str
    left: float = LEFT + 1.2
    foot: float
    wide: float = WIDE - 2.5
    high: float = 4.5


def read(*written: Written) -> BoxReading:
    """What is read on a card with those lines on it."""
    base = next(piece for piece in PIECES if piece.name == "0009")
    piece = replace(base, name="9100", box="", box_by=BoxBy.EMPTY)
    rng = np.random.default_rng(3)
    card = card_sheet(piece, rng)
    for line in written:
        place = (line.left, line.foot, line.wide, line.high)
        write(card, line.text, HANDS["indie"], place, rng)
    photo = _alone(card, piece, 1, rng)
    gray = np.asarray(Image.open(BytesIO(photo)).convert("L"))
    (symbol,) = read_symbols(gray).symbols
    return read_box(gray, symbol.quad, shared_reader())


CLEAR = {
    "small": [Written(text=grouped(NUMBER), foot=FOOT - 3, high=2.6)],
    "ungrouped": [Written(text=NUMBER, foot=FOOT - 3)],
    "over the side": [Written(text=grouped(NUMBER), foot=FOOT - 1.5, wide=WIDE + 8, high=7)],
    "in two lines": [
        Written(text=grouped(NUMBER)[:14], foot=TOP + 4.6, high=3.6),
        Written(text=grouped(NUMBER)[15:], foot=FOOT - 0.8, high=3.6),
    ],
}
HARD = {
    "through the lower rule": [Written(text=grouped(NUMBER), foot=FOOT + 1.2)],
    "through the upper rule": [Written(text=grouped(NUMBER), foot=TOP + 2.2)],
    "on the lower rule": [Written(text=grouped(NUMBER), foot=FOOT + 0.1)],
    "over both sides": [
        Written(text=grouped(NUMBER), left=LEFT - 3, foot=FOOT - 2.5, wide=WIDE + 8, high=5)
    ],
}


@pytest.mark.parametrize("placing", CLEAR)
def test_it_is_read_wherever_it_stands(placing: str) -> None:
    box = read(*CLEAR[placing])
    assert box.line is not None
    assert box.line.best == NUMBER


@pytest.mark.parametrize("placing", HARD)
def test_what_goes_over_the_rules_is_read_or_left_to_a_person(placing: str) -> None:
    box = read(*HARD[placing])
    assert box.reason is not Unread.EMPTY
    if box.line is None:
        return
    assert placing == "on the lower rule" or box.used[0].is_over_edge
    for label in (NUMBER, NUMBER[:-1], NUMBER[1:], NUMBER.replace("45", "54")):
        verdict = decide(box.line, label, thresholds=thresholds(), group_sizes=(4,)).verdict
        assert label == NUMBER or verdict is not Verdict.AGREES


def test_two_numbers_are_not_chosen_from() -> None:
    first = Written(text=grouped(NUMBER), foot=TOP + 4.6, high=3.3)
    second = Written(text=grouped(NUMBER), foot=FOOT - 0.9, high=3.3)
    assert read(first, second).reason is Unread.SEVERAL
