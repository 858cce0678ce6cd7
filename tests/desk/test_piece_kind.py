"""Letter, flat or parcel. Thickness: DMM 201 (June 2014, a public copy), as in
../shared/standards.md 2.6: a letter is at most 1/4 inch thick, a flat 3/4. Which services are for
parcels: UPU S10 as of October 2017 (C, H), tracking_number_data (612), as quoted there."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from pairing.desk import daylist
from pairing.desk.counter import Counter
from pairing.desk.daylist_rows import csv_lines
from pairing.desk.for_whom import Field, addressee, described
from pairing.desk.piece_kind import PieceKind, kind_of, notes, service_for
from pairing.desk.remarks import Say
from pairing.findings import Weight
from pairing.ledger import Ledger
from pairing.model import Verdict
from pairing.numbers.checkdigit import mod10, s10
from tests.ledger.making import Clock, card, label

LETTER, FLAT, PARCEL = PieceKind
PARCEL_SELECT = "92612" + "9" * 9 + "1234567"
PARCEL_SELECT += mod10(PARCEL_SELECT)
S10_PARCEL = f"CP12345678{s10('12345678')}US"
S10_EXPRESS_LETTER = f"LX12345678{s10('12345678')}US"


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("letter", LETTER), ("L", LETTER), ("f", FLAT), (" Parcel ", PARCEL),
        ("1/4", LETTER), ("0.25 in", LETTER), ("0.26", FLAT), ("3/4", FLAT), ("0,76", PARCEL),
        ("6 mm", LETTER), ("6.4 mm", FLAT), ("19 mm", FLAT), ("2 cm", PARCEL), ('1/8"', LETTER),
        ("", None), ("thick", None), ("0", None), ("1/0", None), ("-1", None), ("9400", None),
    ],
)  # fmt: skip
def test_a_kind_or_a_thickness(text: str, kind: PieceKind | None) -> None:
    assert kind_of(text) is kind


@pytest.mark.parametrize(
    ("article", "kind"),
    [
        (PARCEL_SELECT, PARCEL),
        (S10_PARCEL, PARCEL),
        (S10_EXPRESS_LETTER, LETTER),
        (f"RR12345678{s10('12345678')}US", None),  # registered: small packets too
        (label(1), None),
        ("no number", None),
        (None, None),
    ],
)
def test_the_kind_that_a_label_is_for(article: str | None, kind: PieceKind | None) -> None:
    assert service_for(article) is kind


@pytest.mark.parametrize(
    ("article", "piece", "is_odd"),
    [
        (S10_PARCEL, "letter", True),
        (S10_PARCEL, "parcel", False),
        (S10_PARCEL, "flat", False),
        (S10_EXPRESS_LETTER, "parcel", True),
        (label(1), "letter", False),
        (S10_PARCEL, "", False),
    ],
)
def test_only_letter_against_parcel_is_a_note(article: str, piece: str, is_odd: bool) -> None:
    found = notes(article, {Field.PIECE: piece})
    assert [(one.code, one.weight) for one in found] == [("piece-kind-odd", Weight.NOTE)] * is_odd


@pytest.fixture
def ledger(tmp_path: Path) -> Iterator[Ledger]:
    """A new ledger."""
    with Ledger.open(str(tmp_path / "ledger.db"), clock=Clock()) as opened:
        yield opened


def _counter(ledger: Ledger) -> Counter:
    return Counter(ledger, desk="desk 1", operator="clerk 7", clock=Clock(), asks_kind=True)


def _codes(answer: object) -> list[Say]:
    return [one.code for one in answer.remarks]  # type: ignore[attr-defined]


def test_it_is_asked_once_kept_and_shown_on_the_list(ledger: Ledger) -> None:
    counter = _counter(ledger)
    assert Say.PIECE_KIND in _codes(counter.take(label(1)))
    assert _codes(counter.take("piece thick")) == [Say.PIECE_KIND_HOW]
    assert _codes(counter.take("piece 5 mm")) == [Say.FOR_WHOM_TAKEN]
    assert Say.PIECE_KIND not in _codes(counter.take(card(1)))
    counter.take(f"/{label(1)}")
    assert ledger.about([1]) == {1: {"piece": "letter"}}
    assert described(ledger.about([1])[1]) == "letter"
    assert addressee(ledger.about([1])[1]) == ""
    today = daylist.compose(ledger, Clock().now.date())
    head, row, *_ = csv_lines(today, daylist.about(ledger, today))
    assert head.rstrip().endswith(",piece")
    assert row.rstrip().endswith(",letter")


def test_of_a_sealed_label_it_is_not_asked(ledger: Ledger) -> None:
    counter = _counter(ledger)
    for line in (label(1), card(1), f"/{label(1)}"):
        counter.take(line)
    assert _codes(counter.take(label(1))) == [Say.SEALED_BEFORE]


def test_a_parcels_label_on_a_letter_is_sealed_with_a_note(ledger: Ledger) -> None:
    counter = _counter(ledger)
    for line in ("piece l", S10_PARCEL, card(1)):
        counter.take(line)
    (done,) = counter.take(f"/{S10_PARCEL}").finished
    assert done.judgment.verdict is Verdict.AGREES
    assert "piece-kind-odd" in {one.code for one in done.judgment.findings}
    assert done.entry is not None
    assert "piece-kind-odd" in {one.code for one in done.entry.findings}


def test_said_after_the_seal_it_is_noted_too(ledger: Ledger) -> None:
    counter = _counter(ledger)
    for line in (S10_PARCEL, card(1), f"/{S10_PARCEL}"):
        counter.take(line)
    answer = counter.take("piece letter")
    assert _codes(answer) == [Say.FOR_WHOM_ADDED, Say.PIECE_KIND_ODD]
    assert _codes(counter.tell({Field.PIECE: "what"}, of=1)) == [Say.PIECE_KIND_HOW]
    assert _codes(counter.tell({Field.PIECE: "p"}, of=1)) == [Say.FOR_WHOM_ADDED]
    assert ledger.about([1]) == {1: {"piece": "parcel"}}
    assert ledger.verify().is_clean
