"""What stands above a report's rows: the counts, the conclusion in sentences, the charts."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from decimal import ROUND_CEILING, Context
from html import escape

from pairing.audit.reports import charts
from pairing.audit.worth.summary import Conclusion, Summary
from pairing.model import Verdict

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


def summary_html(front: Front) -> str:
    """The counts, and what may be concluded."""
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
        f"With {sure}, at most {percent(found.upper)} {of_lot} are bad pairs or could not be "
        f"read ({found.known.bad:,} of the {found.known.checked:,} checked)."
    )
    yield (
        f"Without the reader's own errors the bound is {percent(found.known.upper)}: of bad "
        f"pairs it may take up to {percent(found.hidden)} for good ones, as measured. Of pairs "
        f"that it calls different some {found.false_differs:.1f} may be right: have them "
        "looked at."
    )
    if found.if_read.upper < found.known.upper:
        yield (
            f"Unread pieces count against the lot. Were all of them looked at and good, the "
            f"bound would be {percent(found.if_read.upper)}."
        )
    if summary.worst:
        yield f"Gravest finding: piece {summary.worst['piece']}. {summary.worst['message']}"
    if summary.unusable:
        yield f"{summary.unusable:,} of {summary.photos:,} photos could not be used."
    yield from found.notes


def charts_html(summary: Summary) -> str:
    """Every chart that has something to show."""
    return "".join(_charts(summary))


def _charts(summary: Summary) -> Iterator[str]:
    yield charts.bars("Pieces that differ, by kind", _worded(summary.errors))
    yield charts.bars("Pieces unread, by cause", _worded(summary.causes), is_unread=True)
    yield charts.columns("Wrong digits, by their place in the number", summary.positions)
    yield charts.shares("By desk: differ + unread", summary.desks)
    yield charts.shares("By day: differ + unread", summary.days, is_ranked=False, most=31)
    yield charts.bars("In the ledger", summary.records.most_common())


def _worded(counts: Counter[str]) -> list[tuple[str, int]]:
    return [(code.replace("-", " "), number) for code, number in counts.most_common()]


def missing_html(front: Front) -> str:
    """Pairs that no photo shows; "" where there is none."""
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


def percent(share: float) -> str:
    """A share in percent, two digits that count, never rounded down: it is a bound."""
    exact = Context(prec=2, rounding=ROUND_CEILING).create_decimal_from_float(share * 100)
    return f"{exact.normalize():f} %"
