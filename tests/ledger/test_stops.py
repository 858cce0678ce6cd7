"""What is kept in mind of a stopped piece: by its label and card, and by the piece it is about."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from pairing.findings import Finding, Weight
from pairing.ledger import Draft, Kind, Ledger, check_proof
from pairing.model import Verdict
from tests.ledger.making import Clock, card, label, pair, void

WRONG = Finding.read_back("box-one-digit", message="One digit differs.", weight=Weight.CLASH)


def stopped(article: int, with_card: int, **more: object) -> Draft:
    """A piece whose box differs."""
    draft = pair(article, with_card, kind=Kind.STOPPED, verdict=Verdict.DIFFERS)
    return replace(draft, written=label(99), findings=(WRONG,), **more)  # type: ignore[arg-type]


def codes(ledger: Ledger, draft: Draft) -> list[str]:
    """What is recorded of it."""
    return [one.code for one in ledger.append(draft).entry.findings]


def test_a_stopped_label_or_card_is_named_when_it_comes_again(ledger: Ledger, clock: Clock) -> None:
    """Tried at the page: a card stopped with label A was sealed with label B a minute later, and
    nothing said so."""
    first = ledger.append(stopped(1, 1)).entry
    entry = ledger.append(pair(2, 1)).entry
    assert [one.code for one in entry.findings] == ["card-stopped-before"]
    assert f"stopped as {first.name}" in entry.findings[0].message
    assert "(One digit differs)" in entry.findings[0].message
    ledger.append(void(entry.sequence))
    both = codes(ledger, pair(1, 1))
    assert {"label-stopped-before", "card-stopped-before"} <= set(both)
    assert codes(ledger, pair(3, 3)) == []
    clock.now += timedelta(days=1)
    assert codes(ledger, pair(1, 4)) == ["label-taken"]


def test_a_correction_that_differs_marks_the_piece_and_its_proof(ledger: Ledger) -> None:
    """It was left sealed and unmarked."""
    first = ledger.append(pair(1, 1)).entry
    again = ledger.append(stopped(1, 1, refers=first.sequence)).entry
    (piece,) = ledger.pieces()
    assert piece.contradicted == again
    assert piece.history == (first.sequence, again.sequence)
    found = check_proof(ledger.proof(label(1)))
    assert found.holds
    assert found.piece is not None
    assert found.piece.contradicted == again
    ledger.append(pair(1, 1, kind=Kind.CORRECTED, refers=first.sequence))
    (piece,) = ledger.pieces()
    assert piece.contradicted is None


def test_what_is_about_another_piece_or_not_read_marks_nothing(ledger: Ledger) -> None:
    first = ledger.append(pair(1, 1)).entry
    ledger.append(stopped(2, 2, refers=first.sequence))
    ledger.append(replace(stopped(1, 1, refers=first.sequence), verdict=Verdict.UNREAD))
    ledger.append(stopped(1, 1))
    (piece,) = ledger.pieces()
    assert piece.contradicted is None
    assert piece.card == card(1)
