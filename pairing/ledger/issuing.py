"""Make one piece's proof from the ledger."""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import select

from pairing.errors import ProofUnusable
from pairing.ledger import proof, queries
from pairing.ledger.database import Database
from pairing.ledger.edge import subtree_in
from pairing.ledger.entries import Entry
from pairing.ledger.schema import ENTRIES, PARTICULARS
from pairing.ledger.writer import Writer


def proof_of(database: Database, writer: Writer, number: str, *, with_particulars: bool) -> bytes:
    """The proof file of the youngest piece that bears this number, under a head signed now.
    Raises ProofUnusable where no accepted piece does."""
    pieces = queries.story(database, number).pieces
    head = writer.sign_head() if pieces else None
    if head is None:
        raise ProofUnusable(
            "No accepted piece bears this number",
            where=number,
            remedy="Look at the number's story; what was stopped has no proof.",
        )
    history = [queries.entry(database, sequence) for sequence in pieces[-1].history]
    entries = [one for one in history if one is not None]
    openings = _openings(database, entries) if with_particulars else {}
    with database.reading() as connection:

        def subtree(level: int, index: int) -> bytes:
            wanted = select(ENTRIES.c.nodes).where(ENTRIES.c.sequence == (index + 1) << level)
            nodes = connection.execute(wanted).scalar()
            return subtree_in(nodes or b"", level, index, database.where)

        return proof.make(entries, head, subtree, openings)


def _openings(database: Database, entries: Sequence[Entry]) -> dict[int, proof.Opening]:
    sequences = [one.sequence for one in entries]
    with database.reading() as connection:
        return {
            row.sequence: proof.Opening(salt=bytes(row.salt), content=bytes(row.content))
            for row in connection.execute(
                select(PARTICULARS).where(PARTICULARS.c.sequence.in_(sequences))
            )
        }
