"""The ledger, as desks use it."""

from __future__ import annotations

import uuid
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Self

from pairing.closing import Closing
from pairing.findings import Finding
from pairing.ledger import (
    backup,
    continuity,
    csv_table,
    erasable,
    erasing,
    exchange,
    find_index,
    heads,
    hits,
    proof,
    queries,
    startup,
    verification,
    walk_report,
    watermark,
)
from pairing.ledger.continuity import key_path, mark_path
from pairing.ledger.database import Database, ledger_url
from pairing.ledger.drafts import Draft
from pairing.ledger.entries import Entry, Kind
from pairing.ledger.state import Piece, State
from pairing.ledger.writer import Clock, Outcome, Writer
from pairing.model import EarlierUse, ExpectedPair


def _now() -> datetime:
    return datetime.now(UTC)


class Ledger(Closing):
    """One ledger, open. Use it in a `with`, or close it.

    Every method raises LedgerUnusable where the database cannot do it. One object serves
    several threads; processes open their own.
    """

    def __init__(self, database: Database, clock: Clock) -> None:
        self._database = database
        self._clock = clock
        self._writer = Writer(database, clock)

    @classmethod
    def open(
        cls,
        url: str | None = None,
        *,
        clock: Clock = _now,
        patience_s: float = 10.0,
        files: Path | None = None,
        must_exist: bool = False,
    ) -> Self:
        """Open the ledger, and make it where there is none, unless it must exist already.

        url: a file's path or an SQLAlchemy URL; by default COUNTERFOIL_LEDGER, else the
        user's own file. clock: gives aware datetimes. patience_s: how long to wait for other
        desks. files: the path that signing key and watermark are named after; by default
        SQLite's file, or a place in the user's folder for a server.
        """
        database = Database(
            ledger_url(url), patience_s=patience_s, files=files, must_exist=must_exist
        )
        return cls(database, clock)

    @property
    def where(self) -> str:
        """The ledger's place, for people; without a password."""
        return self._database.where

    def close(self) -> None:
        """Let go of connections and files."""
        self._writer.close()
        self._database.close()

    def append(self, draft: Draft) -> Outcome:
        """Record a draft. It is on the disk when this returns.

        A pair whose label or card is taken is recorded as stopped, with the finding; of two
        desks that offer the same number one gets the acceptance. Raises EntryRefused (a draft
        that no honest caller offers), KeyReused, LedgerUnusable: then nothing was recorded.
        """
        return self._writer.append(draft)

    def warnings(self) -> tuple[Finding, ...]:
        """What can be said without a walk: a lost end, a clock set back, a key or a
        ledger that others may read. For the start of a day."""
        return startup.at_start(self._database, self._clock())

    def size(self) -> int:
        """How many entries there are."""
        return queries.size(self._database)

    def entry(self, sequence: int) -> Entry | None:
        """The entry with this sequence, None where there is none."""
        return queries.entry(self._database, sequence)

    def offered(self, key: str) -> Entry | None:
        """The entry that was offered with this idempotency key, None for none."""
        return queries.offered(self._database, key)

    def entries(
        self,
        *,
        kinds: Collection[Kind] = (),
        since: datetime | None = None,
        until: datetime | None = None,
        first: int = 1,
    ) -> Iterator[Entry]:
        """Entries in order; see `queries.entries`."""
        return queries.entries(self._database, kinds=kinds, since=since, until=until, first=first)

    def pieces(
        self,
        *,
        states: Collection[State] = (),
        since: datetime | None = None,
        until: datetime | None = None,
    ) -> Iterator[Piece]:
        """Sealed pieces in order, as they are now; see `queries.pieces`."""
        return queries.pieces(self._database, states=states, since=since, until=until)

    def story(self, number: str) -> queries.Story:
        """All that is known about one canonical number."""
        return queries.story(self._database, number)

    def bearing(self, numbers: Collection[str]) -> tuple[Piece, ...]:
        """The pieces that bear one of these numbers now, void ones too; see
        `queries.bearing`."""
        return queries.bearing(self._database, numbers)

    def earlier(self, *, article: str | None, card: str | None) -> tuple[EarlierUse, ...]:
        """Pieces that hold one of these numbers now, for `judge(earlier=...)`."""
        return queries.earlier(self._database, article=article, card=card, now=self._clock())

    def expected(
        self, *, article: str | None, card: str | None, since: datetime
    ) -> tuple[ExpectedPair, ...]:
        """What lists loaded since then expect, for `judge(expected=...)`."""
        return queries.expected(self._database, article=article, card=card, since=since)

    def sign_head(self) -> heads.Head | None:
        """Sign the ledger as it is now; None for an empty one. A day's head is signed by
        itself with the first entry of a later day."""
        return self._writer.sign_head()

    def go_on(self, *, reason: str, desk: str, operator: str) -> Entry | None:
        """Record that an operator goes on although tampering was found: until then no piece is
        sealed. From then on, what this machine saw or signed before is not asked for. None where
        nothing was found."""
        found = continuity.tampering(self._database)
        if not found:
            return None
        mark = watermark.read(mark_path(self._database))
        seen = f" Seen before: entry {mark.size}, {mark.leaf.hex()}." if mark else ""
        said = " ".join(one.message for one in found)
        draft = Draft(
            kind=Kind.NOTE,
            desk=desk,
            operator=operator,
            remark=f"Went on, because: {reason}. Found: {said}{seen}",
            key=f"{continuity.WENT_ON}{uuid.uuid4().hex}",
        )
        entry = self._writer.append(draft).entry
        self._writer.mark_anew()
        return entry

    def verify(self, progress: walk_report.Progress | None = None) -> walk_report.Report:
        """Walk everything; the report names the first entry that does not match."""
        return verification.verify(
            self._database,
            mark=watermark.read(mark_path(self._database)),
            has_key=key_path(self._database).exists(),
            progress=progress,
        )

    def root(self, first: int) -> bytes | None:
        """The root over the first so many entries, as it may be printed on paper; None where there
        are not so many. It is worth something after a clean `verify`."""
        return queries.root(self._database, first)

    def proof(self, number: str, *, with_particulars: bool = False) -> bytes:
        """The proof file of the youngest piece that bears this number. Raises ProofUnusable
        where no sealed piece does. Signs a head."""
        return proof.proof_of(
            self._database, self._writer, number, with_particulars=with_particulars
        )

    def particulars(self, sequence: int) -> dict[str, str] | None:
        """Names and addresses of an entry; None where there are none (any more)."""
        return erasable.particulars(self._database, sequence)

    def about(self, sequences: Sequence[int]) -> dict[int, dict[str, str]]:
        """For whom and why pieces or expected pairs are, by the sequence of their first entry;
        see `erasable.of_pieces`."""
        return erasable.of_pieces(self._database, sequences)

    def declared(self, *, article: str | None, card: str | None) -> dict[str, str]:
        """For whom and why the piece with these numbers is, by the list that expects it or its
        own stop within a day; see `hits.declared`."""
        return hits.declared(self._database, article=article, card=card, clock=self._clock)

    def find(self, text: str, *, progress: find_index.Progress | None = None) -> Iterator[hits.Hit]:
        """What a number, a name, a reference, or a part of one was found on, the newest first;
        see `hits.find`. Streams."""
        return hits.find(self._database, text, progress=progress)

    def forget(self, number: str, *, desk: str, operator: str) -> int:
        """Erase names, addresses and photos of every piece that bears this number, and note
        that it was done, both or neither; how many were erased. The chain still holds. Copies
        and exports made before keep what they have."""
        return erasing.forget(self._database, self._writer, number, desk=desk, operator=operator)

    def keep_photo(self, content: bytes, *, desk: str = "", operator: str = "") -> str:
        """Store a photo, and record that it was kept; its SHA-256 in hexadecimal, to be named in
        readings."""
        return erasing.keep_photo(self._writer, content, desk=desk, operator=operator)

    def photo(self, digest: str) -> bytes | None:
        """A stored photo by its SHA-256; None where it is not (any more) there."""
        return erasable.photo(self._database, digest)

    def export_lines(self, *, with_particulars: bool = False) -> Iterator[bytes]:
        """JSON Lines; see `exchange`."""
        return exchange.lines(self._database, with_particulars=with_particulars)

    def export_csv(self) -> Iterator[str]:
        """CSV; see `table`."""
        return csv_table.rows(self.entries())

    def import_lines(self, source: Iterable[bytes], *, where: str) -> int:
        """Bring in exported JSON Lines; how many entries were new. All or nothing."""
        items = exchange.items(source, where=where)
        return exchange.bring_in(self._database, items, source=where)

    def import_csv(self, source: Iterable[str], *, where: str) -> int:
        """Bring in an exported CSV (text opened with newline=""); how many were new."""
        return exchange.bring_in(
            self._database, csv_table.entries_of(source, where=where), source=where
        )

    def back_up(self, target: Path, *, progress: Callable[[int, int], None] | None = None) -> None:
        """Copy the ledger while it is in use; see `backup`."""
        backup.back_up(self._database, target, progress=progress)
