"""What the photographs say of a drawn sample: void pieces replaced, stages in their order, and the
bounds that its plan allows."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence, Set
from dataclasses import dataclass

from pairing.audit.statistics.bounds import Bounds, bounds
from pairing.audit.statistics.draws import Drawn
from pairing.audit.statistics.plans import second_stage_bounds
from pairing.audit.statistics.strata import combined_upper
from pairing.model import Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class SampleCount:
    """A sample's pieces by verdict; of a sample by value, its points.

    checked: all that count, those that no photo shows (missing) and void ones for which no spare
    was left (not_replaced) among them; they are neither `agrees` nor `differs`. stage: the last
    one that counts. is_open: its second stage decides, and no piece of it was photographed yet.
    """

    checked: int
    agrees: int
    differs: int
    missing: int
    stage: int = 1
    is_open: bool = False
    replaced: int = 0
    not_replaced: int = 0

    @property
    def bad(self) -> int:
        """All that are not known to be good."""
        return self.checked - self.agrees


def count(drawn: Drawn, verdicts: Mapping[str, str], void: Set[str] = frozenset()) -> SampleCount:
    """Count the sample. verdicts: of each drawn piece that a photo shows. void: pieces that were
    never mailed: the next spare stands in for each, in the order of the draw; where none is left
    it counts as bad. A piece that cannot be found is no void piece."""
    if drawn.strata:
        parts = [_replaced(one.pieces, iter(one.spares), void) for one in drawn.strata]
        return _counted(drawn, [name for part in parts for name in part], verdicts, void)
    spares = iter(drawn.spares)
    first = _replaced(drawn.pieces, spares, void)
    found = _counted(drawn, first, verdicts, void)
    rule = drawn.stages[0]
    if not drawn.second or found.bad <= rule.accept or found.bad >= rule.reject:
        return found
    second = _replaced(drawn.second, spares, void)
    is_open = not any(name in verdicts for name in second)
    names = first if is_open else [*first, *second]
    return _counted(drawn, names, verdicts, void, stage=1 if is_open else 2, is_open=is_open)


def bounds_of(drawn: Drawn, found: SampleCount, bad: int, *, confidence: float) -> Bounds:
    """The bounds with `bad` of those checked bad; of a sample by value, on the share of the value
    that lies on bad pieces. Raises NotCalculable."""
    if drawn.method == "value":
        return bounds(found.checked, bad, confidence=confidence)
    if drawn.strata:
        return _of_strata(drawn, bad, confidence)
    if found.stage == 1:
        return bounds(found.checked, bad, confidence=confidence, lot=drawn.lot)
    first, second = drawn.stages
    upper, low, high = second_stage_bounds(
        (first, second), bad, confidence=confidence, lot=drawn.lot
    )
    return Bounds(
        checked=found.checked,
        bad=bad,
        confidence=confidence,
        upper=upper,
        low=low,
        high=high,
        lot=drawn.lot,
    )


def is_shown(drawn: Drawn, found: SampleCount, bad: int) -> bool:
    """Whether the sample with so many bad ones shows what it was drawn for."""
    if drawn.second:
        return not found.is_open and bad <= drawn.stages[found.stage - 1].accept
    confidence = float(drawn.confidence)
    return bounds_of(drawn, found, bad, confidence=confidence).upper <= float(drawn.share)


def _of_strata(drawn: Drawn, bad: int, confidence: float) -> Bounds:
    parts = [(one.lot, len(one.pieces)) for one in drawn.strata]
    checked = sum(size for _, size in parts)
    side = (1 + confidence) / 2
    return Bounds(
        checked=checked,
        bad=bad,
        confidence=confidence,
        upper=combined_upper(parts, bad, confidence=confidence),
        low=1 - combined_upper(parts, checked - bad, confidence=side),
        high=combined_upper(parts, bad, confidence=side),
        lot=drawn.lot,
    )


def _replaced(pieces: Sequence[str], spares: Iterator[str], void: Set[str]) -> list[str]:
    """The pieces that count: for each void one the next spare that is not void itself."""
    usable = (name for name in spares if name not in void)
    return [next(usable, name) if name in void else name for name in pieces]


def _counted(  # noqa: PLR0913 - a sample, and where in its plan it is
    drawn: Drawn,
    names: Sequence[str],
    verdicts: Mapping[str, str],
    void: Set[str],
    *,
    stage: int = 1,
    is_open: bool = False,
) -> SampleCount:
    said = {Verdict.AGREES.value: 0, Verdict.DIFFERS.value: 0}
    checked = missing = not_replaced = 0
    for name in names:
        points = drawn.points.get(name, 1)
        checked += points
        if name in void:
            not_replaced += points
        elif name not in verdicts:
            missing += points
        elif verdicts[name] in said:
            said[verdicts[name]] += points
    planned = {*drawn.pieces, *drawn.second}
    return SampleCount(
        checked=checked,
        agrees=said[Verdict.AGREES.value],
        differs=said[Verdict.DIFFERS.value],
        missing=missing,
        stage=stage,
        is_open=is_open,
        replaced=sum(name not in planned for name in names),
        not_replaced=not_replaced,
    )
