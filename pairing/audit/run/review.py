"""What people said on looking at a row again, taken back into the rows and the ledger."""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pairing.errors import OutputRefused, TableUnusable
from pairing.ledger import Draft, Kind, Ledger, Observed, Via
from pairing.model import How, Side

FILE = "decisions.json"
FORMAT = "counterfoil decisions 1"
SAID = ("confirmed", "misread")
WITHDRAWN = "withdrawn"
"""Said of a decision that was taken back: from then on there is none."""


@dataclass(slots=True)
class Decisions:
    """Decisions by piece. A decision holds for the photos that it was made on and for what the
    report said of them, and for nothing else: it carries their SHA-256, and `seen_of` the row."""

    by_piece: dict[str, dict[str, Any]] = field(default_factory=dict)

    @classmethod
    def of(cls, folder: Path) -> Decisions:
        """Those taken before into the run's folder. Raises TableUnusable."""
        path = folder / FILE
        return cls.read(path) if path.exists() else cls()

    @classmethod
    def read(cls, path: Path) -> Decisions:
        """Those of a file, as the report saves it. Raises TableUnusable."""
        try:
            found = json.loads(path.read_text(encoding="utf-8"))
            if found["format"] != FORMAT:
                raise ValueError(found["format"])  # noqa: TRY301 - told below
            return cls._of(found["decisions"])
        except OSError as error:
            raise TableUnusable(
                f"The file of decisions cannot be read ({error.strerror or error})",
                where=os.fspath(path),
                remedy="Give the file that was saved from the report.",
            ) from error
        except (ValueError, KeyError, TypeError, RecursionError) as error:
            raise TableUnusable(
                "This is no file of decisions",
                where=os.fspath(path),
                remedy="Give the file that the report saves; of each piece it has the decision "
                f"{', '.join(SAID)} or {WITHDRAWN}.",
            ) from error

    @classmethod
    def of_list(cls, found: Iterable[Mapping[str, Any]], where: str) -> Decisions:
        """Those kept one by one elsewhere. Raises TableUnusable."""
        try:
            return cls._of(found)
        except (ValueError, KeyError, TypeError, RecursionError) as error:
            raise TableUnusable(
                f"A decision that was kept is damaged ({type(error).__name__}: {error})",
                where=where,
                remedy="Take it back from the report again, into another run.",
            ) from error

    @classmethod
    def _of(cls, found: Iterable[Mapping[str, Any]]) -> Decisions:
        return cls({one["piece"]: _checked(one) for one in found})

    def about(self, row: Mapping[str, Any]) -> dict[str, Any] | None:
        """What was said of this row, None where nothing was, or of other photos, or of
        another verdict."""
        found = self.by_piece.get(row["piece"])
        if found is None or not self.is_about(row) or found["decision"] == WITHDRAWN:
            return None
        return {name: found[name] for name in ("decision", "note", "by", "at")}

    def is_about(self, row: Mapping[str, Any]) -> bool:
        """Whether there is one on this row's photos, and on what the report said of them."""
        found = self.by_piece.get(row["piece"])
        made_on = (hashes(row), seen_of(row))
        return found is not None and (found["photos"], found["seen"]) == made_on

    def merge(self, newer: Decisions) -> None:
        """Take newer ones over older ones. A file may be older than what is kept already: of
        two decisions on a piece the later one holds."""
        for piece, one in newer.by_piece.items():
            kept = self.by_piece.get(piece)
            if kept is None or not one["at"] or one["at"] >= kept["at"]:
                self.by_piece[piece] = one

    def take_later(self, others: Decisions) -> None:
        """Take those of others that were made later than one's own."""
        for piece, one in others.by_piece.items():
            own = self.by_piece.get(piece)
            if own is None or one["at"] > own["at"]:
                self.by_piece[piece] = one

    def write(self, folder: Path) -> None:
        """Keep them in the run's folder. Raises OutputRefused."""
        path = folder / FILE
        draft = path.with_name(FILE + ".part")
        body = {"format": FORMAT, "decisions": list(self.by_piece.values())}
        try:
            draft.write_text(json.dumps(body, indent=1) + "\n", encoding="utf-8")
            draft.replace(path)
        except OSError as error:
            raise OutputRefused(
                f"The decisions cannot be kept ({error.strerror or error})",
                where=os.fspath(path),
                remedy="Make room, and give them again.",
            ) from error


def hashes(row: Mapping[str, Any]) -> list[str]:
    """The SHA-256 of the row's photos."""
    return [photo["sha256"] or "" for photo in row["photos"]]


def seen_of(row: Mapping[str, Any]) -> str:
    """What a person was shown of a row, in short: verdict, label, card and box."""
    numbers = (row["article"], row["card"], row["written"])
    return " ".join((row["verdict"], *(number or "-" for number in numbers)))


def record(row: Mapping[str, Any], ledger: Ledger, *, desk: str, operator: str) -> bool:
    """Note a reviewed row in the ledger, beside the piece if it is recorded there. Given twice
    it is noted once. False where the row was not reviewed. Raises LedgerUnusable."""
    review = row["review"]
    if review is None:
        return False
    said = {"confirmed": "confirmed on looking again", "misread": "a misreading, on looking again"}
    note = f" {review['note']}" if review["note"] else ""
    about = hashlib.sha256(" ".join((*hashes(row), seen_of(row))).encode()).hexdigest()
    ledger.append(
        Draft(
            kind=Kind.NOTE,
            desk=desk,
            operator=review["by"] or operator,
            article=row["article"],
            card=row["card"],
            readings=_observed(row),
            refers=(row["record"] or {}).get("entry"),
            remark=f"Audit of photographs: {row['verdict']}, {said[review['decision']]}.{note}",
            key=f"audit-{row['piece']}-{about[:32]}-{review['decision']}-{review['at']}",
        )
    )
    return True


def _observed(row: Mapping[str, Any]) -> tuple[Observed, ...]:
    known = {photo["photo"]: photo["sha256"] or "" for photo in row["photos"]}
    return tuple(
        Observed(
            side=Side(one["side"]),
            how=How(one["how"]),
            via=Via.PHOTO if known.get(one["photo"]) else Via.KEYED,
            text=one["text"],
            photo_sha256=known.get(one["photo"], ""),
        )
        for one in row["readings"]
        if one["side"] != Side.UNPLACED.value
    )


def _checked(one: Mapping[str, Any]) -> dict[str, Any]:
    if one["decision"] not in (*SAID, WITHDRAWN):
        raise ValueError(one["decision"])
    return {
        "piece": str(one["piece"]),
        "photos": [str(digest) for digest in one["photos"]],
        "seen": str(one.get("seen", "")),
        "decision": one["decision"],
        "note": str(one.get("note", ""))[:500],
        "by": str(one.get("by", ""))[:80],
        "at": str(one.get("at", ""))[:40],
    }
