"""One piece's row: what was read on it, the verdict, and why. `schema()` describes it."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Annotated, Any, Literal

import msgspec

from pairing import output
from pairing.audit.run.records import Recorded
from pairing.errors import OutputRefused
from pairing.findings import Finding, Weight
from pairing.model import (
    How,
    Side,
    Verdict,
)

Place = Annotated[int, msgspec.Meta(ge=1)]
Corners = tuple[tuple[float, float], ...]
Columns = tuple[tuple[str | None, str | None], ...]


class RowDifference(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Label and box aligned. positions: of the label's characters, from 1. columns: label and
    box; null where that side has nothing."""

    error: str
    positions: tuple[Place, ...]
    columns: Columns
    passes_check: bool


class RowFinding(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A finding, as the judge made it."""

    code: Annotated[str, msgspec.Meta(pattern="^[a-z0-9-]+$")]
    message: str
    positions: tuple[Place, ...]
    action: str
    weight: Weight

    @classmethod
    def of(cls, finding: Finding) -> RowFinding:
        """The same in words."""
        said = finding.sentences
        return cls(
            code=finding.code,
            message=said.message,
            positions=finding.positions,
            action=said.action,
            weight=finding.weight,
        )

    @property
    def read_back(self) -> Finding:
        """The finding, with these words."""
        return Finding.read_back(
            self.code,
            message=self.message,
            action=self.action,
            weight=self.weight,
            positions=self.positions,
        )


class RowPhoto(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """photo: path below the folder or address that was audited. size: bytes. day: the camera's.
    skipped: why the photo could not be used."""

    photo: str
    sha256: Annotated[str, msgspec.Meta(pattern="^[0-9a-f]{64}$")] | None
    size: Annotated[int, msgspec.Meta(ge=0)]
    day: Annotated[str, msgspec.Meta(pattern="^[0-9]{4}-[0-9]{2}-[0-9]{2}$")] | None
    skipped: str | None


class RowReading(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One reading. place_px: four corners x, y in px, from the top left as read."""

    side: Side
    how: How
    text: str
    photo: str
    page: Place
    place_px: Corners | None


class RowBox(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What was read in the box by its shape, blind. doubtful: characters of `read`, from 1."""

    photo: str
    page: Place
    read: str | None
    read_by: How | None
    digit_probabilities: tuple[float, ...]
    doubtful: tuple[Place, ...]
    unread: str | None
    found_by_shape: bool
    place_px: Corners | None


class RowMatch(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Unsorted photos: how label and card were put together; natural logarithms of odds. counts:
    whether the piece was judged as put together. would: where it was not, since only the box
    speaks for the match: the verdict that the two would probably have."""

    label: str
    log_odds: float
    margin_log_odds: float
    next: str | None
    counts: bool
    would: Verdict | None = None


class RowRecord(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How the ledger has the piece."""

    state: Recorded
    entry: int | None


class RowReview(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What a person said on looking again; "noted" is a note without a decision."""

    decision: Literal["confirmed", "misread", "noted"]
    note: str
    by: str
    at: str


class RowKeyed(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A person's reading of a box that the program did not read, made without seeing the label.
    text: as typed. by: initials. seen: `Row.in_short` without it."""

    text: str
    by: str
    at: str
    seen: str


class Row(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One row of an audit: one photographed piece. rows.jsonl holds one of these a line, in the
    order of the photos.

    piece: by the photos' names, the list, or (unsorted photos) the first photo. article: the
    label's number, canonical; null where not exactly one was read. written: what is written in
    the box, as far as it was read beyond doubt. desk: the ledger's desk, else the photos'
    folder. day: the ledger's day, else the camera's; empty where neither is known. keyed: what a
    person read in the box; the row is judged with it.
    """

    format: Literal[1, 2]
    piece: str
    verdict: Verdict
    article: str | None
    card: str | None
    written: str | None
    written_by: How | None
    difference: RowDifference | None
    findings: tuple[RowFinding, ...]
    photos: tuple[RowPhoto, ...]
    readings: tuple[RowReading, ...]
    box: RowBox | None
    match: RowMatch | None
    record: RowRecord | None
    desk: str
    day: str
    review: RowReview | None
    keyed: RowKeyed | None = None

    @property
    def standing(self) -> Verdict:
        """The verdict after review: what a person found misread is not read."""
        if self.review is not None and self.review.decision == "misread":
            return Verdict.UNREAD
        return self.verdict

    @property
    def may_be_keyed(self) -> bool:
        """Whether a person may read its box: the label was read, a card is there, its box was not
        read, and the two are known to belong together."""
        is_one = self.match is None or self.match.counts
        has_both = bool(self.article) and (bool(self.card) or self.box is not None)
        return self.verdict is Verdict.UNREAD and not self.written and has_both and is_one

    def has(self, *codes: str) -> bool:
        """Whether a finding has one of these codes."""
        return any(one.code in codes for one in self.findings)

    @property
    def worst(self) -> RowFinding | None:
        """The gravest finding: the first that clashes, else the first that doubts."""
        for weight in (Weight.CLASH, Weight.DOUBT):
            for finding in self.findings:
                if finding.weight is weight:
                    return finding
        return None

    @property
    def error(self) -> str:
        """The kind of error of a differing row: of its box, else its gravest finding's."""
        if self.difference is not None:
            return self.difference.error
        return self.worst.code.removeprefix("box-") if self.worst else "unknown"

    @property
    def hashes(self) -> tuple[str, ...]:
        """The SHA-256 of its photos."""
        return tuple(photo.sha256 or "" for photo in self.photos)

    @property
    def in_short(self) -> str:
        """What a person is shown of it: verdict, label, card and box."""
        numbers = (self.article, self.card, self.written)
        return " ".join((self.verdict, *(number or "-" for number in numbers)))


def schema() -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) of one row."""
    return msgspec.json.schema(Row)


_ROWS = msgspec.json.Decoder(Row)


def rows_in(path: Path) -> Iterator[Row]:
    """The rows of a file, streamed. Raises OutputRefused where there is none."""
    try:
        with path.open("rb") as file:
            yield from map(_ROWS.decode, file)
    except (OSError, msgspec.MsgspecError) as error:
        raise OutputRefused(
            f"There are no rows there ({error})",
            where=os.fspath(path),
            remedy="Run `counterfoil audit` on the photos first.",
        ) from error


def write_rows(rows: Iterable[Row], target: Path) -> None:
    """Write the file whole, in the place of the one that is there. Raises OutputRefused."""
    lines = (msgspec.json.encode(row) + b"\n" for row in rows)
    output.replace(
        target, lines, remedy="Make room, and run the same command again: what was read is kept."
    )
