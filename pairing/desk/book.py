"""What a session asks of the record, and a record that lasts for one run and is written nowhere.

`check` keeps the second kind: its pieces are held against each other by the ledger's own rules,
so it answers as the counter does.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Protocol

from pairing.errors import KeyReused
from pairing.ledger import Draft, Entry, Outcome, Standing, Story, fold
from pairing.ledger.drafts import check_draft, cleaned, is_same, made
from pairing.ledger.entries import at_text
from pairing.ledger.ruling import in_window, rule
from pairing.ledger.tip import Tip
from pairing.ledger.tree import Frontier
from pairing.model import EarlierUse, ExpectedPair


class Book(Protocol):
    """The part of `ledger.Ledger` that a session needs; see there."""

    def append(self, draft: Draft) -> Outcome:
        """Record a draft."""

    def offered(self, key: str) -> Entry | None:
        """The entry that was offered with this key."""

    def earlier(self, *, article: str | None, card: str | None) -> tuple[EarlierUse, ...]:
        """Pieces that hold one of these numbers."""

    def expected(
        self, *, article: str | None, card: str | None, since: datetime
    ) -> tuple[ExpectedPair, ...]:
        """What the lists say of these numbers."""

    def declared(self, *, article: str | None, card: str | None) -> dict[str, str]:
        """For whom and why the piece with these numbers is, as far as it was declared."""

    def story(self, number: str) -> Story:
        """Everything about a number."""


class _RunEntry(Entry, frozen=True, kw_only=True):
    @property
    def name(self) -> str:
        """There is no day and no desk to tell the pieces of one run apart by."""
        return f"piece {self.sequence}"


class RunBook:
    """The pieces of one run, in memory."""

    def __init__(self, clock: Callable[[], datetime] = lambda: datetime.now(UTC)) -> None:
        self._clock = clock
        self._entries: list[Entry] = []
        self._standing = Standing()

    def append(self, draft: Draft) -> Outcome:
        """Keep a draft by the ledger's rules. Raises EntryRefused, KeyReused."""
        check_draft(draft)
        draft = cleaned(draft)
        known = self.offered(draft.key) if draft.key else None
        if known is not None:
            if not is_same(draft, known):
                raise KeyReused(
                    f"The key {draft.key!r} is already used for another entry",
                    where="this run",
                    remedy="Give every entry a key of its own.",
                )
            return Outcome(entry=known, is_as_offered=known.kind is draft.kind, is_repeated=True)
        now = self._clock()
        ruling = rule(draft, self._standing, now)
        tip = Tip(
            Frontier(len(self._entries), []), at=self._entries[-1].at if self._entries else ""
        )
        entry = made(draft, ruling, tip, at_text(now), "")
        entry = _RunEntry(**{name: getattr(entry, name) for name in entry.__struct_fields__})
        self._entries.append(entry)
        self._standing.take(entry)
        return Outcome(entry=entry, is_as_offered=ruling.is_accepted)

    def offered(self, key: str) -> Entry | None:
        """The entry that was offered with this key."""
        return next((one for one in self._entries if key and one.key == key), None)

    def earlier(self, *, article: str | None, card: str | None) -> tuple[EarlierUse, ...]:
        """Pieces of this run that hold one of these numbers."""
        now = self._clock()
        return tuple(
            EarlierUse(piece=one.name, article=one.article, card=one.card)
            for one in self._standing.holders(article=article, card=card)
            if any(
                in_window(one, number, now)
                for number in (article, card)
                if number and number in (one.article, one.card)
            )
        )

    def expected(
        self, *, article: str | None, card: str | None, since: datetime
    ) -> tuple[ExpectedPair, ...]:
        """Nothing: no list was loaded."""
        return ()

    def declared(self, *, article: str | None, card: str | None) -> dict[str, str]:
        """Nothing: it would be written nowhere."""
        return {}

    def story(self, number: str) -> Story:
        """Everything about a number in this run."""
        found = [one for one in self._entries if number in (one.article, one.card, one.elsewhere)]
        pieces = fold(found).pieces.values()
        mine = tuple(one for one in pieces if number in (one.article, one.card))
        return Story(number=number, entries=tuple(found), pieces=mine, expected=())
