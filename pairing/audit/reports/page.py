"""The report: one HTML file that needs nothing else, made from the rows."""

from __future__ import annotations

import base64
import hashlib
import itertools
import tempfile
from collections.abc import Callable, Collection, Iterable, Iterator
from pathlib import Path
from typing import IO, Any

import msgspec

from pairing import output
from pairing.audit.reports import page_parts
from pairing.audit.reports.front import Front, charts_of, missing_html, summary_html
from pairing.audit.run.rows import Columns, Row
from pairing.audit.run.run_store import Crop
from pairing.model import Verdict
from pairing.numbers import group_sizes, printed
from pairing.numbers.grouping import bounds

CHUNK = 200
"""Crops in one block of the file: a block is taken apart only when one of it is looked at."""

_NONE = "\u2013"
"""Shown where label or box has no character."""


def write(
    target: Path,
    front: Front,
    rows: Iterable[Row],
    crops: Callable[[str], Crop | None],
) -> None:
    """Write the report. rows: all of them, streamed; crops: the pictures by
    `crops.key_of`. Raises OutputRefused."""
    shell = page_parts.page(
        title=front.title,
        made=front.made,
        summary=summary_html(front),
        charts=charts_of(front.summary, front.conclusion),
        missing=missing_html(front),
        chunk=CHUNK,
        run=_short(f"{target.resolve()}").hex(),
    )
    with (
        output.replacing_text(target) as file,
        tempfile.TemporaryFile("w+", encoding="utf-8", dir=target.parent) as good,
        tempfile.TemporaryFile("w+", encoding="utf-8", dir=target.parent) as cut,
    ):
        before, rest = shell.split("<!--EXCEPTIONS-->")
        middle, rest = rest.split("<!--AGREEING-->")
        last, after = rest.split("<!--CROPS-->")
        file.write(before)
        _exceptions(rows, crops, file, good, cut)
        file.write(middle)
        _copy(good, file)
        file.write(last)
        _copy(cut, file)
        file.write(after)


def _short(key: str) -> bytes:
    return hashlib.sha256(key.encode()).digest()[:12]


def _exceptions(
    rows: Iterable[Row],
    crops: Callable[[str], Crop | None],
    file: IO[str],
    good: IO[str],
    cut: IO[str],
) -> None:
    """Exceptions to `file`, agreeing pieces to `good`, crops to `cut`."""
    from pairing.audit.reports.crops import key_of  # noqa: PLC0415 - brings in cv2

    file.write("[")
    good.write("[")
    many = places = agreeing = 0
    for row in rows:
        if row.standing is Verdict.AGREES and row.keyed is None:
            numbers = _number(row.article), _number(row.card)
            short = [row.piece, *numbers, row.written_by or ""]
            good.write(("," if agreeing else "") + _json(short))
            agreeing += 1
            continue
        crop = crops(key_of(row))
        place = -1
        if crop and (crop.label or crop.box):
            place = places
            if places % CHUNK == 0:
                cut.write("</script>\n" * bool(places))
                cut.write(f'<script type="text/plain" id="crops{places // CHUNK}">')
            cut.write(f"{_base64(crop.label)}|{_base64(crop.box)}\n")
            places += 1
        file.write(("," if many else "") + _json(_shown(row, place)))
        many += 1
    cut.write("</script>\n" * bool(places))
    file.write("]")
    good.write("]")


def _shown(row: Row, crop: int) -> dict[str, Any]:
    finding = row.worst
    why = finding.message if finding else ""
    words = [
        row.piece,
        row.article,
        row.card,
        row.written,
        why,
        row.desk,
        row.day,
    ]
    return {
        "piece": row.piece,
        "verdict": row.verdict,
        "why": why,
        "lines": list(_lines(row)),
        "findings": [[f.weight, f.message, f.action] for f in row.findings],
        "about": " · ".join(_about(row)),
        "photos": row.hashes,
        "seen": row.in_short,
        "review": row.review,
        "text": " ".join(str(word) for word in words if word).lower(),
        "crop": crop,
        "blind": row.may_be_keyed,
        "keyed": row.keyed,
    }


def _lines(row: Row) -> Iterator[tuple[str, str, str]]:
    """Each number as name, text in printed groups, and marks below its characters: `^` where
    label and box differ, `?` where a digit is in doubt."""
    box = row.box
    if row.difference and row.article:
        label, written, marks = _aligned(row.article, row.difference.columns)
        yield "label", label, marks
        yield "box", written, marks
    else:
        yield "label", _number(row.article), ""
        if row.written or not (box and box.read):
            yield "box", _number(row.written), ""
    if box and box.read and not row.written:
        text = _number(box.read)
        yield "box, in doubt", text, _doubts(text, box.doubtful)
    yield "card's own", _number(row.card), ""


def _number(text: str | None) -> str:
    return printed(text)


def _aligned(article: str, columns: Columns) -> tuple[str, str, str]:
    """Label, box and marks below each other, a blank where a printed group of the label's ends,
    a dash where one side has no character."""
    ends = {end for _, end in bounds(len(article), group_sizes(article))}
    lines: tuple[list[str], list[str], list[str]] = ([], [], [])
    seen = 0
    for own, other in columns:
        column = (own or _NONE, other or _NONE, " " if own == other else "^")
        seen += own is not None
        is_end = own is not None and seen in ends and seen < len(article)
        for line, char in zip(lines, column, strict=True):
            line.append(f"{char} " if is_end else char)
    own_line, other_line, marks = ("".join(line) for line in lines)
    return own_line, other_line, marks


def _doubts(text: str, doubtful: Collection[int]) -> str:
    """`?` below each digit in doubt; doubtful: from 1, blanks not counted."""
    places = itertools.count(1)
    return "".join("?" if char != " " and next(places) in doubtful else " " for char in text)


def _about(row: Row) -> Iterator[str]:
    yield ", ".join(photo.photo for photo in row.photos)
    if row.desk:
        yield f"desk {row.desk}"
    if row.day:
        yield row.day
    if row.record:
        yield f"recorded: {row.record.state}"
    if row.keyed:
        yield f"box keyed by {row.keyed.by or 'a person'} without seeing the label"


def _json(value: Any) -> str:
    """JSON that cannot end the script that it is in."""
    return msgspec.json.encode(value).decode().replace("<", "\\u003c")


def _base64(picture: bytes) -> str:
    return base64.b64encode(picture).decode()


def _copy(source: IO[str], target: IO[str]) -> None:
    source.seek(0)
    while block := source.read(1 << 20):
        target.write(block)
