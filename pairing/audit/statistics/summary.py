"""What a run's rows come to: counts, where errors fall, and what may be concluded.

A bound on photos of which nobody recorded how they were drawn says so before the figure.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Set
from dataclasses import asdict, dataclass, field, replace
from typing import Any

from pairing.audit.run.rows import Row, RowFinding
from pairing.audit.statistics.aims import Aim, aim_of
from pairing.audit.statistics.bounds import Bounds, bounds, with_reader
from pairing.audit.statistics.draw_notes import of_draw, of_photos
from pairing.audit.statistics.draws import Drawn
from pairing.audit.statistics.plans import power
from pairing.audit.statistics.reader_rates import ReaderRates, rates
from pairing.audit.statistics.sample_counts import bounds_of, count
from pairing.findings import Code, Weight
from pairing.model import How, Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class GravestFinding:
    """The finding that weighs most, and the piece that it is on."""

    piece: str
    message: str


@dataclass(slots=True)
class Summary:
    """The counts of one run; fill it with `add`."""

    verdicts: Counter[str] = field(default_factory=Counter)
    by_means: Counter[str] = field(default_factory=Counter)
    errors: Counter[str] = field(default_factory=Counter)
    causes: Counter[str] = field(default_factory=Counter)
    positions: Counter[int] = field(default_factory=Counter)
    desks: dict[str, Counter[str]] = field(default_factory=dict)
    days: dict[str, Counter[str]] = field(default_factory=dict)
    records: Counter[str] = field(default_factory=Counter)
    reviewed: Counter[str] = field(default_factory=Counter)
    photos: int = 0
    unusable: int = 0
    matched: int = 0
    keyed: int = 0
    agreeing_by_match: int = 0
    probable: Counter[str] = field(default_factory=Counter)
    probably_short: int = 0
    of_no_label: int = 0
    worst: GravestFinding | None = None
    drawn: dict[str, str] = field(default_factory=dict)
    distinct: dict[str, str] = field(default_factory=dict)
    _worst_rank: int = 2

    def add(self, row: Row, sample: Set[str] = frozenset()) -> None:
        """Count a row in. sample: names of pieces, or their article numbers, that were drawn."""
        verdict = row.standing.value
        self.verdicts[verdict] += 1
        if row.review:
            self.reviewed[row.review.decision] += 1
        self.keyed += row.keyed is not None
        # Photographed twice, it is as good as its worse half: it must not count for another.
        _note_worse(self.distinct, _name_of(row), verdict)
        for name in _names(row, sample):
            _note_worse(self.drawn, name, verdict)
        self.desks.setdefault(row.desk, Counter())[verdict] += 1
        self.days.setdefault(row.day, Counter())[verdict] += 1
        self.photos += len(row.photos)
        self.unusable += sum(photo.skipped is not None for photo in row.photos)
        self.matched += row.match is not None
        if row.match and row.match.would:
            self.probable[row.match.would] += 1
        elif row.has(Code.BOX_NO_ARTICLE):
            self.of_no_label += 1
        self.probably_short += row.has(*_APART) and row.has(Code.BOX_GROUP_MISSING)
        if row.record:
            self.records[row.record.state] += 1
        if verdict == Verdict.AGREES:
            self.by_means[row.written_by or ""] += 1
            self.agreeing_by_match += row.match is not None
            return
        finding = row.worst
        if verdict == Verdict.DIFFERS:
            self.errors[row.error] += 1
            if row.difference and row.error not in _WHOLE:
                self.positions.update(row.difference.positions)
            self._note_worst(row, finding)
        elif row.verdict == verdict:
            self.causes[finding.code if finding else "unread"] += 1
        else:
            self.causes["misread"] += 1

    def _note_worst(self, row: Row, finding: RowFinding | None) -> None:
        """The gravest: a number that belongs to somebody else before any slip of the hand."""
        if finding is None:
            return
        rank = 0 if any(word in finding.code for word in _GRAVE) else 1
        if finding.weight is Weight.CLASH and rank < self._worst_rank:
            self._worst_rank = rank
            self.worst = GravestFinding(piece=row.piece, message=finding.message)

    @property
    def pieces(self) -> int:
        """How many rows there are."""
        return sum(self.verdicts.values())


_APART = {Code.MATCHED_BY_BOX, Code.MATCHED_BY_ORDER, Code.MATCH_IN_DOUBT, Code.NO_LABEL_PHOTO}
"""Said of a label and a card that are not known to belong together, or of a card alone."""
_BEST_TO_WORST = (Verdict.AGREES.value, Verdict.UNREAD.value, Verdict.DIFFERS.value)


def _note_worse(found: dict[str, str], name: str, verdict: str) -> None:
    found[name] = max(found.get(name, verdict), verdict, key=_BEST_TO_WORST.index)


def _name_of(row: Row) -> str:
    """What tells a piece from others: its numbers, and without a label's the row's name."""
    return f"{row.article} {row.card}" if row.article else f"piece {row.piece}"


def _names(row: Row, sample: Set[str]) -> Set[str]:
    """What the sample's list calls this piece: by name or article, else by its name without the
    folders that the photos lie in."""
    if not sample:
        return frozenset()
    found = {row.piece, row.article or row.piece} & sample
    return found or {row.piece.rpartition("/")[2]} & sample


_WHOLE = ("other-piece", "card-own", "pad-neighbour", "different")
"""Other numbers altogether: which of their digits differ says nothing about copying."""

_GRAVE = ("other-piece", "card-own", "pad-neighbour", "used-before", "recorded-otherwise")


@dataclass(frozen=True, slots=True, kw_only=True)
class Conclusion:
    """What the lot may be taken for.

    known: bounds with every unread piece counted as bad. if_read: the same had all unread
    ones been good; it is no conclusion, it shows what looking at them is worth.
    upper: `known.upper` with the reader's own errors. hidden: the rate at which bad pairs are
    taken for good ones, for this lot's mix of bars and writing. false_differs: how many of
    the differing pieces may be right, as expected. is_drawn: chance is known to have chosen
    the pieces (a recorded draw), or nobody did (the whole lot). notes: what it all rests on.
    aim: what a recorded sample was to show, and whether it does. power: of its plan: shares of
    bad pairs, each with the chance that it accepts such a lot. warning: of
    samples before this one.
    """

    known: Bounds
    if_read: Bounds
    upper: float
    hidden: float
    false_differs: float
    is_drawn: bool
    notes: tuple[str, ...]
    aim: Aim | None = None
    power: tuple[tuple[float, float], ...] = ()
    warning: str = ""


def conclude(  # noqa: PLR0913 - what the rows are held against
    summary: Summary,
    *,
    confidence: float,
    lot: int | None,
    sample: Drawn | None = None,
    strictness: str = "1e-4",
    void: Set[str] = frozenset(),
) -> Conclusion | None:
    """The conclusion; None where nothing was checked.

    lot: pieces in the whole lot; None for a process without end. sample: what was drawn: drawn
    pieces that no photo shows count as unread, pieces beside it do not count; void: those never
    mailed (`sample_counts.count`). A piece that several rows show counts once.
    """
    if sample:
        counted = count(sample, summary.drawn, void)
        bad, notes = (counted.bad, counted.differs), of_draw(sample, counted)
        known, if_read = (bounds_of(sample, counted, n, confidence=confidence) for n in bad)
    else:
        counts = Counter(summary.distinct.values())
        if not (checked := sum(counts.values())):
            return None
        bad = checked - counts[Verdict.AGREES.value], counts[Verdict.DIFFERS.value]
        known, if_read = (bounds(checked, n, confidence=confidence, lot=lot) for n in bad)
        notes = of_photos(lot, checked)
    rate = rates(strictness)
    hidden = _hidden(summary, rate, float(strictness))
    by_line = 1 - _share_of_bars(summary)
    return Conclusion(
        known=known,
        if_read=if_read,
        upper=with_reader(known.upper, false_agrees=hidden),
        hidden=hidden,
        false_differs=rate.differs * by_line * known.checked,
        is_drawn=sample is not None or lot == known.checked,
        notes=(notes, *_notes(summary)),
        aim=aim_of(sample, counted) if sample else None,
        power=_power(sample) if sample else (),
    )


def with_warning(found: Conclusion, warning: str) -> Conclusion:
    """The same, with a warning about the sample before its notes."""
    return replace(found, warning=warning) if warning else found


def _power(sample: Drawn) -> tuple[tuple[float, float], ...]:
    """Of a sample by value or strata as if the bad ones lay anywhere in an endless lot."""
    is_plain = sample.method != "value" and not sample.strata
    lot = sample.lot if is_plain else None
    return tuple(power(sample.stages, share=float(sample.share), lot=lot))


def _share_of_bars(summary: Summary) -> float:
    """The share of agreeing pieces whose box was read by bars (or a person)."""
    agreed = sum(summary.by_means.values())
    by_line = summary.by_means[How.HAND.value] + summary.by_means[How.PRINT.value]
    return 1 - by_line / agreed if agreed else 0.0


def _hidden(summary: Summary, rate: ReaderRates, strictness: float) -> float:
    """The share of bad pairs that are taken for good ones: by the reader, and where photos
    are unsorted by a wrong partner too (`least_margin_to_agree` holds that at the strictness)."""
    bars = _share_of_bars(summary)
    agreed = sum(summary.by_means.values())
    by_match = summary.agreeing_by_match / agreed if agreed else 0.0
    return bars * rate.bars + (1 - bars) * rate.line + by_match * strictness


def _notes(summary: Summary) -> Iterable[str]:
    if repeated := summary.pieces - len(summary.distinct):
        yield f"{repeated:,} rows show a piece that another row shows too; each piece counts once."
    if summary.keyed:
        yield (
            f"{summary.keyed:,} boxes that the program did not read were keyed by a person who saw "
            "no label; a person's own errors are in no rate here."
        )
    if summary.matched:
        yield (
            "Label and card were photographed apart. They count as a pair where a list or a ledger "
            "names the pair and the box goes with it; where only the box says which card belongs "
            "to a label, the piece counts as unread."
        )
    yield (
        "The reader's rates were measured on drawn and held-out lines and on damaged pictures "
        "of bars; on photos of another kind they may be different."
    )


def as_members(
    summary: Summary, conclusion: Conclusion | None, *, missing: int = 0
) -> dict[str, Any]:
    """Summary and conclusion as JSON."""
    return {
        "pieces": summary.pieces,
        "photos": summary.photos,
        "photos_unusable": summary.unusable,
        "verdicts": {one.value: summary.verdicts[one.value] for one in Verdict},
        "probable_by_box_alone": dict(summary.probable),
        "probably_lack_a_group_or_more": summary.probably_short,
        "box_holds_no_labels_number": summary.of_no_label,
        "errors": dict(summary.errors.most_common()),
        "unread_because": dict(summary.causes.most_common()),
        "positions": {str(at): n for at, n in sorted(summary.positions.items())},
        "desks": {name: dict(counts) for name, counts in sorted(summary.desks.items())},
        "days": {name: dict(counts) for name, counts in sorted(summary.days.items())},
        "recorded": dict(summary.records),
        "never_photographed": missing,
        "reviewed": dict(summary.reviewed),
        "keyed": summary.keyed,
        "worst": asdict(summary.worst) if summary.worst else None,
        "conclusion": _conclusion(conclusion) if conclusion else None,
    }


def _conclusion(found: Conclusion) -> dict[str, Any]:
    return {
        "checked": found.known.checked,
        "bad_or_unread": found.known.bad,
        "lot": found.known.lot,
        "confidence": found.known.confidence,
        "upper_share": found.known.upper,
        "interval": [found.known.low, found.known.high],
        "upper_share_with_reader": found.upper,
        "upper_share_had_all_been_read": found.if_read.upper,
        "reader_hides": found.hidden,
        "expected_false_differs": found.false_differs,
        "notes": list(found.notes),
        "aim": asdict(found.aim) if found.aim else None,
        "power": [list(one) for one in found.power],
        "warning": found.warning,
    }
