"""The append path: one draft becomes one durable entry, whoever else offers at the moment.

Race-free on both databases, because whoever appends holds a lock from before the numbers are
looked up until the commit: SQLite's BEGIN IMMEDIATE, PostgreSQL's advisory lock (each statement
after it sees what was committed before). Should anyone write without that lock, the sequence's
uniqueness makes one of the two fail, and that one starts over with what the other wrote.
"""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import Connection

from pairing.errors import KeyReused, LedgerDamaged
from pairing.findings import Finding, Weight
from pairing.ledger import continuity, heads, keys, watermark
from pairing.ledger.continuity import key_path, list_path, mark_path
from pairing.ledger.database import LOCK_ID, Database
from pairing.ledger.drafts import Draft, Ruling, check_draft, cleaned, is_same, made
from pairing.ledger.entries import Entry, Kind, at_text, columns, decode, encode
from pairing.ledger.erasable import seal
from pairing.ledger.failures import SequenceTaken, as_ledger_errors
from pairing.ledger.ruling import rule
from pairing.ledger.state import State, standing_around, standing_for
from pairing.ledger.statements import Fetcher, compiled
from pairing.ledger.tip import Tip, current_tip
from pairing.ledger.tree import HASH_BYTES, Frontier, leaf_hash

Clock = Callable[[], datetime]

_TRIES = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What became of a draft.

    entry: as it was recorded; its findings include the ledger's own. is_repeated: the draft's
    key was known and this is the first entry. is_as_offered: False where the ledger had to
    record something else than was offered, or has to contradict it. is_void: the piece that
    this repeats was voided, or corrected to other numbers, meanwhile.
    """

    entry: Entry
    is_as_offered: bool
    is_repeated: bool = False
    is_void: bool = False

    @property
    def may_seal(self) -> bool:
        """Whether the piece is sealed, durably, and was not voided."""
        return self.entry.kind is Kind.PAIRED and not self.is_void


class Writer:
    """Appends for one process. Threads take turns."""

    def __init__(self, database: Database, clock: Clock) -> None:
        self._database = database
        self._clock = clock
        self._statements = compiled(database.engine.dialect)
        self._integrity = database.engine.dialect.loaded_dbapi.IntegrityError
        self._turn = threading.Lock()
        self._raw: Any = None
        self._fetcher: Fetcher | None = None
        self._tip = Tip(Frontier())
        self._signer: keys.Signer | None = None
        self._mark = watermark.Watermark(mark_path(database))
        self._may_mark = True
        self._new_heads: list[heads.Head] = []
        self._are_keys_noted = False
        self._tampering: tuple[Finding, ...] = ()

    def append(self, draft: Draft) -> Outcome:
        """Record the draft, durably. Raises EntryRefused, KeyReused, LedgerUnusable; then
        nothing was recorded."""
        check_draft(draft)
        draft = cleaned(draft)
        # A commit whose answer was lost counts as not recorded here; offered again with its
        # key, it is found.
        with self._turn, as_ledger_errors(self._database.where, self._database.errors):
            for _ in range(_TRIES):
                try:
                    return self._try(draft)
                except SequenceTaken:
                    continue
        raise LedgerDamaged(
            "The ledger takes no further entry: its tables contradict each other",
            where=self._database.where,
            remedy="Verify the ledger, and go back to the last backup that verifies.",
        )

    def append_with(self, work: Callable[[Connection], Sequence[Draft]]) -> None:
        """Change what is kept beside the entries and record the drafts that `work` gives, in one
        transaction: both are on the disk when this returns, or neither where it raises. Nobody
        records meanwhile. A draft whose key is known is there already."""
        with self._turn, as_ledger_errors(self._database.where, self._database.errors):
            self._begin().cursor.execute("ROLLBACK")
            try:
                with self._database.writing() as connection:
                    fetcher = Fetcher(connection.connection.cursor(), self._statements)
                    tip = current_tip(self._tip, fetcher, self._database.where)
                    for draft in map(cleaned, work(connection)):
                        check_draft(draft)
                        if not (draft.key and self._by_key(fetcher, draft)):
                            _, tip = self._recorded(fetcher, tip, draft)
            except BaseException:
                self._new_heads = []
                raise
            self._now_at(tip)

    def sign_head(self) -> heads.Head | None:
        """Sign the tree as it is now, and record the head; None for an empty ledger."""
        with self._turn, as_ledger_errors(self._database.where, self._database.errors):
            fetcher = self._begin()
            try:
                tip = current_tip(self._tip, fetcher, self._database.where)
                now = at_text(self._clock())
                head = self._signed(fetcher, tip, now, now[:10]) if tip.size else None
                fetcher.cursor.execute("COMMIT")
            except BaseException:
                self._give_up()
                raise
            self._tip = tip
            self._list_heads()
            return head

    def mark_anew(self) -> None:
        """Set the watermark to what was recorded last here, whatever it said before."""
        with self._turn:
            self._mark.put(self._tip.size, self._tip.leaf)
            self._drop()

    def close(self) -> None:
        """Let go of connection and files."""
        with self._turn:
            self._drop()
            self._mark.close()

    def _try(self, draft: Draft) -> Outcome:
        fetcher = self._begin()
        try:
            if draft.key and (first := self._by_key(fetcher, draft)):
                fetcher.cursor.execute("ROLLBACK")
                return first
            tip = current_tip(self._tip, fetcher, self._database.where)
            outcome, tip = self._recorded(fetcher, tip, draft)
            fetcher.cursor.execute("COMMIT")
        except self._integrity as problem:
            self._give_up()
            raise SequenceTaken from problem
        except BaseException:
            self._give_up()
            raise
        self._now_at(tip)
        return outcome

    def _now_at(self, tip: Tip) -> None:
        """The entries are on the disk: nothing that follows may say otherwise."""
        self._tip = tip
        # A key that signed in this very transaction is noted in it.
        self._are_keys_noted = True
        self._list_heads()
        if self._may_mark:
            with contextlib.suppress(OSError):
                self._mark.put(tip.size, tip.leaf)

    def _recorded(self, fetcher: Fetcher, tip: Tip, draft: Draft) -> tuple[Outcome, Tip]:
        """Everything but the commit."""
        now = self._clock().astimezone(UTC)
        at = at_text(now)
        ruling = rule(draft, standing_for(draft, fetcher, self._database.where), now)
        if self._tampering and draft.kind in (Kind.PAIRED, Kind.CORRECTED):
            found = (*ruling.findings, *self._tampering)
            ruling = replace(ruling, is_accepted=False, findings=found)
        sealed = seal(draft.particulars) if draft.particulars else None
        commitment = sealed.commitment if sealed else ""
        entry = made(draft, ruling, tip, at, commitment)
        if tip.at and at[:10] > tip.at[:10]:
            self._signed(fetcher, tip, at, tip.at[:10])
        if sealed is not None:
            fetcher.do(
                self._statements.insert_particulars,
                {"sequence": entry.sequence, "salt": sealed.salt, "content": sealed.content},
            )
        tip = self._inserted(fetcher, tip, entry)
        outcome = Outcome(entry=entry, is_as_offered=ruling.is_accepted)
        return outcome, self._keys_noted(fetcher, tip, draft)

    def _inserted(self, fetcher: Fetcher, tip: Tip, entry: Entry) -> Tip:
        data = encode(entry)
        frontier = tip.frontier.copy()
        nodes = frontier.push(leaf_hash(data))
        values = columns(entry)
        values["nodes"], values["canonical"] = nodes, data
        fetcher.do(self._statements.insert_entry, values)
        return Tip(frontier, nodes[:HASH_BYTES], entry.at)

    def _keys_noted(self, fetcher: Fetcher, tip: Tip, draft: Draft) -> Tip:
        """An entry for each key that has signed here and is in none yet, whoever's it is."""
        if self._are_keys_noted:
            return tip
        for (key_id,) in fetcher.rows(self._statements.signers, {}):
            key = f"{continuity.KEY_USED}{key_id}"
            if fetcher.rows(self._statements.by_key, {"key": key}):
                continue
            remark = f"Signs heads of this ledger from here on: key {key_id}"
            note = Draft(
                kind=Kind.NOTE, desk=draft.desk, operator=draft.operator, remark=remark, key=key
            )
            entry = made(note, Ruling(is_accepted=True, refers=None), tip, tip.at, "")
            tip = self._inserted(fetcher, tip, entry)
        return tip

    def _by_key(self, fetcher: Fetcher, draft: Draft) -> Outcome | None:
        rows = fetcher.rows(self._statements.by_key, {"key": draft.key})
        if not rows:
            return None
        where = f"{self._database.where}, entry {rows[0][0]}"
        entry = decode(rows[0][1], where=where)
        if not is_same(draft, entry):
            raise KeyReused(
                f"The key {draft.key!r} is already used for another offer",
                where=where,
                remedy="Give every piece a key of its own.",
            )
        kept = entry.kind is draft.kind
        contradicted = any(
            one.code.startswith("return-") and one.weight is not Weight.NOTE
            for one in entry.findings
        )
        standing = standing_around([entry], fetcher, self._database.where)
        piece = standing.pieces.get(entry.sequence)
        return Outcome(
            entry=entry,
            is_as_offered=kept and not contradicted,
            is_repeated=True,
            is_void=piece is not None and piece.state is State.VOID,
        )

    def _signed(self, fetcher: Fetcher, tip: Tip, at: str, day: str) -> heads.Head:
        if self._signer is None:
            self._signer = keys.load_or_make(key_path(self._database))
        signer = self._signer
        root = tip.frontier.root()
        head = heads.sign(signer, size=tip.size, root=root, day=day, at=at)
        names = {"key_id": signer.key_id}
        if not fetcher.rows(self._statements.signer, names):
            fetcher.do(self._statements.insert_signer, {**names, "public": signer.public})
            self._are_keys_noted = False
        if not fetcher.rows(self._statements.head, {**names, "size": tip.size}):
            fetcher.do(self._statements.insert_head, heads.row(head))
            self._new_heads.append(head)
        return head

    def _list_heads(self) -> None:
        """What was signed is on the disk: nothing that follows may say otherwise."""
        listed, self._new_heads = self._new_heads, []
        witness = continuity.witness_path(self._database)
        for path in (list_path(self._database), witness):
            if listed and path is not None:
                with contextlib.suppress(OSError):
                    continuity.note(path, listed)

    def _begin(self) -> Fetcher:
        if self._tampering and not continuity.tampering(self._database):
            self._drop()  # an operator said to go on
        if self._raw is None:
            self._tampering = continuity.tampering(self._database)
            mark = watermark.read(self._mark.path)
            self._raw = self._database.raw()
            try:
                fetcher = self._started()
                tip = current_tip(Tip(Frontier()), fetcher, self._database.where)
            except BaseException:
                self._drop()
                raise
            # A ledger that has lost its end must not hide that by going on.
            self._may_mark = not self._tampering and (mark is None or mark.size <= tip.size)
            self._tip = tip
            return fetcher
        return self._started()

    def _started(self) -> Fetcher:
        if self._fetcher is None:
            self._fetcher = Fetcher(self._raw.cursor(), self._statements)
        if self._database.is_sqlite:
            self._fetcher.cursor.execute("BEGIN IMMEDIATE")
        else:
            self._fetcher.cursor.execute("BEGIN")
            self._fetcher.cursor.execute("SELECT pg_advisory_xact_lock(%s)", (LOCK_ID,))
        return self._fetcher

    def _give_up(self) -> None:
        """Undo; where even that fails, the next offer begins with a new connection."""
        self._new_heads = []
        try:
            self._raw.cursor().execute("ROLLBACK")
        except self._database.errors:
            self._drop()

    def _drop(self) -> None:
        if self._raw is not None:
            self._raw.close()
            self._raw = self._fetcher = None
