"""The results of a batch as JSON and CSV. The JSON's shape is fixed: see `schema()`."""

from __future__ import annotations

import json
import os
import re
from importlib import resources
from pathlib import Path
from typing import Any

from pairing import csv_tables
from pairing.csv_tables import grouped, harmless
from pairing.judge.box import places
from pairing.model import Side, Verdict
from pairing.pieces.batch import BatchResult, PieceResult

HELD_BACK = "(held back)"
"""Stands where a message quotes a number that is held back."""


def as_json(batch: BatchResult, *, are_labels_held: bool = False) -> dict[str, Any]:
    """The batch in the shape that `schema()` describes, ready for json.dumps.

    are_labels_held: an unread piece's label is left out, since a person will key its box.
    """
    return {
        "pieces": [
            _piece(result, is_held=are_labels_held and is_unread(result)) for result in batch.pieces
        ],
        "skipped": [
            {"photo": _text(row.photo.path), "reason": _text(row.reason)} for row in batch.skipped
        ],
    }


def as_csv(batch: BatchResult, *, are_labels_held: bool = False) -> str:
    """One line a piece. Numbers are written in their printed groups, so that a spreadsheet does
    not round 22 digits to 15. are_labels_held: as in `as_json`."""
    rows = (_csv(result, is_held=are_labels_held and is_unread(result)) for result in batch.pieces)
    return "".join(csv_tables.table(csv_tables.PHOTOS, rows))


def is_unread(result: PieceResult) -> bool:
    """Whether a person may have to key this piece's box."""
    return result.judgment.verdict is Verdict.UNREAD


def _csv(result: PieceResult, *, is_held: bool) -> tuple[str, ...]:
    judgment = result.judgment
    return (
        harmless(_text(result.piece.name)),
        judgment.verdict.value,
        "" if is_held else grouped(judgment.article),
        grouped(judgment.card),
        grouped(judgment.written),
        judgment.written_by.value if judgment.written_by else "",
        " ".join(finding.code for finding in judgment.findings),
        harmless(";".join(_text(photo.path) for photo in result.piece.photos)),
        grouped(_best(result)),
        " ".join(map(str, places(result.weighed.asks))),
    )


def schema() -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) of `as_json`'s result; it ships in the package."""
    text = resources.files("pairing.pieces").joinpath("report.schema.json").read_text("utf-8")
    loaded: dict[str, Any] = json.loads(text)
    return loaded


def _piece(result: PieceResult, *, is_held: bool) -> dict[str, Any]:
    judgment = result.judgment
    held = _quoted(result) if is_held else None
    return {
        **({"held_back": ["article"]} if is_held else {}),
        "photos": [_text(photo.path) for photo in result.piece.photos],
        "article": None if is_held else judgment.article,
        "card": judgment.card,
        "written": judgment.written,
        "written_by": judgment.written_by.value if judgment.written_by else None,
        "verdict": judgment.verdict.value,
        "findings": [
            {
                "code": finding.code,
                "message": _text(held.sub(HELD_BACK, finding.message) if held else finding.message),
                "positions": list(finding.positions),
            }
            for finding in judgment.findings
        ],
        "box": _box(result),
        "fields": [
            {
                "name": one.name,
                "state": one.state.value,
                "share": one.share,
                "mark": one.mark.value or None,
                "place": [[round(x, 1), round(y, 1)] for x, y in one.place.corners]
                if one.place
                else None,
            }
            for one in result.fields
        ],
    }


def _quoted(result: PieceResult) -> re.Pattern[str] | None:
    """What finds the label's numbers in a sentence, in whatever groups."""
    texts = {one.number.text for one in result.readings if one.side is Side.LABEL}
    texts |= {result.judgment.article or ""}
    spaced = (r"\s?".join(map(re.escape, text)) for text in texts if text)
    pattern = "|".join(sorted(spaced, key=len, reverse=True))
    return re.compile(pattern) if pattern else None


def _box(result: PieceResult) -> dict[str, Any] | None:
    """What the reader made of the writing or print in the box; None where it saw none."""
    seen, best = result.seen, _best(result)
    if seen is None:
        return None
    return {
        "photo": _text(seen.source),
        "read": best,
        "read_by": seen.how.value if best else None,
        "digit_probabilities": [round(one, 4) for one in seen.digit_probabilities],
        "doubtful": list(places(result.weighed.asks)),
        "unread": seen.reason.name.lower().replace("_", "-") if seen.reason else None,
        "found_by_shape": seen.is_by_shape,
    }


def _best(result: PieceResult) -> str | None:
    evidence = result.seen.evidence if result.seen else None
    return evidence.best if evidence else None


def _text(text: Path | str) -> str:
    """A path, or words that quote one, as text that can be written anywhere: bytes that are
    no UTF-8 become `\\xff`."""
    return os.fsencode(text).decode("utf-8", "backslashreplace")
