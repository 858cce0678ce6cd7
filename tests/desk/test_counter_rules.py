"""What must hold at the counter whatever is scanned and typed, in any order, at two desks."""

from __future__ import annotations

import itertools
import tempfile
from collections import Counter as Tally
from datetime import UTC, datetime
from pathlib import Path

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pairing.desk.answers import Advice, Finished
from pairing.desk.counter import Counter
from pairing.desk.words import Arrived
from pairing.ledger import Entry, Kind, Ledger, State
from pairing.model import Side
from tests.ledger.making import card, label

NOW = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
_LABELS, _CARDS = (label(1), label(2)), (card(1), card(2))
LINES = (
    *_LABELS,
    *_CARDS,
    *(f"box {number}" for number in (*_LABELS, _CARDS[0], label(1)[:-1])),
    *(f"strip {number}" for number in _LABELS),
    f"label {_LABELS[0]}",
    f"card {_CARDS[1]}",
    label(1)[:-3],
    "strip",
    "next",
    "again",
    "correct",
    "correct 1",
    "void 1 why",
    f"void {_LABELS[0]} why",
    "handover Osric Dunmallow",
    "note x",
    "retry",
    "count",
    "end",
)
WHOLE = tuple(
    tuple(order)
    for article in _LABELS
    for with_card in _CARDS
    for order in itertools.permutations((article, with_card, f"box {article}"))
)
"""All lines of a piece, in every order."""

ENTRIES = st.lists(
    st.tuples(
        st.integers(0, 1),
        st.one_of(st.sampled_from(LINES).map(lambda line: (line,)), st.sampled_from(WHOLE)),
        st.sampled_from(("", "a", "b")),
    ),
    max_size=16,
)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(ENTRIES)
def test_seal_means_an_agreeing_pair_on_the_disk_that_nobody_else_holds(
    entries: list[tuple[int, tuple[str, ...], str]],
) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = str(Path(folder) / "ledger.db")
        with Ledger.open(path, clock=lambda: NOW) as ledger, Ledger.open(path) as witness:
            desks = [
                Counter(ledger, desk=f"desk {one}", operator="o", clock=lambda: NOW)
                for one in (1, 2)
            ]
            said: list[Finished] = []
            lines = [(desk, line, key) for desk, some, key in entries for line in some]
            for place, (desk, line, key) in enumerate(lines):
                # A key is the same only when the very same entry is offered again.
                own = f"{key}/{desk}/{line}" if key else f"{place}"
                answer = desks[desk].take(line, arrived=Arrived.PIPED, key=own)
                for piece in answer.finished:
                    assert piece.entry is not None
                    assert witness.entry(piece.entry.sequence) == piece.entry
                    said.append(piece)
            _check(list(ledger.entries()), said)
            standing = [one for one in ledger.pieces() if one.state is not State.VOID]
            assert max(Tally(one.article for one in standing).values(), default=0) <= 1
            assert max(Tally(one.card for one in standing).values(), default=0) <= 1
            assert ledger.verify().is_clean


def _check(entries: list[Entry], said: list[Finished]) -> None:
    sealed = {piece.entry.sequence for piece in said if piece.advice is Advice.SEAL and piece.entry}
    paired = {entry.sequence for entry in entries if entry.kind is Kind.PAIRED}
    assert sealed == paired
    for entry in entries:
        if entry.kind not in (Kind.PAIRED, Kind.CORRECTED):
            continue
        read = {side: {one.text for one in entry.readings if one.side is side} for side in Side}
        assert read[Side.LABEL] == read[Side.BOX] == {entry.article}
        assert read[Side.CARD] == {entry.card}
