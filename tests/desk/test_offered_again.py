"""Entries offered again with their keys: the same answer, as far as it still holds."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from pairing.desk.answers import Advice, Finished
from pairing.desk.counter import Counter
from pairing.ledger import Ledger
from tests.ledger.making import card, label

S10 = "EE876543216CA"  # UPU S10-12 Annex A
PIECE = {"key-1": label(1), "key-2": card(1), "key-3": f"box {label(1)}"}


@pytest.fixture
def ledger(tmp_path: Path) -> Iterator[Ledger]:
    with Ledger.open(str(tmp_path / "ledger.db")) as opened:
        yield opened


@pytest.fixture
def make(ledger: Ledger) -> Callable[[], Counter]:
    return lambda: Counter(ledger, desk="desk 1", operator="Theda Orrick")


def offered(counter: Counter, lines: dict[str, str]) -> Finished:
    answers = [counter.take(line, key=key) for key, line in lines.items()]
    (piece,) = (piece for answer in answers for piece in answer.finished)
    return piece


def test_a_piece_voided_meanwhile_is_not_sealed_again(make: Callable[[], Counter]) -> None:
    counter = make()
    assert offered(counter, PIECE).advice is Advice.SEAL
    assert offered(counter, PIECE).advice is Advice.SEAL
    make().take("void 1 torn")
    assert offered(counter, PIECE).advice is not Advice.SEAL


def test_a_piece_corrected_meanwhile_is_not_sealed_again(make: Callable[[], Counter]) -> None:
    counter = make()
    assert offered(counter, PIECE).advice is Advice.SEAL
    other = make()
    for line in ("correct 1", label(1), card(2), f"box {label(1)}"):
        answer = other.take(line)
    assert answer.finished[0].advice is Advice.CORRECTED
    assert offered(counter, PIECE).advice is not Advice.SEAL


def test_a_piece_whose_card_has_no_number_is_not_held_against_itself(
    make: Callable[[], Counter], ledger: Ledger
) -> None:
    lines = {"key-1": S10, "key-2": f"box {S10}", "key-3": "next"}
    assert offered(make(), lines).advice is Advice.SEAL
    again = offered(make(), lines)  # after a restart, which remembers nothing
    assert again.advice is Advice.SEAL
    assert again.outcome is not None
    assert again.outcome.is_repeated
    assert ledger.size() == 1
    new = offered(make(), {f"{key}-new": line for key, line in lines.items()})
    assert new.advice is Advice.ASK


def test_a_strip_on_record_is_not_too_soon_when_all_is_offered_at_once(ledger: Ledger) -> None:
    """A page whose service was started anew offers its piece again, without a pause; a strip
    that is not on record is questioned then as ever."""
    ticks = 0.0

    def make() -> Counter:
        return Counter(ledger, desk="d", operator="o", ticks=lambda: ticks, is_live=True)

    first = make()
    for key, line in (("key-1", label(1)), ("key-2", card(1)), ("key-3", "strip")):
        first.take(line, key=key)
    ticks += 10.0
    (sealed,) = first.scan(label(1), key="key-4").finished
    assert sealed.advice is Advice.SEAL
    for last, is_known in (("key-4", True), ("key-5", False)):
        again = make()
        for key, line in (("key-1", label(1)), ("key-2", card(1)), ("key-3", "strip")):
            again.take(line, key=key)
        finished = again.scan(label(1), key=last).finished
        assert [one.entry for one in finished] == ([sealed.entry] if is_known else [])
