"""A returned card is worth something only signed and dated: said, or not said, and put right.

That the addressee signs and dates the card: PS Form 3811, items A to C, as transcribed in
../shared/standards.md, 2.4. What a clerk says by which word is the program's own."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from pairing.desk.card_session import CardSession
from pairing.desk.returns import CardResult, take_back
from pairing.findings import Code, Weight
from pairing.judge.fields import SETTABLE_ON_RETURN
from pairing.ledger import Kind, Ledger, State
from pairing.model import Verdict
from tests.ledger.making import Clock, card, label, pair

TODAY = date(2026, 3, 2)


@pytest.fixture
def ledger(tmp_path: Path) -> Iterator[Ledger]:
    """A ledger with two accepted pieces."""
    with Ledger.open(str(tmp_path / "ledger.db"), clock=Clock()) as opened:
        opened.append(pair(1, 1))
        opened.append(pair(2, 2))
        yield opened


def day(ledger: Ledger, *lines: str, only_notes: Sequence[str] = ()) -> list[CardResult]:
    """What becomes of each card, line by line, as `counterfoil returned` does it."""
    session = CardSession(is_live=True)
    results: list[CardResult] = []

    def take(cards: object) -> None:
        for read in cards:  # type: ignore[attr-defined]
            last = results[-1] if results else None
            done = take_back(
                ledger, read, desk="d", operator="o", today=TODAY, last=last, only_notes=only_notes
            )
            session.judged(is_in_order=done.verdict is Verdict.AGREES)
            results.append(done)

    for line in lines:
        take(session.take(line).cards)
    take(session.close().cards)
    return results


def codes(result: CardResult) -> set[str]:
    return {finding.code for finding in result.findings}


@pytest.mark.parametrize(
    ("lines", "code"),
    [
        ((), "signature-unsaid"),
        (("name Isaura Penbrook",), "signature-unsaid"),  # a printed name is no signature
        (("unsigned",), "card-unsigned"),
        (("signed",), "card-undated"),
        (("signed 2026-03-02", "unsigned"), "card-unsigned"),  # the later word holds
    ],
)
def test_without_signature_or_date_a_card_is_not_in_order(
    ledger: Ledger, lines: tuple[str, ...], code: str
) -> None:
    (result,) = day(ledger, card(1), f"box {label(1)}", *lines)
    assert result.verdict is Verdict.UNREAD
    assert code in codes(result)
    (piece,) = (one for one in ledger.pieces() if one.card == card(1))
    assert piece.state is State.RETURNED  # it did come back


@pytest.mark.parametrize(
    ("word", "code"), [("unsigned", Code.CARD_UNSIGNED), ("signed", Code.CARD_UNDATED)]
)
@pytest.mark.parametrize("is_taught", [False, True])
def test_an_office_may_have_it_as_a_note(
    ledger: Ledger, word: str, code: Code, *, is_taught: bool
) -> None:
    """Said to the command, or with the form that the card's photo shows."""
    assert code in SETTABLE_ON_RETURN
    other = next(one for one in SETTABLE_ON_RETURN if one is not code)
    (asked,) = day(ledger, card(2), f"box {label(2)}", word, only_notes=[other])
    assert asked.verdict is Verdict.UNREAD
    session = CardSession()
    for line in (card(1), f"box {label(1)}", word):
        session.take(line)
    (read,) = session.close().cards
    read = replace(read, only_notes=(code,)) if is_taught else read
    notes = () if is_taught else (code,)
    noted = take_back(ledger, read, desk="d", operator="o", today=TODAY, only_notes=notes)
    assert noted.verdict is Verdict.AGREES
    assert [(one.code, one.weight) for one in noted.findings] == [(code, Weight.NOTE)]


def test_signed_and_dated_it_is(ledger: Ledger) -> None:
    (result,) = day(ledger, card(1), "unsigned", f"box {label(1)}", "signed 2026-03-02")
    assert result.verdict is Verdict.AGREES
    assert codes(result) == set()


def test_a_wrong_box_is_keyed_again_before_the_card_ends(ledger: Ledger) -> None:
    (result,) = day(ledger, card(1), f"box {label(2)}", f"/{label(1)}", "signed 2026-03-02")
    assert result.verdict is Verdict.AGREES
    assert codes(result) == {"scanned-again"}  # that it was is on record


def test_a_wrong_box_is_keyed_again_after_the_card_ended(ledger: Ledger) -> None:
    first, second = day(
        ledger, card(1), f"box {label(2)}", "signed 2026-03-02", "next", f"box {label(1)}"
    )
    assert first.verdict is Verdict.DIFFERS
    assert second.verdict is Verdict.AGREES
    assert codes(second) == {"return-corrected"}  # the label's number had been shown
    assert first.outcome is not None
    (void,) = ledger.entries(kinds=[Kind.VOIDED])
    assert void.refers == first.outcome.entry.sequence
    (piece,) = (one for one in ledger.pieces() if one.card == card(1))
    assert [one.written for one in piece.returns] == [label(1)]
    assert ledger.verify().is_clean


def test_a_card_that_differed_may_be_scanned_again_at_once(ledger: Ledger) -> None:
    first, second = day(
        ledger, card(1), f"box {label(2)}", "signed 2026-03-02", "next",
        card(1), f"box {label(1)}", "signed 2026-03-02",
    )  # fmt: skip
    assert (first.verdict, second.verdict) == (Verdict.DIFFERS, Verdict.AGREES)
    assert codes(second) == {"return-corrected"}


def test_after_another_card_it_is_a_second_card(ledger: Ledger) -> None:
    """Then it may be another card with the same number, and a person has to look."""
    *_, last = day(
        ledger, card(1), f"box {label(2)}", "signed 2026-03-02", "next",
        card(2), f"box {label(2)}", "signed 2026-03-02", "next",
        card(1), f"box {label(1)}", "signed 2026-03-02",
    )  # fmt: skip
    assert last.verdict is Verdict.DIFFERS
    assert "return-again" in codes(last)


def test_what_was_not_said_is_said_after_the_verdict(ledger: Ledger) -> None:
    first, second = day(ledger, card(1), f"box {label(1)}", "next", "signed 2026-03-02")
    assert (first.verdict, second.verdict) == (Verdict.UNREAD, Verdict.AGREES)
    assert "return-read-again" in codes(second)
    assert second.signed == TODAY
    assert list(ledger.entries(kinds=[Kind.VOIDED])) == []  # nothing wrong was on record


def test_a_wrong_date_is_said_again(ledger: Ledger) -> None:
    first, second = day(
        ledger, card(1), f"box {label(1)}", "signed 2027-03-02", "next", "signed 2026-03-02"
    )
    assert "signed-in-future" in codes(first)
    assert second.verdict is Verdict.AGREES
    third, fourth = day(
        ledger, card(2), f"box {label(2)}", "signed 2026-03-01", "next", "signed 2026-03-02"
    )
    assert "signed-before-mailing" in codes(third)
    assert fourth.verdict is Verdict.AGREES


def test_a_box_keyed_before_the_next_card_is_not_the_last_ones(ledger: Ledger) -> None:
    """The last card is in order: what is keyed now belongs to the next one."""
    first, second = day(
        ledger, card(1), f"box {label(1)}", "signed 2026-03-02", "next",
        f"box {label(2)}", card(2), "signed 2026-03-02",
    )  # fmt: skip
    assert [first.verdict, second.verdict] == [Verdict.AGREES, Verdict.AGREES]
    assert second.card == card(2)


def test_start_over_ends_the_last_card_for_good(ledger: Ledger) -> None:
    results = day(ledger, card(1), f"box {label(2)}", "next", "again", f"box {label(1)}", card(2))
    assert [one.card for one in results] == [card(1), card(2)]
