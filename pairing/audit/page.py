"""The report: one HTML file that needs nothing else, made from the rows."""

from __future__ import annotations

import hashlib
import json
import os
import tempfile
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import ROUND_CEILING, Context
from html import escape
from importlib import resources
from pathlib import Path
from typing import IO, Any

from pairing.audit import charts
from pairing.audit.rows import worst
from pairing.audit.summary import Conclusion, Summary, standing
from pairing.errors import OutputRefused
from pairing.model import TrackingNumber, Verdict
from pairing.numbers import identify, printed
from pairing.numbers.grouping import bounds

CHUNK = 200
"""Crops in one block of the file: a block is taken apart only when one of it is looked at."""

_MOST_MISSING = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class Front:
    """What stands above the rows. missing: pairs that are recorded or expected and not
    photographed (article, card, known from)."""

    title: str
    made: str
    summary: Summary
    conclusion: Conclusion | None
    missing: Sequence[tuple[str, str, str]] = field(default=())
    missing_count: int = 0


def write(
    target: Path,
    front: Front,
    rows: Iterable[Mapping[str, Any]],
    crops: Mapping[str, tuple[str, str]] | CropFile,
) -> None:
    """Write the report. rows: all of them, streamed; crops: by `crops.key_of`, base64 JPEGs of
    label and box. Raises OutputRefused."""
    shell = resources.files("pairing.audit").joinpath("page.html").read_text("utf-8")
    parts = {
        "<!--HEAD-->": f"<header><h1>{escape(front.title)}</h1>"
        f"<p>{escape(front.made)}</p></header>",
        "<!--SUMMARY-->": _summary(front),
        "<!--CHARTS-->": "".join(_charts(front.summary)),
        "<!--MISSING-->": _missing(front),
        "<!--FOOT-->": "Written by Counterfoil. The file holds everything it shows and asks "
        "nothing of the network; it holds numbers and pictures of pieces, so keep it as you "
        "keep those.",
        "/*CHUNK*/0": str(CHUNK),
        '/*RUN*/""': json.dumps(hashlib.sha256(front.title.encode()).hexdigest()[:16]),
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
    from pairing.audit.crops import key_of  # noqa: PLC0415 - brings in cv2

    file.write("[")
    good.write("[")
    many = places = agreeing = 0
    for row in rows:
        if standing(row) == Verdict.AGREES.value:
            short = [row["piece"], row["article"], row["card"] or "", row["written_by"] or ""]
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
    numbers = [
        [name, printed(identify(row[member]))]
        for name, member in (("label", "article"), ("box", "written"), ("card", "card"))
        if row[member]
    ]
    if row["box"] and row["box"]["read"] and not row["written"]:
        numbers.append(["box, in doubt", printed(identify(row["box"]["read"]))])
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
        "numbers": numbers,
        "columns": _columns(row),
        "findings": [[f["weight"], f["message"], f["action"]] for f in row["findings"]],
        "about": " · ".join(_about(row)),
        "photos": [photo["sha256"] or "" for photo in row["photos"]],
        "review": row["review"],
        "text": " ".join(str(word) for word in words if word).lower(),
        "crop": crop,
    }


def _columns(row: Mapping[str, Any]) -> list[Any] | None:
    """The aligned digits, a 0 where a printed group of the label's ends."""
    if not row["difference"]:
        return None
    label = identify(row["article"])
    sizes = label.family.group_sizes if isinstance(label, TrackingNumber) else (4,)
    ends = {end for _, end in bounds(len(row["article"]), sizes)}
    found: list[Any] = []
    seen = 0
    for own, other in row["difference"]["columns"]:
        found.append([own, other])
        seen += own is not None
        if own is not None and seen in ends and seen < len(row["article"]):
            found.append(0)
    return found


def _about(row: Mapping[str, Any]) -> Iterator[str]:
    yield ", ".join(photo["photo"] for photo in row["photos"])
    if row["desk"]:
        yield f"desk {row['desk']}"
    if row["day"]:
        yield row["day"]
    if row["record"]:
        yield f"recorded: {row['record']['state']}"


def _summary(front: Front) -> str:
    counts = front.summary.verdicts
    cells = "".join(
        f'<div class="{one.value}"><b>{counts[one.value]:,}</b>{words}</div>'
        for one, words in (
            (Verdict.AGREES, "agree"),
            (Verdict.DIFFERS, "differ"),
            (Verdict.UNREAD, "unread"),
        )
    )
    said = "".join(f"<p{_lead(n)}>{escape(text)}</p>" for n, text in enumerate(_said(front)))
    return f'<div class="tally">{cells}</div><div class="say">{said}</div>'


def _lead(place: int) -> str:
    return ' class="lead"' if place == 0 else ""


def _said(front: Front) -> Iterator[str]:
    """The conclusion in sentences, the most important one first."""
    found, summary = front.conclusion, front.summary
    if found is None:
        yield "No piece was checked, so nothing can be concluded."
        return
    sure = f"{found.known.confidence * 100:g} % confidence"
    of_lot = f"of the lot of {found.known.lot:,}" if found.known.lot else "of all such pieces"
    yield (
        f"With {sure}, at most {_percent(found.upper)} {of_lot} are bad pairs or could not be "
        f"read ({found.known.bad:,} of the {found.known.checked:,} checked)."
    )
    yield (
        f"Without the reader's own errors the bound is {_percent(found.known.upper)}: of bad "
        f"pairs it may take up to {_percent(found.hidden)} for good ones, as measured. Of pairs "
        f"that it calls different some {found.false_differs:.1f} may be right: have them "
        "looked at."
    )
    if found.if_read.upper < found.known.upper:
        yield (
            f"Unread pieces count against the lot. Were all of them looked at and good, the "
            f"bound would be {_percent(found.if_read.upper)}."
        )
    if summary.worst:
        yield f"Gravest finding: piece {summary.worst['piece']}. {summary.worst['message']}"
    if summary.unusable:
        yield f"{summary.unusable:,} of {summary.photos:,} photos could not be used."
    yield from found.notes


def _charts(summary: Summary) -> Iterator[str]:
    yield charts.bars("Pieces that differ, by kind", _worded(summary.errors))
    yield charts.bars("Pieces unread, by cause", _worded(summary.causes), is_unread=True)
    yield charts.columns("Wrong digits, by their place in the number", summary.positions)
    yield charts.shares("By desk: differ + unread", summary.desks)
    yield charts.shares("By day: differ + unread", summary.days)
    yield charts.bars("In the ledger", summary.records.most_common())


def _worded(counts: Counter[str]) -> list[tuple[str, int]]:
    return [(code.replace("-", " "), number) for code, number in counts.most_common()]


def _missing(front: Front) -> str:
    if not front.missing_count:
        return ""
    rows = "".join(
        f'<tr><td class="num">{escape(a)}</td><td class="num">{escape(c)}</td>'
        f"<td>{escape(known)}</td></tr>"
        for a, c, known in front.missing[:_MOST_MISSING]
    )
    more = front.missing_count - min(_MOST_MISSING, len(front.missing))
    rest = f"<p class='quiet'>and {more:,} more, in missing.csv</p>" if more else ""
    return (
        f"<h2>Never photographed: {front.missing_count:,}</h2><table class='plain'><tr>"
        f"<th>article</th><th>card</th><th>known from</th></tr>{rows}</table>{rest}"
    )


def _percent(share: float) -> str:
    """A share in percent, two digits that count, never rounded down: it is a bound."""
    exact = Context(prec=2, rounding=ROUND_CEILING).create_decimal_from_float(share * 100)
    return f"{exact.normalize():f} %"


def _json(value: Any) -> str:
    """JSON that cannot end the script that it stands in."""
    return json.dumps(value, separators=(",", ":"), ensure_ascii=False).replace("<", "\\u003c")


def _copy(source: IO[str], target: IO[str]) -> None:
    source.seek(0)
    while block := source.read(1 << 20):
        target.write(block)
