"""The report: one HTML file that needs nothing else, made from the rows; of large lots several."""

from __future__ import annotations

import base64
import hashlib
import itertools
import tempfile
from collections import Counter
from collections.abc import Callable, Collection, Iterable, Iterator
from itertools import islice
from pathlib import Path
from typing import IO, Any

import msgspec

from pairing import output
from pairing.audit.reports import page_parts
from pairing.audit.reports.crop_files import FOLDER, names
from pairing.audit.reports.front import Front, charts_of, missing_html, summary_html
from pairing.audit.run.rows import Columns, Row
from pairing.audit.run.run_store import Crop
from pairing.model import Verdict
from pairing.numbers import group_sizes, printed
from pairing.numbers.grouping import bounds
from pairing.numbers.text import is_digits

PAGE, PAGE_AGREEING = 5000, 50_000
"""Pieces that do not agree, and that do, on one page. Measured: 10,000 pieces, 1,500 of them
exceptions, open in 0.5 to 5 s (tests/benchmarks/RESULTS.md); an agreeing one takes 100 bytes."""
CHUNK = 200
"""Crops in one block of the file: a block is taken apart only when one of it is looked at."""

_NONE = "\u2013"
"""Shown where label or box has no character."""


def write(
    target: Path,
    front: Front,
    rows: Callable[[], Iterable[Row]],
    crops: Callable[[str], Crop | None],
) -> list[Path]:
    """Write the report: pages of `PAGE` pieces that do not agree, those that differ first, and as
    many agreeing ones with them; their paths, `target` the first. rows: gives all of them,
    streamed, each time it is asked; crops: the pictures by `crops.key_of`. Raises OutputRefused."""
    sizes = _sizes(rows())
    pages = max(1, -(-sizes[0] // PAGE), -(-sizes[1] // PAGE_AGREEING))
    paths = [target, *(_page_path(target, number) for number in range(2, pages + 1))]
    bad, good = _exceptions(rows), (row for row in rows() if not _is_exception(row))
    for number, path in enumerate(paths, 1):
        links = [(other.name, at) for at, other in enumerate(paths, 1)] if pages > 1 else []
        shell = page_parts.page(
            title=front.title,
            made=front.made,
            summary=summary_html(front),
            charts=charts_of(front.summary, front.conclusion),
            missing=missing_html(front),
            chunk=CHUNK,
            run=_short(f"{path.resolve()}").hex(),
            links=links,
            number=number,
            folder=FOLDER,
            sizes=sizes,
            most=PAGE_AGREEING,
        )
        _write_page(path, shell, islice(bad, PAGE), islice(good, PAGE_AGREEING), crops)
    for old in _further_pages(target):
        if old not in paths:
            old.unlink()
    return paths


def _page_path(target: Path, number: int) -> Path:
    return target.with_name(f"{target.stem}-{number}{target.suffix}")


def _further_pages(target: Path) -> list[Path]:
    """Pages that an earlier report left."""
    found = target.parent.glob(f"{target.stem}-*{target.suffix}")
    return [one for one in found if is_digits(one.stem.removeprefix(f"{target.stem}-"))]


def _write_page(
    path: Path,
    shell: str,
    bad: Iterable[Row],
    agreeing: Iterable[Row],
    crops: Callable[[str], Crop | None],
) -> None:
    before, rest = shell.split("<!--EXCEPTIONS-->")
    middle, rest = rest.split("<!--AGREEING-->")
    last, after = rest.split("<!--CROPS-->")
    with (
        output.replacing_text(path) as file,
        tempfile.TemporaryFile("w+", encoding="utf-8", dir=path.parent) as cut,
    ):
        file.write(before)
        _write_exceptions(bad, crops, path.parent / FOLDER, file, cut)
        file.write(middle)
        _write_agreeing(agreeing, file)
        file.write(last)
        _copy(cut, file)
        file.write(after)


def _is_exception(row: Row) -> bool:
    """Whether a person is to look at it; what was keyed stays in view."""
    return row.standing is not Verdict.AGREES or row.keyed is not None


def _sizes(rows: Iterable[Row]) -> tuple[int, int]:
    """How many do not agree, and how many do."""
    counts = Counter(_is_exception(row) for row in rows)
    return counts[True], counts[False]


def _exceptions(rows: Callable[[], Iterable[Row]]) -> Iterator[Row]:
    """Those that differ first."""
    for is_wanted in (True, False):
        for row in rows():
            if _is_exception(row) and (row.standing is Verdict.DIFFERS) is is_wanted:
                yield row


def _short(key: str) -> bytes:
    return hashlib.sha256(key.encode()).digest()[:12]


def _write_exceptions(
    rows: Iterable[Row],
    crops: Callable[[str], Crop | None],
    folder: Path,
    file: IO[str],
    cut: IO[str],
) -> None:
    """Exceptions to `file`, crops to `cut`; folder: where others may lie."""
    from pairing.audit.reports.crops import key_of  # noqa: PLC0415 - brings in cv2

    places = 0
    file.write("[")
    for many, row in enumerate(rows):
        crop = crops(key_of(row))
        place = -1
        if crop and (crop.label or crop.box):
            place = places
            if places % CHUNK == 0:
                cut.write("</script>\n" * bool(places))
                cut.write(f'<script type="text/plain" id="crops{places // CHUNK}">')
            cut.write(f"{_base64(crop.label)}|{_base64(crop.box)}\n")
            places += 1
        file.write(
            ("," if many else "") + _json(_shown(row, place, place < 0 and _lies_in(folder, row)))
        )
    cut.write("</script>\n" * bool(places))
    file.write("]")


def _write_agreeing(rows: Iterable[Row], file: IO[str]) -> None:
    file.write("[")
    for many, row in enumerate(rows):
        numbers = _number(row.article), _number(row.card)
        short = [row.piece, *numbers, row.written_by or ""]
        file.write(("," if many else "") + _json(short))
    file.write("]")


def _lies_in(folder: Path, row: Row) -> bool:
    return any((folder / name).exists() for name in names(row.piece))


def _shown(row: Row, crop: int, is_beside: bool) -> dict[str, Any]:
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
        "beside": is_beside,
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
