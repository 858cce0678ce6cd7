"""What people said on looking at a row again, taken back into the rows and the ledger.

A decision holds for the photos and for the verdict and numbers that the report showed; of two the
later one. A row called misread counts as unread. A piece that several rows show counts once in a
conclusion.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

import msgspec

from pairing import whole_file
from pairing.audit.run.rows import Row, RowReview
from pairing.errors import TableUnusable
from pairing.ledger import Draft, Kind, Ledger, Observed, Via
from pairing.model import Side

FORMAT = "counterfoil decisions 1"
SAID = ("confirmed", "misread", "noted")
KEYED = "keyed"
"""Said of a piece whose box a person read."""
NOTED = "noted"
"""A note alone: whoever wrote it decided nothing, and the piece stays as it was judged."""
WITHDRAWN = "withdrawn"
"""Said of a decision that was taken back: from then on there is none."""


class Keyed(msgspec.Struct, frozen=True, kw_only=True):
    """What a person read in a box that the program did not read, without seeing the label.

    text: as typed. by: initials. at: when, in UTC. seen: what the row was without it
    (`Row.in_short`); it holds for that alone.
    """

    text: str
    by: str
    at: str = ""
    seen: str


class Decision(msgspec.Struct, frozen=True, kw_only=True, omit_defaults=True):
    """What was said of one piece. It holds for the photos that it was made on (SHA-256) and for
    what the report showed of them (`Row.in_short`), and for nothing else. at: when, in UTC.
    keyed: a person's reading of its box; what is decided of the piece later is decided beside
    it, and "withdrawn" without one takes it back."""

    piece: str
    photos: tuple[str, ...]
    seen: str = ""
    decision: Literal["confirmed", "misread", "noted", "withdrawn", "keyed"]
    note: str = ""
    by: str = ""
    at: str = ""
    keyed: Keyed | None = None


class _DecisionFile(msgspec.Struct, kw_only=True):
    """A file of decisions, as the report saves it."""

    format: Literal["counterfoil decisions 1"]
    decisions: list[Decision]


@dataclass(slots=True)
class Decisions:
    """Decisions by piece."""

    by_piece: dict[str, Decision] = field(default_factory=dict)

    @classmethod
    def of(cls, found: Iterable[Decision]) -> Decisions:
        """These; of two about one piece the last one."""
        return cls({one.piece: _shortened(one) for one in found})

    @classmethod
    def read(cls, path: Path) -> Decisions:
        """Those of a file, as the report saves it. Raises TableUnusable."""
        try:
            return cls.of(msgspec.json.decode(whole_file.read(path), type=_DecisionFile).decisions)
        except OSError as error:
            raise TableUnusable(
                f"The file of decisions cannot be read ({error.strerror or error})",
                where=os.fspath(path),
                remedy="Give the file that was saved from the report.",
            ) from error
        except (msgspec.MsgspecError, ValueError, RecursionError) as error:
            raise TableUnusable(
                f"This is not a file of decisions ({error})",
                where=os.fspath(path),
                remedy="Give the file that the report saves; of each piece it has the decision "
                f"{', '.join(SAID)}, {KEYED} or {WITHDRAWN}.",
            ) from error

    def about(self, row: Row) -> RowReview | None:
        """What was said of this row, None where nothing was, or of other photos, or of
        another verdict."""
        found = self.by_piece.get(row.piece)
        if found is None or (found.photos, found.seen) != (row.hashes, row.in_short):
            return None
        if found.decision == "withdrawn" or found.decision == "keyed":  # noqa: PLR1714 - for mypy
            return None
        return RowReview(decision=found.decision, note=found.note, by=found.by, at=found.at)

    def keyed(self, piece: str, hashes: tuple[str, ...]) -> Keyed | None:
        """What a person read in the box of this piece, on these photos."""
        found = self.by_piece.get(piece)
        return found.keyed if found is not None and found.photos == hashes else None

    def is_about(self, row: Row) -> bool:
        """Whether there is one on this row's photos, and on what the report said of them, or
        that is in the row already as a keyed reading."""
        found = self.by_piece.get(row.piece)
        if found is None or found.photos != row.hashes:
            return False
        if row.keyed is not None and found.keyed is not None:
            return row.keyed.text == found.keyed.text
        return found.seen == row.in_short

    def merge(self, newer: Decisions) -> None:
        """Take newer ones over older ones. A file may be older than what is kept already: of
        two decisions on a piece the later one holds."""
        for piece, one in newer.by_piece.items():
            kept = self.by_piece.get(piece)
            if kept is None or not one.at or one.at >= kept.at:
                self.by_piece[piece] = _with_keyed(one, kept)


def _with_keyed(newer: Decision, kept: Decision | None) -> Decision:
    """The newer one beside what was keyed before, unless that is taken back."""
    if kept is None or newer.keyed is not None or newer.decision == "withdrawn":
        return newer
    if newer.photos != kept.photos:
        return newer
    return msgspec.structs.replace(newer, keyed=kept.keyed)


def _shortened(one: Decision) -> Decision:
    """No longer than the report's fields allow."""
    keyed = one.keyed
    if keyed is not None:
        keyed = msgspec.structs.replace(
            keyed, text=keyed.text[:80], by=keyed.by[:80], at=keyed.at[:40]
        )
    return msgspec.structs.replace(
        one, note=one.note[:500], by=one.by[:80], at=one.at[:40], keyed=keyed
    )


_IN_LEDGER = {
    "confirmed": "confirmed on looking again",
    "misread": "a misreading, on looking again",
    NOTED: "not decided on looking again",
}


def record(row: Row, ledger: Ledger, *, desk: str, operator: str) -> bool:
    """Note a reviewed row in the ledger, beside the piece if it is recorded there. Given twice
    it is noted once. False where the row was not reviewed. Raises LedgerUnusable."""
    review = row.review
    if review is None and row.keyed is None:
        return False
    said, note, by, at = "its box keyed by a person who saw no label", "", "", ""
    if review is not None:
        said = _IN_LEDGER[review.decision]
        note, by, at = (f" {review.note}" if review.note else ""), review.by, review.at
    elif row.keyed is not None:
        by, at = row.keyed.by, row.keyed.at
    about = hashlib.sha256(" ".join((*row.hashes, row.in_short)).encode()).hexdigest()
    ledger.append(
        Draft(
            kind=Kind.NOTE,
            desk=desk,
            operator=by or operator,
            article=row.article,
            card=row.card,
            readings=_observed(row),
            refers=row.record.entry if row.record else None,
            remark=f"Audit of photographs: {row.verdict}, {said}.{note}",
            key=f"audit-{row.piece}-{about[:32]}-{review.decision if review else 'keyed'}-{at}",
        )
    )
    return True


def _observed(row: Row) -> tuple[Observed, ...]:
    known = {photo.photo: photo.sha256 or "" for photo in row.photos}
    return tuple(
        Observed(
            side=one.side,
            how=one.how,
            via=Via.PHOTO if known.get(one.photo) else Via.KEYED,
            text=one.text,
            photo_sha256=known.get(one.photo, ""),
        )
        for one in row.readings
        if one.side is not Side.UNPLACED
    )
