"""The report: one HTML file that needs nothing else, made from the rows."""

from __future__ import annotations

import hashlib
import itertools
import json
import os
import tempfile
from collections.abc import Collection, Iterable, Iterator, Mapping
from html import escape
from importlib import resources
from pathlib import Path
from typing import IO, Any

from pairing.audit.reports.front import Front, charts_html, missing_html, summary_html
from pairing.audit.run.review import hashes, seen_of
from pairing.audit.run.rows import worst
from pairing.audit.statistics.summary import standing
from pairing.errors import OutputRefused
from pairing.model import Verdict
from pairing.numbers import group_sizes, printed
from pairing.numbers.grouping import bounds

CHUNK = 200
"""Crops in one block of the file: a block is taken apart only when one of it is looked at."""

_NONE = "\u2013"
"""Stands where label or box has no character."""


def write(
    target: Path,
    front: Front,
    rows: Iterable[Mapping[str, Any]],
    crops: Mapping[str, tuple[str, str]] | CropFile,
) -> None:
    """Write the report. rows: all of them, streamed; crops: by `crops.key_of`, base64 JPEGs of
    label and box. Raises OutputRefused."""
    shell = resources.files("pairing.audit.reports").joinpath("page.html").read_text("utf-8")
    parts = {
        "<!--TITLE-->": escape(front.title),
        "<!--HEAD-->": f"<header><h1>{escape(front.title)}</h1>"
        f"<p>{escape(front.made)}</p></header>",
        "<!--SUMMARY-->": summary_html(front),
        "<!--CHARTS-->": charts_html(front.summary),
        "<!--MISSING-->": missing_html(front),
        "<!--FOOT-->": "Written by Counterfoil. The file holds everything it shows and asks "
        "nothing of the network; it holds numbers and pictures of pieces, so keep it as you "
        "keep those.",
        "/*CHUNK*/0": str(CHUNK),
        '/*RUN*/""': json.dumps(_short(f"{target.resolve()}").hex()),
    }
    for mark, text in parts.items():
        shell = shell.replace(mark, text)
    draft = target.with_name(target.name + ".part")
    try:
        with (
            tempfile.TemporaryFile("w+", encoding="utf-8", dir=target.parent) as good,
            tempfile.TemporaryFile("w+", encoding="utf-8", dir=target.parent) as cut,
            draft.open("w", encoding="utf-8") as file,
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
        draft.replace(target)
    except OSError as error:
        raise OutputRefused(
            f"The report cannot be written ({error.strerror or error})",
            where=os.fspath(target),
            remedy="Make room, or name another folder.",
        ) from error


class CropFile:
    """Crops found by their key, read from the file only when asked for."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._places: dict[bytes, int] = {}
        if path.exists():
            with path.open("rb") as file:
                at = 0
                for line in file:
                    found = json.loads(line) if line.endswith(b"\n") else {}
                    if "key" in found:
                        self._places[_short(found["key"])] = at
                    at += len(line)

    def get(self, key: str, default: tuple[str, str]) -> tuple[str, str]:
        """Label and box, base64; `default` where there are none."""
        at = self._places.get(_short(key))
        if at is None:
            return default
        with self._path.open("rb") as file:
            file.seek(at)
            found = json.loads(file.readline())
        return found["label"] or "", found["box"] or ""


def _short(key: str) -> bytes:
    return hashlib.sha256(key.encode()).digest()[:12]


def _exceptions(
    rows: Iterable[Mapping[str, Any]],
    crops: Mapping[str, tuple[str, str]] | CropFile,
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
        if standing(row) == Verdict.AGREES.value:
            numbers = _number(row["article"]), _number(row["card"])
            short = [row["piece"], *numbers, row["written_by"] or ""]
            good.write(("," if agreeing else "") + _json(short))
            agreeing += 1
            continue
        label, box = crops.get(key_of(row), ("", ""))
        place = -1
        if label or box:
            place = places
            if places % CHUNK == 0:
                cut.write("</script>\n" * bool(places))
                cut.write(f'<script type="text/plain" id="crops{places // CHUNK}">')
            cut.write(f"{label}|{box}\n")
            places += 1
        file.write(("," if many else "") + _json(_shown(row, place)))
        many += 1
    cut.write("</script>\n" * bool(places))
    file.write("]")
    good.write("]")


def _shown(row: Mapping[str, Any], crop: int) -> dict[str, Any]:
    finding = worst(row["findings"])
    why = finding["message"] if finding else ""
    words = [
        row["piece"],
        row["article"],
        row["card"],
        row["written"],
        why,
        row["desk"],
        row["day"],
    ]
    return {
        "piece": row["piece"],
        "verdict": row["verdict"],
        "why": why,
        "lines": list(_lines(row)),
        "findings": [[f["weight"], f["message"], f["action"]] for f in row["findings"]],
        "about": " · ".join(_about(row)),
        "photos": hashes(row),
        "seen": seen_of(row),
        "review": row["review"],
        "text": " ".join(str(word) for word in words if word).lower(),
        "crop": crop,
    }


def _lines(row: Mapping[str, Any]) -> Iterator[tuple[str, str, str]]:
    """Each number as name, text in printed groups, and marks below its characters: `^` where
    label and box differ, `?` where a digit is in doubt."""
    box = row["box"]
    if row["difference"]:
        label, written, marks = _aligned(row)
        yield "label", label, marks
        yield "box", written, marks
    else:
        yield "label", _number(row["article"]), ""
        if row["written"] or not (box and box["read"]):
            yield "box", _number(row["written"]), ""
    if box and box["read"] and not row["written"]:
        text = _number(box["read"])
        yield "box, in doubt", text, _doubts(text, box["doubtful"])
    yield "card's own", _number(row["card"]), ""


def _number(text: str | None) -> str:
    return printed(text)


def _aligned(row: Mapping[str, Any]) -> tuple[str, str, str]:
    """Label, box and marks below each other, a blank where a printed group of the label's ends,
    a dash where one side has no character."""
    ends = {end for _, end in bounds(len(row["article"]), group_sizes(row["article"]))}
    lines: tuple[list[str], list[str], list[str]] = ([], [], [])
    seen = 0
    for own, other in row["difference"]["columns"]:
        column = (own or _NONE, other or _NONE, " " if own == other else "^")
        seen += own is not None
        is_end = own is not None and seen in ends and seen < len(row["article"])
        for line, char in zip(lines, column, strict=True):
            line.append(f"{char} " if is_end else char)
    own_line, other_line, marks = ("".join(line) for line in lines)
    return own_line, other_line, marks


def _doubts(text: str, doubtful: Collection[int]) -> str:
    """`?` below each digit in doubt; doubtful: from 1, blanks not counted."""
    places = itertools.count(1)
    return "".join("?" if char != " " and next(places) in doubtful else " " for char in text)


def _about(row: Mapping[str, Any]) -> Iterator[str]:
    yield ", ".join(photo["photo"] for photo in row["photos"])
    if row["desk"]:
        yield f"desk {row['desk']}"
    if row["day"]:
        yield row["day"]
    if row["record"]:
        yield f"recorded: {row['record']['state']}"


def _json(value: Any) -> str:
    """JSON that cannot end the script that it stands in."""
    return json.dumps(value, separators=(",", ":"), ensure_ascii=False).replace("<", "\\u003c")


def _copy(source: IO[str], target: IO[str]) -> None:
    source.seek(0)
    while block := source.read(1 << 20):
        target.write(block)
