"""Folding, against a model that keeps the books the other way round: it is told what should
happen and never sees an entry."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass, field
from pathlib import Path

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, rule

from pairing.ledger import Draft, Kind, Ledger, State, fold
from tests.ledger.making import Clock, card, label, pair, returned, void

FEW = st.integers(1, 4)
ANY_ENTRY = st.integers(1, 30)


@dataclass
class Mail:
    """One accepted piece, as the model sees it."""

    label: int
    card: int
    is_void: bool = False
    returns: list[int] = field(default_factory=list)


class Books(RuleBasedStateMachine):
    """Offers at random; what the ledger accepts, and what it says is the case, must be what
    the model says."""

    def __init__(self) -> None:
        super().__init__()
        self.folder = tempfile.TemporaryDirectory()
        self.ledger = Ledger.open(str(Path(self.folder.name) / "l.db"), clock=Clock())
        self.mail: dict[int, Mail] = {}
        self.lists: dict[int, tuple[int, bool]] = {}
        self.size = 0

    def teardown(self) -> None:
        assert self.ledger.verify().is_clean
        self.ledger.close()
        self.folder.cleanup()

    def holds(self, *, label: int = 0, card: int = 0, but: int = 0) -> bool:
        return any(
            not mail.is_void and (mail.label == label or mail.card == card)
            for sequence, mail in self.mail.items()
            if sequence != but
        )

    def append(self, draft: Draft) -> bool:
        self.size += 1
        outcome = self.ledger.append(draft)
        assert outcome.entry.sequence == self.size
        return outcome.is_as_offered

    @rule(a=FEW, c=FEW)
    def offer(self, a: int, c: int) -> None:
        is_free = not self.holds(label=a) and not self.holds(card=c)
        assert self.append(pair(a, c)) == is_free
        if is_free:
            self.mail[self.size] = Mail(label=a, card=c)

    @rule(a=FEW, c=FEW, sequence=ANY_ENTRY)
    def correct(self, a: int, c: int, sequence: int) -> None:
        mail = self.mail.get(sequence)
        may = (
            mail is not None
            and not mail.is_void
            and (mail.label == a or mail.card == c)
            and (not mail.returns or (mail.label, mail.card) == (a, c))
            and not self.holds(label=a, but=sequence)
            and not self.holds(card=c, but=sequence)
        )
        assert self.append(pair(a, c, kind=Kind.CORRECTED, refers=sequence)) == may
        if may and mail is not None:
            mail.label, mail.card = a, c

    @rule(c=FEW)
    def come_back(self, c: int) -> None:
        known = [mail for mail in self.mail.values() if mail.card == c]
        known.sort(key=lambda mail: not mail.is_void)
        mail = known[-1] if known else None
        # These cards say nothing of their box, so one that comes again says the same.
        is_good = mail is not None and not mail.is_void
        assert self.append(returned(c)) == is_good
        if mail is not None and not mail.is_void:
            mail.returns.append(self.size)

    @rule(a=FEW)
    def expect(self, a: int) -> None:
        draft = Draft(kind=Kind.EXPECTED, desk="d", operator="o", article=label(a), remark="list")
        assert self.append(draft)
        self.lists[self.size] = (a, False)

    @rule(sequence=ANY_ENTRY)
    def take_back(self, sequence: int) -> None:
        mail = self.mail.get(sequence)
        back = [one for one in self.mail.values() if sequence in one.returns]
        listed = self.lists.get(sequence)
        may = (
            (mail is not None and not mail.is_void and not mail.returns)
            or bool(back)
            or (listed is not None and not listed[1])
        )
        assert self.append(void(sequence)) == may
        if not may:
            return
        if mail is not None:
            mail.is_void = True
        elif back:
            back[0].returns.remove(sequence)
        elif listed is not None:
            self.lists[sequence] = (listed[0], True)

    @rule()
    def note(self) -> None:
        assert self.append(Draft(kind=Kind.NOTE, desk="d", operator="o", remark="rain"))

    @invariant()
    def the_books_agree(self) -> None:
        standing = fold(self.ledger.entries())
        streamed = {piece.sequence: piece for piece in self.ledger.pieces()}
        assert standing.pieces == streamed
        for sequence, mail in self.mail.items():
            piece = standing.pieces[sequence]
            state = State.RETURNED if mail.returns else State.OPEN
            assert piece.state is (State.VOID if mail.is_void else state)
            assert (piece.article, piece.card) == (label(mail.label), card(mail.card))
            assert [one.sequence for one in piece.returns] == mail.returns
        assert len(standing.pieces) == len(self.mail)
        missing = {one.entry.sequence for one in standing.missing()}
        assert missing == {
            sequence
            for sequence, (a, is_withdrawn) in self.lists.items()
            if not is_withdrawn and not self.holds(label=a)
        }


Books.TestCase.settings = settings(max_examples=25, stateful_step_count=25, deadline=None)
TestBooks = Books.TestCase
