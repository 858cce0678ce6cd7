"""What comes before a report's rows: the counts, the conclusion in sentences, the charts."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Any

from pairing.audit.reports import charts, code_words
from pairing.audit.reports.page_parts import part
from pairing.audit.statistics.aims import Aim
from pairing.audit.statistics.bounds import percent
from pairing.audit.statistics.summary import Conclusion, Summary
from pairing.model import Verdict
from pairing.numbers import printed

MOST_MISSING = 200
"""Pairs never photographed that the report lists; `missing.csv` has them all."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Front:
    """What comes before the rows. missing: pairs that are recorded or expected and not
    photographed (article, card, known from)."""

    title: str
    made: str
    summary: Summary
    conclusion: Conclusion | None
    missing: Sequence[tuple[str, str, str]] = field(default=())
    missing_count: int = 0


def summary_html(front: Front) -> Any:
    """The counts, and what may be concluded."""
    (_, lead), *said = _conclusions(front)
    worst = front.summary.worst.piece if front.summary.worst else ""
    return part("summary", _cells(front), lead, said, worst)


def _cells(front: Front) -> list[tuple[str, str, str]]:
    """The counts and the bound, each with its name and words."""
    counts, found = _counts(front), front.conclusion
    cells = [
        (one.value, f"{counts[one]:,}", word)
        for one, word in (
            (Verdict.DIFFERS, "differ"),
            (Verdict.UNREAD, "unread"),
            (Verdict.AGREES, "agree"),
        )
    ]
    if found is not None:
        whose = f"{_whole(found)} " if found.known.lot or _is_by_value(found) else ""
        chance = "" if found.is_drawn else ", if chance chose them"
        cells.append(("bound", percent(found.upper), f"{whose}bad or unread, at most{chance}"))
    return cells


def _conclusions(front: Front) -> Iterator[tuple[str, str]]:
    """The conclusion in sentences with a heading each, the most important one first."""
    found, summary = front.conclusion, front.summary
    yield "", found_in_words(front)
    if found is None:
        yield "Conclusion", "No piece was checked, so nothing can be concluded."
        return
    if found.aim is not None:
        yield "Aim", aim_in_words(found.aim)
    if found.warning:
        yield "Warning", found.warning
    yield "Conclusion", bound_in_words(found)
    if found.known.lot != found.known.checked:
        low, high = percent(found.known.low, is_lower=True), percent(found.known.high)
        yield (
            "Interval",
            f"With the same confidence on both sides, between {low} and {high} are bad pairs or "
            "could not be read (without the reader's own errors).",
        )
    if found.if_read.upper < found.known.upper:
        yield (
            "Unread",
            "Unread pieces count against the lot. Were all of them looked at and good, the bound "
            f"would be {percent(found.if_read.upper)}. A better photo put beside the others of "
            "its piece is read with the next run.",
        )
    yield from _of_boxes(summary)
    yield from _beside(front)
    yield "The reader's errors", _reader(found, summary)
    yield "It rests on", " ".join(found.notes)


def _of_boxes(summary: Summary) -> Iterator[tuple[str, str]]:
    """What the boxes alone say of cards that were photographed apart from their labels."""
    if summary.of_no_label:
        yield (
            "Certain",
            f"{_cards(summary.of_no_label)} no label's number in the box. Which label such a card "
            "goes with is not known, but it differs from each.",
        )
    if summary.probable or summary.probably_short:
        yield (
            "Probable",
            f"{probable_in_words(summary)} They count as unread until a list, a ledger or a photo "
            "of both sides names the pair.",
        )


def _beside(front: Front) -> Iterator[tuple[str, str]]:
    """What else is to be known."""
    summary = front.summary
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


def _counts(front: Front) -> dict[Verdict, int]:
    """Pieces by verdict; of a drawn sample alone, where there is one."""
    aim = front.conclusion.aim if front.conclusion else None
    if aim is None:
        return {one: front.summary.verdicts[one] for one in Verdict}
    return {
        Verdict.AGREES: aim.checked - aim.bad,
        Verdict.DIFFERS: aim.bad - aim.unread,
        Verdict.UNREAD: aim.unread,
    }


def found_in_words(front: Front) -> str:
    """What was found, counted; of a drawn sample alone, where there is one."""
    counts = _counts(front)
    pieces, differs, unread = sum(counts.values()), counts[Verdict.DIFFERS], counts[Verdict.UNREAD]
    what = "drawn" if front.conclusion and front.conclusion.aim else "checked"
    if not pieces:
        return "There was no piece to check."
    is_by_value = front.conclusion is not None and _is_by_value(front.conclusion)
    many = f"{pieces:,} points of value" if is_by_value else _pieces(pieces)
    if differs:
        verb, whose = ("differs", "its card does") if differs == 1 else ("differ", "their cards do")
        label = "the label" if differs == 1 else "the labels"
        first = f"{differs:,} of the {many} {what} {verb}: {whose} not go with {label}."
    else:
        first = f"None of the {many} {what} differs."
    if not unread:
        return f"{first} All were read."
    return f"{first} {unread:,} could not be read, and count against the lot."


def aim_in_words(aim: Aim) -> str:
    """Whether the sample shows what it was drawn for, and what would be needed if not."""
    bad = "of the value on bad pairs" if aim.is_by_value else "bad pairs"
    wanted = (
        f"at most {100 * aim.share:g} % {bad} with {100 * aim.confidence:g} % confidence, "
        f"allowing {aim.allowed:,} bad in the sample"
    )
    what = f"{aim.checked:,} points" if aim.is_by_value else _pieces(aim.checked)
    found = f"{aim.bad:,} of {what} drawn differ or were not read"
    if aim.is_reached:
        return f"Reached: {wanted}; {found}{_expected(aim)}."
    if aim.second:
        return (
            f"Not decided: {wanted}; {found}, so the second stage decides. Look at what was not "
            f"read, then photograph the {_pieces(aim.second)} of the second stage; with at most "
            f"{aim.allowed:,} bad in both stages the aim is reached."
        )
    text = f"Not reached: {wanted}; {found}{_expected(aim)}"
    if aim.unread:
        would = "would be reached" if aim.is_reachable else "would still not be reached"
        text += f" ({aim.unread:,} not read; if all of these are looked at and good, it {would})"
    if aim.stages > 1:
        return f"{text}. The plan ends here: more pieces added to it show nothing."
    if aim.needed is None:
        return f"{text}. With so many bad ones no sample of this lot can show it."
    return (
        f"{text}. To show it with as many bad ones, a new sample of "
        f"{aim.needed:,} {'points' if aim.is_by_value else 'pieces'} would be "
        "needed; adding to this one until it passes does not give the stated confidence."
    )


def _expected(aim: Aim) -> str:
    """How what was found compares with what was expected, where it is more."""
    if aim.expected is None or aim.bad <= aim.expected * aim.checked:
        return ""
    return (
        f", {percent(aim.bad / aim.checked)} where {100 * aim.expected:g} % were expected when the "
        "sample was planned"
    )


def _cards(count: int) -> str:
    return "1 card holds" if count == 1 else f"{count:,} cards hold"


def probable_in_words(summary: Summary) -> str:
    """What the boxes alone say of pieces whose label and card were photographed apart."""
    agree, differ = (summary.probable[one] for one in (Verdict.AGREES, Verdict.DIFFERS))
    short = ""
    if summary.probably_short:
        lacks = "lacks" if summary.probably_short == 1 else "lack"
        short = f", {summary.probably_short:,} probably {lacks} a group or more of the number"
    return (
        f"Of the unread pieces {differ:,} probably {'differs' if differ == 1 else 'differ'}{short} "
        f"and {agree:,} probably {'agrees' if agree == 1 else 'agree'}: which card belongs to "
        "which label is known from their boxes alone."
    )


def bound_in_words(found: Conclusion) -> str:
    """The bound, with what it is a bound on."""
    known = found.known
    if known.lot == known.checked:
        return (
            f"All {_pieces(known.lot)} of the lot were checked. At most {percent(found.upper)} of "
            "them are bad pairs or could not be read (the reader's own errors included)."
        )
    of = _whole(found).removeprefix("of ")
    chosen = "drawn" if found.is_drawn else "checked"
    text = (
        f"with {known.confidence * 100:g} % confidence, at most {percent(found.upper)} of {of} are "
        f"bad pairs or could not be read ({known.bad:,} of {known.checked:,} {chosen} are; the "
        "reader's own errors are included)."
    )
    if found.is_drawn:
        return f"{text[0].upper()}{text[1:]}"
    return f"If chance alone chose what was photographed: {text}"


def _is_by_value(found: Conclusion) -> bool:
    return found.aim is not None and found.aim.is_by_value


def _whole(found: Conclusion) -> str:
    """What the bound is a share of."""
    if _is_by_value(found):
        return "of the lot's value"
    return f"of the lot of {_pieces(found.known.lot)}" if found.known.lot else "of all such pieces"


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


def charts_of(summary: Summary, conclusion: Conclusion | None = None) -> list[Any]:
    """Every chart that has something to show."""
    differs, unread = Verdict.DIFFERS.value, Verdict.UNREAD.value
    drawn = (
        charts.bars("Pieces that differ, by kind", _worded(summary.errors), of=differs),
        charts.bars("Pieces unread, by cause", _worded(summary.causes), of=unread),
        charts.columns("Wrong digits, by their place in the number", summary.positions),
        charts.shares("By desk", summary.desks),
        charts.shares("By day", summary.days, is_ranked=False, most=31),
        charts.bars("How the ledger has them", summary.records.most_common()),
        charts.chances(
            "Chance that this plan passes a lot, by its share of bad pairs",
            conclusion.power if conclusion else (),
        ),
    )
    return [one for one in drawn if one]


def _worded(counts: Counter[str]) -> list[tuple[str, int]]:
    return [(code_words.of_code(code), number) for code, number in counts.most_common()]


def missing_html(front: Front) -> Any:
    """Pairs that no photo shows; "" where there is none."""
    if not front.missing_count:
        return ""
    shown = front.missing[:MOST_MISSING]
    rows = [(printed(article), printed(card), known) for article, card, known in shown]
    return part("missing", front.missing_count, rows, front.missing_count - len(shown))
