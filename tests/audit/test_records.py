"""The lot against a ledger and an expected list. Numbers invented, check digits by stdnum."""

from __future__ import annotations

import time
from datetime import timedelta, timezone
from pathlib import Path

import pytest

from pairing.audit.run.records import Recorded, Records, pairs_in, with_pairs
from pairing.errors import TableUnusable
from pairing.findings import Weight
from pairing.ledger import Draft, Kind, Ledger
from pairing.model import ExpectedPair, Verdict
from tests.audit.making import label


def card(n: int) -> str:
    return label(n, "95909402587")


@pytest.fixture
def ledger(tmp_path: Path) -> Ledger:
    """Pieces 1 to 4 accepted, 4 voided again, 5 stopped."""
    found = Ledger.open(str(tmp_path / "ledger.db"))
    for n in range(1, 5):
        found.append(
            Draft(kind=Kind.PAIRED, desk="7", operator="a", article=label(n), card=card(n),
                  written=label(n), verdict=Verdict.AGREES)
        )  # fmt: skip
    found.append(Draft(kind=Kind.VOIDED, desk="7", operator="a", refers=4, remark="torn"))
    found.append(
        Draft(kind=Kind.STOPPED, desk="7", operator="a", article=label(5), card=card(5),
              verdict=Verdict.UNREAD)
    )  # fmt: skip
    return found


@pytest.mark.parametrize(
    ("article", "own", "state", "weight"),
    [
        (1, 1, Recorded.AS_PHOTOGRAPHED, None),
        (1, None, Recorded.BY_LABEL, None),
        (1, 2, Recorded.OTHERWISE, Weight.CLASH),
        (1, 9, Recorded.OTHERWISE, Weight.CLASH),
        (9, 1, Recorded.OTHERWISE, Weight.CLASH),
        (4, 4, Recorded.VOID, Weight.DOUBT),
        (5, 5, Recorded.STOPPED, Weight.NOTE),
        (8, 8, Recorded.NEVER, Weight.NOTE),
    ],
)
def test_how_the_ledger_has_a_photographed_piece(
    ledger: Ledger, article: int, own: int | None, state: Recorded, weight: Weight | None
) -> None:
    record = Records(ledger=ledger).of(label(article), card(own) if own else None)
    assert record.state is state
    assert [one.weight for one in record.findings] == ([weight] if weight else [])
    if state is Recorded.AS_PHOTOGRAPHED:
        assert (record.desk, record.entry) == ("7", 1)


def test_a_card_of_another_piece_beside_a_label_recorded_without_one(ledger: Ledger) -> None:
    alone = "EE876543216CA"  # UPU S10-12 Annex A; its card (CN 07) has no number
    ledger.append(
        Draft(kind=Kind.PAIRED, desk="7", operator="a", article=alone, written=alone,
              verdict=Verdict.AGREES)
    )  # fmt: skip
    records = Records(ledger=ledger)
    assert records.of(alone, None).state is Recorded.AS_PHOTOGRAPHED
    assert records.of(alone, card(9)).state is Recorded.BY_LABEL
    other = records.of(alone, card(1))
    assert other.state is Recorded.OTHERWISE
    assert [one.weight for one in other.findings] == [Weight.CLASH]


def test_without_a_number_or_a_ledger_nothing_is_said(ledger: Ledger) -> None:
    assert Records(ledger=ledger).of(None, None).state is None
    assert Records().of(label(1), card(1)).state is None


def test_pieces_that_no_photo_shows(ledger: Ledger) -> None:
    pairs = with_pairs([ExpectedPair(article=label(20), card=None, source="list.csv")])
    records = Records(ledger=ledger, **pairs)
    found = {one.article: one.known_from for one in records.missing({label(2)})}
    assert set(found) == {label(1), label(3), label(20)}
    assert found[label(20)] == "list.csv"


def test_a_pair_that_ledger_and_list_have_alike_is_missing_once(ledger: Ledger) -> None:
    listed = [(1, card(1)), (3, card(9)), (20, None)]  # the ledger has 3 with another card
    pairs = with_pairs([ExpectedPair(article=label(n), card=c, source="list") for n, c in listed])
    found = list(Records(ledger=ledger, **pairs).missing({label(2)}))
    assert [one.article for one in found] == [label(1), label(3), label(3), label(20)]
    assert found[0].known_from.endswith("; list")
    assert found[1].known_from != found[2].known_from == "list"


def test_a_day_is_the_desks(ledger: Ledger, monkeypatch: pytest.MonkeyPatch) -> None:
    """At any moment one of these zones has another date than UTC (IANA; POSIX has the sign the
    other way round)."""
    for zone, hours in (("XXX-14", 14), ("XXX+12", -12)):
        monkeypatch.setenv("TZ", zone)
        time.tzset()
        try:
            record = Records(ledger=ledger).of(label(1), card(1))
            (first, *_) = Records(ledger=ledger).missing(set())
        finally:
            monkeypatch.undo()
            time.tzset()
        accepted = next(iter(ledger.entries())).when
        local = accepted.astimezone(timezone(timedelta(hours=hours))).date().isoformat()
        assert record.day == first.day == local


def test_a_partner_by_list_or_ledger(ledger: Ledger) -> None:
    pairs = with_pairs([ExpectedPair(article=label(3), card=card(2), source="list")])
    assert Records(ledger=ledger).partner(card(2)) == label(2)
    assert Records(**pairs).partner(card(2)) == label(3)
    assert Records(ledger=ledger, **pairs).partner(card(2)) is None  # they contradict each other
    assert Records(ledger=ledger).partner(card(4)) is None  # voided


def test_an_expected_list_is_cut_down_to_what_can_touch_a_piece() -> None:
    pairs = [ExpectedPair(article=label(n), card=card(n), source="list") for n in range(5)]
    records = Records(**with_pairs(pairs))
    assert records.expected(label(1), card(2)) == (pairs[1], pairs[2])
    assert len(records.expected(label(9), card(9))) == 1
    assert Records().expected(label(1), card(1)) == ()


def test_a_list_from_a_file(tmp_path: Path) -> None:
    path = tmp_path / "list.csv"
    path.write_text(f"Card,Article\n{card(1)},{label(1)[:4]} {label(1)[4:]}\n,{label(2)}\n")
    found = list(pairs_in(path))
    assert [(one.article, one.card) for one in found] == [(label(1), card(1)), (label(2), None)]


@pytest.mark.parametrize("text", ["card\n1\n", "article\n123\n", "\xff\xfe"])
def test_a_list_that_cannot_be_used(tmp_path: Path, text: str) -> None:
    path = tmp_path / "list.csv"
    path.write_bytes(text.encode("latin-1"))
    with pytest.raises(TableUnusable):
        list(pairs_in(path))
