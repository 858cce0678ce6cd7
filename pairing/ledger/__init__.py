"""The desk's record: an append-only ledger whose entries never change.

`Ledger.open` is the door. What is offered is a `Draft`, what was recorded an `Entry`; what is
the case now comes from folding entries (`state`). Entries are hashed in canonical form into a
chain and a Merkle tree with signed heads, so that a changed, dropped or cut-off entry shows.
"""

from __future__ import annotations

from pairing.ledger.drafts import Draft, draft_of, observed
from pairing.ledger.entries import Entry, Kind, Observed, Via
from pairing.ledger.heads import Head
from pairing.ledger.hits import Hit
from pairing.ledger.proof import ProofCheck
from pairing.ledger.proof import check as check_proof
from pairing.ledger.queries import Story
from pairing.ledger.state import Expectation, Piece, Standing, State, fold
from pairing.ledger.store import Ledger
from pairing.ledger.walk_report import Problem, Report
from pairing.ledger.writer import Outcome

__all__ = [
    "Draft",
    "Entry",
    "Expectation",
    "Head",
    "Hit",
    "Kind",
    "Ledger",
    "Observed",
    "Outcome",
    "Piece",
    "Problem",
    "ProofCheck",
    "Report",
    "Standing",
    "State",
    "Story",
    "Via",
    "check_proof",
    "draft_of",
    "fold",
    "observed",
]
