"""One piece judged with what is known around it, in whatever process it is done."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from pathlib import Path, PurePosixPath

import msgspec

from pairing.audit.run.apart import apart, of_no_label
from pairing.audit.run.joining import Joining
from pairing.audit.run.listing import Listing
from pairing.audit.run.lot_pieces import Piece, piece_of_lines
from pairing.audit.run.photo_line import PhotoLine
from pairing.audit.run.records import Records
from pairing.audit.run.review import Decisions, Keyed
from pairing.audit.run.rows import (
    Corners,
    Row,
    RowBox,
    RowDifference,
    RowFinding,
    RowKeyed,
    RowMatch,
    RowPhoto,
    RowReading,
    RowRecord,
)
from pairing.compare import compare
from pairing.findings import Code, Finding, Weight
from pairing.judge import Weighed
from pairing.judge.box import places
from pairing.model import EarlierUse, ExpectedPair, Judgment, Quad, Reading, Verdict
from pairing.numbers import group_sizes, is_number
from pairing.photos import handed
from pairing.photos.written import thresholds
from pairing.pieces.batch import PieceContext, PieceResult, judge_piece, with_written
from pairing.pieces.reading import PieceReadings

_MOST_OTHERS = 8
"""A few tell the story; a stack of equal photos must not cost its square."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RowContext:
    """What is known around one piece from elsewhere; small, so that it can be sent.

    expected, earlier, others: as `judge` takes them, cut down to what can touch this piece.
    found: findings from outside the photos (the ledger, the match).
    is_apart: its label and card are not known to belong together: it cannot be judged.
    is_probable: but they probably do, and what they would be is said. by_order: by the order of the
    lot's numbers, not by the box.
    match, record: what the row says of these. strictness: one of `judge.box.STRICTNESS`.
    """

    expected: tuple[ExpectedPair, ...] = ()
    earlier: tuple[EarlierUse, ...] = ()
    others: Mapping[str, str] = field(default_factory=dict)
    found: tuple[Finding, ...] = ()
    is_apart: bool = False
    is_probable: bool = False
    by_order: bool = False
    match: RowMatch | None = None
    record: RowRecord | None = None
    desk: str = ""
    day: str = ""
    strictness: str = "1e-4"


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgingTask:
    """All that judging one piece takes, small enough to be sent. keyed: what a person read in its
    box on these very photos."""

    name: str
    is_declared: bool
    lines: tuple[PhotoLine, ...]
    context: RowContext
    keyed: Keyed | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Context:
    """What the lot is held against: an expected list, a ledger, both or neither. strictness:
    of decisions on what is read by its shape (`judge.box.STRICTNESS`)."""

    records: Records = field(default_factory=Records)
    strictness: str = "1e-4"

    def of(self, piece: Piece, listing: Listing) -> RowContext:
        """What can touch this piece."""
        joining = msgspec.json.decode(piece.about, type=Joining) if piece.about else Joining()
        record = self.records.of(piece.article, piece.card)
        days = sorted({line.day for line in piece.lines if line.day})
        return RowContext(
            expected=self.records.expected(piece.article, piece.card),
            earlier=_earlier(piece, listing),
            others=_others(piece, listing),
            found=(*(one.finding for one in joining.found), *record.findings),
            is_apart=joining.is_apart,
            is_probable=joining.is_probable,
            by_order=joining.by_order,
            match=joining.match,
            record=RowRecord(state=record.state, entry=record.entry) if record.state else None,
            desk=record.desk or _folder(piece.lines),
            day=record.day or (days[0] if days else ""),
            strictness=self.strictness,
        )


def task_of(piece: Piece, context: RowContext, decisions: Decisions) -> JudgingTask:
    """The task of one piece."""
    return JudgingTask(
        name=piece.name,
        is_declared=piece.is_declared,
        lines=piece.lines,
        context=context,
        keyed=decisions.keyed(piece.name, tuple(line.sha256 for line in piece.lines)),
    )


@handed.opens(lambda _task, _path: ())
def judged(task: JudgingTask, _: Path) -> Row:
    """The piece's row; with what a person read in its box, where the program did not read it."""
    piece = piece_of_lines(task.name, task.lines, is_declared=task.is_declared)
    row = row_of(piece, task.context, task.lines)
    keyed = task.keyed
    if keyed is None or task.context.is_apart:
        return row
    if not row.may_be_keyed or row.in_short != keyed.seen:
        return row
    with_it = row_of(with_written(piece, keyed.text), task.context, task.lines)
    note = RowKeyed(text=keyed.text, by=keyed.by, at=keyed.at, seen=keyed.seen)
    return msgspec.structs.replace(with_it, keyed=note)


def _earlier(piece: Piece, listing: Listing) -> tuple[EarlierUse, ...]:
    """Other pieces that share this one's article or card number, each once."""
    if not piece.shares:
        return ()
    return tuple(
        EarlierUse(piece=f"piece {other.name}", article=other.article, card=other.card)
        for other in listing.sharing(piece, _MOST_OTHERS)
    )


def _others(piece: Piece, listing: Listing) -> dict[str, str]:
    """Words for the other pieces whose numbers its box was read as."""
    # Its own number is another piece's too only where they share it; so nearly no piece asks.
    asked = (text for text in piece.boxes if piece.shares or text != piece.article)
    found = {text: listing.bearer(text, piece.place) for text in asked}
    return {text: words for text, words in found.items() if words is not None}


def _folder(lines: Sequence[PhotoLine]) -> str:
    """The folder that the piece's first photo lies in: desks keep theirs apart."""
    parent = PurePosixPath(lines[0].photo).parent.as_posix() if lines else "."
    return "" if parent == "." else parent


def row_of(piece: PieceReadings, context: RowContext, lines: Sequence[PhotoLine]) -> Row:
    """Judge the piece, and put down everything about it."""
    match, weighed = context.match, Weighed()
    if context.is_apart or any(one.code is Code.NO_LABEL_PHOTO for one in context.found):
        found = (*of_no_label(piece, thresholds(context.strictness)), *context.found)
        context = replace(context, found=found)
    if context.is_apart:
        would = partial(_judgment, piece, context) if context.is_probable else None
        match, judgment = apart(piece, match, context.found, would, by_order=context.by_order)
    else:
        result = _judged(piece, context)
        weighed, judgment = result.weighed, result.judgment
    return Row(
        format=2,
        piece=piece.piece.name,
        verdict=judgment.verdict,
        article=judgment.article,
        card=judgment.card,
        written=judgment.written,
        written_by=judgment.written_by,
        difference=_difference(judgment),
        findings=tuple(RowFinding.of(finding) for finding in judgment.findings),
        photos=tuple(_photo(line) for line in lines),
        readings=tuple(_reading(one, lines) for one in (*piece.readings, *weighed.readings)),
        box=_box(piece, weighed, lines),
        match=match,
        record=context.record,
        desk=context.desk,
        day=context.day,
        review=None,
    )


def _judgment(piece: PieceReadings, context: RowContext) -> Judgment:
    return _judged(piece, context).judgment


def _judged(piece: PieceReadings, context: RowContext) -> PieceResult:
    return judge_piece(
        piece,
        PieceContext(
            thresholds=thresholds(context.strictness),
            expected=context.expected,
            earlier=context.earlier,
            others=context.others,
            found=context.found,
        ),
    )


def _difference(judgment: Judgment) -> RowDifference | None:
    """Label and box aligned, where both were read and are not the same."""
    article, written = judgment.article, judgment.written
    if not article or not written or article == written:
        return None
    if judgment.verdict is not Verdict.DIFFERS:
        return None
    found = compare(
        article,
        written,
        group_sizes=group_sizes(article),
        is_valid=is_number,
        card=judgment.card or None,
    )
    about_box = [one for one in judgment.findings if one.code.startswith("box-")]
    # That some digits were unsure is no kind of error where another finding names one.
    about_box.sort(key=lambda one: one.weight is not Weight.CLASH)
    code = about_box[0].code if about_box else ""
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
