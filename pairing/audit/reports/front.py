"""What stands above a report's rows: the counts, the conclusion in sentences, the charts."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from html import escape

from pairing.audit.reports import charts, words
from pairing.audit.statistics.bounds import percent
from pairing.audit.statistics.summary import Conclusion, Summary
from pairing.model import Verdict
from pairing.numbers import printed

MOST_MISSING = 200
"""Pairs never photographed that the report lists; `missing.csv` has them all."""


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


def summary_html(front: Front) -> str:
    """The counts, and what may be concluded."""
    counts, found = front.summary.verdicts, front.conclusion
    cells = [
        (one.value, f"{counts[one.value]:,}", word)
        for one, word in (
            (Verdict.AGREES, "agree"),
            (Verdict.DIFFERS, "differ"),
            (Verdict.UNREAD, "unread"),
        )
    ]
    if found is not None:
        whose = f"of the lot of {found.known.lot:,} " if found.known.lot else ""
        chance = "" if found.is_drawn else ", if chance chose them"
        cells.append(("bound", percent(found.upper), f"{whose}bad or unread, at most{chance}"))
    tally = "".join(f'<div class="{name}"><b>{n}</b>{what}</div>' for name, n, what in cells)
    lead, *rest = _said(front)
    said = "".join(f"<dt>{escape(head)}</dt><dd>{escape(text)}</dd>" for head, text in rest)
    return (
        f'<div class="tally">{tally}</div><div class="say"><p class="lead">{escape(lead[1])}</p>'
        f"<dl>{said}</dl></div>"
    )


def _said(front: Front) -> Iterator[tuple[str, str]]:
    """The conclusion in sentences with a heading each, the most important one first."""
    found, summary = front.conclusion, front.summary
    yield "", found_in_words(summary)
    if found is None:
        yield "Conclusion", "No piece was checked, so nothing can be concluded."
        return
    yield "Conclusion", bound_in_words(found)
    if found.if_read.upper < found.known.upper:
        yield (
            "Unread",
            "Unread pieces count against the lot. Were all of them looked at and good, the bound "
            f"would be {percent(found.if_read.upper)}. A better photo put beside the others of "
            "its piece is read with the next run.",
        )
    if summary.worst:
        yield "Gravest finding", f"Piece {summary.worst.piece}: {summary.worst.message}"
    if front.missing_count:
        is_one = front.missing_count == 1
        yield (
            "No photo",
            f"{front.missing_count:,} {'pair is' if is_one else 'pairs are'} recorded or expected, "
            f"and no photo shows {'it' if is_one else 'them'}. {'It is' if is_one else 'They are'} "
            "listed below.",
        )
    if summary.unusable:
        yield "Photos", f"{summary.unusable:,} of {summary.photos:,} photos could not be used."
    if summary.reviewed:
        said = ", ".join(f"{number:,} {what}" for what, number in sorted(summary.reviewed.items()))
        yield "Looked at again", f"{said}. What was misread counts as unread."
    yield "The reader's errors", _reader(found, summary)
    yield "It rests on", " ".join(found.notes)


def found_in_words(summary: Summary) -> str:
    """What was found, counted."""
    differs = summary.verdicts[Verdict.DIFFERS.value]
    unread = summary.verdicts[Verdict.UNREAD.value]
    if not summary.pieces:
        return "There was no piece to check."
    if differs:
        verb, whose = ("differs", "its card does") if differs == 1 else ("differ", "their cards do")
        what = "the label" if differs == 1 else "the labels"
        first = f"{differs:,} of the {_pieces(summary.pieces)} checked {verb}: {whose} not go with "
        first += f"{what}."
    else:
        first = f"None of the {_pieces(summary.pieces)} checked differs."
    if not unread:
        return f"{first} All were read."
    return f"{first} {unread:,} could not be read, and count against the lot."


def bound_in_words(found: Conclusion) -> str:
    """The bound, with what it is a bound on."""
    known = found.known
    if known.lot == known.checked:
        return (
            f"All {_pieces(known.lot)} of the lot were checked. At most {percent(found.upper)} of "
            "them are bad pairs or could not be read (the reader's own errors included)."
        )
    of = f"the lot of {_pieces(known.lot)}" if known.lot else "all such pieces"
    chosen = "drawn" if found.is_drawn else "checked"
    text = (
        f"with {known.confidence * 100:g} % confidence, at most {percent(found.upper)} of {of} are "
        f"bad pairs or could not be read ({known.bad:,} of {known.checked:,} {chosen} are; the "
        "reader's own errors are included)."
    )
    if found.is_drawn:
        return f"{text[0].upper()}{text[1:]}"
    return f"If chance alone chose what was photographed: {text}"


def _reader(found: Conclusion, summary: Summary) -> str:
    """What the reader's own errors add to the bound, and take from what differs."""
    text = (
        f"As measured, it takes up to {percent(found.hidden)} of bad pairs for good ones; without "
        f"this the bound would be {percent(found.known.upper)}."
    )
    if summary.verdicts[Verdict.DIFFERS.value]:
        text += (
            f" Of the good pairs among those checked it may have called {found.false_differs:.1f} "
            "different, as expected on average: have every piece that differs looked at."
        )
    return text


def _pieces(number: int | None) -> str:
    return "1 piece" if number == 1 else f"{number or 0:,} pieces"


def charts_html(summary: Summary) -> str:
    """Every chart that has something to show."""
    return "".join(_charts(summary))


def _charts(summary: Summary) -> Iterator[str]:
    differs, unread = Verdict.DIFFERS.value, Verdict.UNREAD.value
    yield charts.bars("Pieces that differ, by kind", _worded(summary.errors), of=differs)
    yield charts.bars("Pieces unread, by cause", _worded(summary.causes), of=unread)
    yield charts.columns("Wrong digits, by their place in the number", summary.positions)
    yield charts.shares("By desk", summary.desks)
    yield charts.shares("By day", summary.days, is_ranked=False, most=31)
    yield charts.bars("How the ledger has them", summary.records.most_common())


def _worded(counts: Counter[str]) -> list[tuple[str, int]]:
    return [(words.of_code(code), number) for code, number in counts.most_common()]


def missing_html(front: Front) -> str:
    """Pairs that no photo shows; "" where there is none."""
    if not front.missing_count:
        return ""
    rows = "".join(
        f'<tr><td class="num">{_number(a)}</td><td class="num">{_number(c)}</td>'
        f"<td>{escape(known)}</td></tr>"
        for a, c, known in front.missing[:MOST_MISSING]
    )
    more = front.missing_count - min(MOST_MISSING, len(front.missing))
    rest = f"<p class='quiet'>and {more:,} more, in missing.csv</p>" if more else ""
    return (
        f"<h2 id='missing'>Never photographed: {front.missing_count:,}</h2>"
        "<div class='wide' tabindex='0' role='region' aria-labelledby='missing'>"
        "<table class='plain'><thead><tr><th>article</th>"
        f"<th>card</th><th>known from</th></tr></thead>{rows}</table></div>{rest}"
    )


def _number(text: str) -> str:
    return escape(printed(text)) if text else "not known"
