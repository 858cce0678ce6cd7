"""A sealed piece that is read again, and what becomes of its seal."""

from __future__ import annotations

from pairing.desk.answers import Advice
from pairing.desk.counter import Counter
from pairing.desk.strip_timer import TURN_OVER_S
from pairing.desk.words import Arrived
from pairing.ledger import Ledger
from pairing.model import Side
from tests.desk.conftest import Now, take
from tests.ledger.making import card, label


def test_a_correction_that_differs_unseals_the_entry(desk: Counter, ledger: Ledger) -> None:
    lines = (label(1), card(1), f"box {label(1)}")
    answers = [desk.take(line, key=f"k{place}") for place, line in enumerate(lines)]
    assert answers[-1].finished[0].advice is Advice.SEAL
    (piece,) = take(desk, "correct 1", label(1), card(1), f"box {label(2)}")
    assert piece.advice is Advice.DO_NOT_SEAL
    (stands,) = ledger.pieces()
    assert stands.contradicted == piece.entry
    again = desk.take(lines[-1], key="k2").finished[0]
    assert again.advice is not Advice.SEAL


def test_a_correction_of_a_correction_that_differs_unseals_the_piece(
    desk: Counter, ledger: Ledger
) -> None:
    """The last entry was then a correction, which is no piece to be marked."""
    take(desk, label(1), card(1), f"box {label(1)}")
    (piece,) = take(desk, "correct", label(1), card(2), f"box {label(1)}")
    assert piece.advice is Advice.CORRECTED
    (piece,) = take(desk, "correct", label(1), card(2), f"box {label(3)}")
    assert piece.advice is Advice.DO_NOT_SEAL
    (stands,) = ledger.pieces()
    assert stands.contradicted == piece.entry
    take(desk, "aside")
    (piece,) = take(desk, "correct", label(1), card(2), f"box {label(1)}")
    assert piece.advice is Advice.CORRECTED
    (stands,) = ledger.pieces()
    assert stands.contradicted is None


def test_a_sealed_piece_that_differs_when_it_comes_by_again_is_marked(
    desk: Counter, ledger: Ledger
) -> None:
    """Nobody said `correct`."""
    lines = (label(1), card(1), f"box {label(1)}")
    for place, line in enumerate(lines):
        desk.take(line, key=f"k{place}")
    (piece,) = take(desk, label(1), card(1), f"box {label(2)}")
    assert piece.advice is Advice.DO_NOT_SEAL
    (stands,) = ledger.pieces()
    assert stands.contradicted == piece.entry
    take(desk, "aside")
    assert desk.take(lines[-1], key="k2").finished[0].advice is not Advice.SEAL
    (piece,) = take(desk, "correct 1", *lines)  # it was a slip of the keys
    assert piece.advice is Advice.CORRECTED
    (stands,) = ledger.pieces()
    assert stands.contradicted is None


def test_whoever_does_something_else_after_announcing_a_strip_announces_it_again(
    desk: Counter, now: Now
) -> None:
    take(desk, label(1), card(1), "strip")
    now.passed_s += TURN_OVER_S
    desk.take("count")
    now.passed_s += TURN_OVER_S
    assert not desk.take(label(1), arrived=Arrived.SCANNED).finished
    assert desk.missing == (Side.BOX,)
