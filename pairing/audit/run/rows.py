"""One piece's row: what was read on it, the verdict, and why. `schema()` describes it."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from importlib import resources
from pathlib import Path
from typing import Any

from pairing.audit.run.codec import decoded
from pairing.compare import compare
from pairing.errors import PhotoUnusable
from pairing.findings import Finding, Weight
from pairing.judge import Weighed, sides
from pairing.judge.box import places
from pairing.model import (
    EarlierUse,
    ExpectedPair,
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

FORMAT = 1
"""The version of the rows' members; it stands in every row."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Around:
    """What is known around one piece from elsewhere; small, so that it can be sent.

    expected, earlier, others: as `judge` takes them, cut down to what can touch this piece.
    found: findings from outside the photos (the ledger, the match).
    is_apart: its label and card are not known to belong together: it cannot be judged.
    match, record: what the row says of these. strictness: one of `decide.STRICTNESS`.
    """

    expected: tuple[ExpectedPair, ...] = ()
    earlier: tuple[EarlierUse, ...] = ()
    others: Mapping[str, str] = field(default_factory=dict)
    found: tuple[Finding, ...] = ()
    is_apart: bool = False
    match: Mapping[str, Any] | None = None
    record: Mapping[str, Any] | None = None
    desk: str = ""
    day: str = ""
    strictness: str = "1e-4"


def schema() -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) of one row; it ships in the package."""
    text = resources.files("pairing.audit.run").joinpath("row.schema.json").read_text("utf-8")
    loaded: dict[str, Any] = json.loads(text)
    return loaded


def piece_of_lines(
    name: str, lines: Sequence[Mapping[str, Any]], *, is_declared: bool
) -> PieceReadings:
    """The piece again from its photos' lines."""
    known = {Path(line["photo"]): line for line in lines}

    def read(photo: Photo) -> PhotoReadings:
        line = known[photo.path]
        if "read" not in line:
            raise PhotoUnusable(line["unusable"], where=line["photo"], remedy=line["remedy"])
        found: PhotoReadings = decoded(line["read"])
        return found

    photos = tuple(Photo(path=path, shows=None) for path in known)
    return read_piece(PhotoPiece(name=name, photos=photos, is_declared=is_declared), read=read)


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


def row_of(
    piece: PieceReadings, around: Around, lines: Sequence[Mapping[str, Any]]
) -> dict[str, Any]:
    """Judge the piece, and put down everything about it."""
    if around.is_apart:
        weighed, judgement = Weighed(), _kept_apart(piece, around)
    else:
        result = judge_piece(
            piece,
            PieceContext(
                thresholds=thresholds(around.strictness),
                expected=around.expected,
                earlier=around.earlier,
                others=around.others,
                found=around.found,
            ),
        )
        weighed, judgement = result.weighed, result.judgement
    return {
        "format": FORMAT,
        "piece": piece.piece.name,
        "verdict": judgement.verdict.value,
        "article": judgement.article,
        "card": judgement.card,
        "written": judgement.written,
        "written_by": judgement.written_by.value if judgement.written_by else None,
        "difference": _difference(judgement),
        "findings": [_finding(finding) for finding in judgement.findings],
        "photos": [_photo(line) for line in lines],
        "readings": [_reading(one, lines) for one in (*piece.readings, *weighed.readings)],
        "box": _box(piece, weighed, lines),
        "match": dict(around.match) if around.match else None,
        "record": dict(around.record) if around.record else None,
        "desk": around.desk,
        "day": around.day,
        "review": None,
    }


def _kept_apart(piece: PieceReadings, around: Around) -> Judgement:
    """Of photos that are not known to belong together nothing can be said but the numbers."""
    article, card = numbers_of(piece)
    return Judgement(
        verdict=Verdict.UNREAD,
        article=article,
        card=card,
        written=None,
        written_by=None,
        findings=around.found,
    )


def _difference(judgement: Judgement) -> dict[str, Any] | None:
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
    return {
        "error": code.removeprefix("box-"),
        "positions": list(found.positions),
        "columns": [[column.label, column.box] for column in found.columns],
        "passes_check": found.passes_check,
    }


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "code": finding.code,
        "message": finding.message,
        "positions": list(finding.positions),
        "action": finding.action,
        "weight": finding.weight.value,
    }


def _box(
    piece: PieceReadings, weighed: Weighed, lines: Sequence[Mapping[str, Any]]
) -> dict[str, Any] | None:
    """What the reader made of the writing or print in the box; None where it saw none."""
    seen = piece.seen
    if seen is None:
        return None
    return {
        **_where(seen.source, lines),
        "read": seen.evidence.best if seen.evidence else None,
        "read_by": seen.how.value if seen.evidence else None,
        "digit_probabilities": [round(one, 4) for one in seen.digit_probabilities],
        "doubtful": list(places(weighed.asks)),
        "unread": seen.reason.name.lower().replace("_", "-") if seen.reason else None,
        "found_by_shape": seen.is_by_shape,
        "place_px": _corners(seen.box),
    }


def _photo(line: Mapping[str, Any]) -> dict[str, Any]:
    return {
        "photo": line["photo"],
        "sha256": line.get("sha256"),
        "size": line["size"],
        "day": line.get("day") or None,
        "skipped": line.get("unusable"),
    }


def _where(source: str, lines: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """A reading's source as photo and page (from 1)."""
    for line in lines:
        if source == line["photo"]:
            break
        if source.startswith(f"{line['photo']} page "):
            return {"photo": line["photo"], "page": int(source.rpartition(" ")[2])}
    return {"photo": source, "page": 1}


def _reading(reading: Reading, lines: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    quad = reading.quad
    return {
        "side": reading.side.value,
        "how": reading.how.value,
        "text": reading.number.text,
        **_where(reading.source, lines),
        "place_px": _corners(quad) if quad else None,
    }


def _corners(quad: Quad) -> list[list[float]]:
    return [[round(x, 1), round(y, 1)] for x, y in quad.corners]


def worst(findings: Iterable[Mapping[str, Any]]) -> Mapping[str, Any] | None:
    """The gravest finding of a row: the first that clashes, else the first that doubts."""
    kept = list(findings)
    for weight in (Weight.CLASH.value, Weight.DOUBT.value):
        for finding in kept:
            if finding["weight"] == weight:
                return finding
    return None
