"""One piece's row: what was read on it, the verdict, and why. `schema()` describes it."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Annotated, Any, Literal

import msgspec

from pairing.audit.run.codec import decoded
from pairing.audit.run.photo_line import PhotoLine
from pairing.audit.run.records import Recorded
from pairing.compare import compare
from pairing.errors import OutputRefused, PhotoUnusable
from pairing.findings import Finding, Weight
from pairing.judge import Weighed, sides
from pairing.judge.box import places
from pairing.model import (
    EarlierUse,
    ExpectedPair,
    How,
    Judgement,
    Quad,
    Reading,
    Side,
    Verdict,
)
from pairing.numbers import group_sizes, is_number
from pairing.photos.written import thresholds
from pairing.pieces.batch import PieceContext, judge_piece
from pairing.pieces.photo_groups import Photo, PhotoPiece
from pairing.pieces.reading import PhotoReadings, PieceReadings, read_piece

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
    """Unsorted photos: how label and card were put together; natural logarithms of odds."""

    label: str
    log_odds: float
    margin_log_odds: float
    next: str | None
    counts: bool


class RowRecord(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How the ledger has the piece."""

    state: Recorded
    entry: int | None


class RowReview(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What a person said on looking again."""

    decision: Literal["confirmed", "misread"]
    note: str
    by: str
    at: str


class Row(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One row of an audit: one photographed piece. rows.jsonl holds one of these a line, in the
    order of the photos.

    piece: by the photos' names, the list, or (unsorted photos) the first photo. article: the
    label's number, canonical; null where not exactly one was read. written: what is written in
    the box, as far as it was read beyond doubt. desk: the ledger's desk, else the photos'
    folder. day: the ledger's day, else the camera's; empty where neither is known.
    """

    format: Literal[1]
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

    @property
    def standing(self) -> Verdict:
        """The verdict after review: what a person found misread is not read."""
        if self.review is not None and self.review.decision == "misread":
            return Verdict.UNREAD
        return self.verdict

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


@dataclass(frozen=True, slots=True, kw_only=True)
class RowContext:
    """What is known around one piece from elsewhere; small, so that it can be sent.

    expected, earlier, others: as `judge` takes them, cut down to what can touch this piece.
    found: findings from outside the photos (the ledger, the match).
    is_apart: its label and card are not known to belong together: it cannot be judged.
    match, record: what the row says of these. strictness: one of `judge.box.STRICTNESS`.
    """

    expected: tuple[ExpectedPair, ...] = ()
    earlier: tuple[EarlierUse, ...] = ()
    others: Mapping[str, str] = field(default_factory=dict)
    found: tuple[Finding, ...] = ()
    is_apart: bool = False
    match: RowMatch | None = None
    record: RowRecord | None = None
    desk: str = ""
    day: str = ""
    strictness: str = "1e-4"


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
    draft = target.with_name(target.name + ".part")
    try:
        with draft.open("wb") as file:
            for row in rows:
                file.write(msgspec.json.encode(row) + b"\n")
            file.flush()
            os.fsync(file.fileno())
        draft.replace(target)
    except OSError as error:
        raise OutputRefused(
            f"The rows cannot be written ({error.strerror or error})",
            where=os.fspath(target),
            remedy="Make room, and run the same command again: what was read is kept.",
        ) from error


def piece_of_lines(name: str, lines: Sequence[PhotoLine], *, is_declared: bool) -> PieceReadings:
    """The piece again from its photos' lines."""
    known = {Path(line.photo): line for line in lines}

    def read(photo: Photo) -> PhotoReadings:
        line = known[photo.path]
        if line.reading is None:
            raise PhotoUnusable(line.unusable, where=line.photo, remedy=line.remedy)
        return _named(decoded(line.reading, where=line.photo), photo.path)

    photos = tuple(Photo(path=path, shows=None) for path in known)
    return read_piece(PhotoPiece(name=name, photos=photos, is_declared=is_declared), read=read)


def _named(read: PhotoReadings, path: Path) -> PhotoReadings:
    """What was read of a photo that has another name since."""
    before, now = os.fspath(read.photo.path), os.fspath(path)
    if before == now:
        return read

    def source(text: str) -> str:
        return now + text.removeprefix(before)

    frames = tuple(
        replace(
            frame,
            readings=tuple(replace(one, source=source(one.source)) for one in frame.readings),
            seen=replace(frame.seen, source=source(frame.seen.source)) if frame.seen else None,
        )
        for frame in read.frames
    )
    return replace(read, photo=replace(read.photo, path=path), frames=frames)


def numbers_of(piece: PieceReadings) -> tuple[str | None, str | None]:
    """Its article and card number, as they were read on label and card alone."""
    label, card = sides.label(piece.readings).number, sides.card(piece.readings).number
    return label.text if label else None, card.text if card else None


def texts_in_box(piece: PieceReadings) -> tuple[str, ...]:
    """Every text that its box was read as."""
    found = [one.number.text for one in piece.readings if one.side is Side.BOX]
    if piece.seen is not None and piece.seen.evidence is not None:
        found.append(piece.seen.evidence.best)
    return tuple(dict.fromkeys(text for text in found if text))


def row_of(piece: PieceReadings, context: RowContext, lines: Sequence[PhotoLine]) -> Row:
    """Judge the piece, and put down everything about it."""
    if context.is_apart:
        weighed, judgement = Weighed(), _kept_apart(piece, context)
    else:
        result = judge_piece(
            piece,
            PieceContext(
                thresholds=thresholds(context.strictness),
                expected=context.expected,
                earlier=context.earlier,
                others=context.others,
                found=context.found,
            ),
        )
        weighed, judgement = result.weighed, result.judgement
    return Row(
        format=1,
        piece=piece.piece.name,
        verdict=judgement.verdict,
        article=judgement.article,
        card=judgement.card,
        written=judgement.written,
        written_by=judgement.written_by,
        difference=_difference(judgement),
        findings=tuple(RowFinding.of(finding) for finding in judgement.findings),
        photos=tuple(_photo(line) for line in lines),
        readings=tuple(_reading(one, lines) for one in (*piece.readings, *weighed.readings)),
        box=_box(piece, weighed, lines),
        match=context.match,
        record=context.record,
        desk=context.desk,
        day=context.day,
        review=None,
    )


def _kept_apart(piece: PieceReadings, context: RowContext) -> Judgement:
    """Of photos that are not known to belong together nothing can be said but the numbers."""
    article, card = numbers_of(piece)
    return Judgement(
        verdict=Verdict.UNREAD,
        article=article,
        card=card,
        written=None,
        written_by=None,
        findings=context.found,
    )


def _difference(judgement: Judgement) -> RowDifference | None:
    """Label and box aligned, where both were read and are not the same."""
    article, written = judgement.article, judgement.written
    if not article or not written or article == written:
        return None
    if judgement.verdict is not Verdict.DIFFERS:
        return None
    found = compare(
        article,
        written,
        group_sizes=group_sizes(article),
        is_valid=is_number,
        card=judgement.card or None,
    )
    code = next((f.code for f in judgement.findings if f.code.startswith("box-")), "")
    return RowDifference(
        error=code.removeprefix("box-"),
        positions=tuple(found.positions),
        columns=tuple((column.label, column.box) for column in found.columns),
        passes_check=found.passes_check,
    )


def _box(piece: PieceReadings, weighed: Weighed, lines: Sequence[PhotoLine]) -> RowBox | None:
    """What the reader made of the writing or print in the box; None where it saw none."""
    seen = piece.seen
    if seen is None:
        return None
    photo, page = _where(seen.source, lines)
    return RowBox(
        photo=photo,
        page=page,
        read=seen.evidence.best if seen.evidence else None,
        read_by=seen.how if seen.evidence else None,
        digit_probabilities=tuple(round(one, 4) for one in seen.digit_probabilities),
        doubtful=tuple(places(weighed.asks)),
        unread=seen.reason.name.lower().replace("_", "-") if seen.reason else None,
        found_by_shape=seen.is_by_shape,
        place_px=_corners(seen.box),
    )


def _photo(line: PhotoLine) -> RowPhoto:
    return RowPhoto(
        photo=line.photo,
        sha256=line.sha256 or None,
        size=line.size,
        day=line.day or None,
        skipped=line.unusable or None,
    )


def _where(source: str, lines: Sequence[PhotoLine]) -> tuple[str, int]:
    """A reading's source as photo and page (from 1)."""
    for line in lines:
        if source == line.photo:
            break
        if source.startswith(f"{line.photo} page "):
            return line.photo, int(source.rpartition(" ")[2])
    return source, 1


def _reading(reading: Reading, lines: Sequence[PhotoLine]) -> RowReading:
    photo, page = _where(reading.source, lines)
    return RowReading(
        side=reading.side,
        how=reading.how,
        text=reading.number.text,
        photo=photo,
        page=page,
        place_px=_corners(reading.quad) if reading.quad else None,
    )


def _corners(quad: Quad) -> Corners:
    return tuple((round(x, 1), round(y, 1)) for x, y in quad.corners)
