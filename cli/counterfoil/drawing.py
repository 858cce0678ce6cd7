"""A sample planned and drawn as `counterfoil sample` was asked to, and the plan in words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

import click

from counterfoil.view import style
from pairing.audit.statistics import draws, plans, sampling, strata
from pairing.audit.statistics.piece_lists import Listed

_BAR = 20
"""Characters of a bar for a chance of one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SampleOptions:
    """What the command was called with; each option's help says what it means."""

    lot: int | None
    share: str
    confidence: str
    allowed: int
    expected: str | None
    two_stage: bool
    systematic: bool
    strata: str | None
    value: str | None
    spares: int
    aql: str | None
    source: Path | None
    column: str | None
    ledger: str | None
    since: date | None
    until: date | None
    seed: str | None
    out: Path | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """A plan. size: pieces (of two stages in each, by value points); strata: pieces of each."""

    size: int
    allowed: int
    stages: tuple[plans.Stage, ...]
    strata: dict[str, int] = field(default_factory=dict)


def refuse_contradictions(given: SampleOptions) -> None:
    """Raises click.UsageError where two options cannot both be meant."""
    if sum(one is not None for one in (given.lot, given.source, given.ledger)) > 1:
        raise click.UsageError("Give one of --lot, --from and --ledger.")
    if given.out and given.lot is None and given.source is None and given.ledger is None:
        raise click.UsageError("To draw, give --lot, --from or --ledger.")
    ways = (given.two_stage, given.systematic, given.strata is not None, given.value is not None)
    if sum(ways) > 1:
        raise click.UsageError("Give one of --two-stage, --systematic, --strata and --value.")
    if given.expected and given.allowed:
        raise click.UsageError("--expected says how many bad ones to allow; leave --defects out.")
    if given.value is not None and given.source is None:
        raise click.UsageError("--value needs --from.")
    if given.strata is not None and given.source is None and given.ledger is None:
        raise click.UsageError("--strata needs --from or --ledger.")
    if given.ledger and given.strata not in (None, "desk", "day", "operator"):
        raise click.UsageError("Of a ledger the strata are desk, day or operator.")
    if given.spares and (given.systematic or given.value is not None):
        raise click.UsageError(
            "Drawn at equal steps or by value, no piece stands in for another: leave void pieces "
            "out of the list before the draw, and --spares out."
        )


def planned(given: SampleOptions, names: Collection[Listed] | draws.Numbered | None) -> Planned:
    """The plan. Raises NotCalculable where no sample can show what is asked for."""
    is_plain = given.value is None and given.strata is None
    lot = len(names) if names is not None and is_plain else None
    share, confidence, allowed = given.share, given.confidence, given.allowed
    if given.expected:
        size, allowed = plans.attribute_plan(
            tolerable=share, expected=given.expected, confidence=confidence, lot=lot
        )
    elif not given.two_stage:
        size = sampling.sample_size(share=share, confidence=confidence, lot=lot, allowed=allowed)
    if given.two_stage:
        allowed = max(1, allowed)
        stages = plans.two_stage_plan(share=share, confidence=confidence, lot=lot, allowed=allowed)
        return Planned(size=stages[0].size, allowed=allowed, stages=stages)
    parts: dict[str, int] = {}
    if given.strata is not None:
        many = Counter(one.stratum for one in names or () if isinstance(one, Listed))
        parts = strata.stratified_size(
            many, share=float(share), confidence=float(confidence), allowed=allowed
        )
        size = sum(parts.values())
    stage = plans.Stage(size, allowed, allowed + 1)
    return Planned(size=size, allowed=allowed, stages=(stage,), strata=parts)


def drawn(
    given: SampleOptions,
    plan: Planned,
    listed: Collection[Listed] | draws.Numbered,
    *,
    seed: str,
) -> draws.Drawn:
    """The sample, drawn."""
    asked = draws.Plan(
        share=given.share,
        confidence=given.confidence,
        allowed=plan.allowed,
        expected=given.expected or "",
    )
    if isinstance(listed, draws.Numbered):
        names: Collection[str] = listed
    else:
        names = [one.name for one in listed]
        if given.strata is not None:
            return draws.draw_strata(listed, plan.strata, asked, seed=seed, spares=given.spares)
        if given.value is not None:
            return draws.draw_by_value(listed, asked, size=plan.size, seed=seed)
    if given.systematic:
        return draws.draw_systematic(names, asked, size=plan.size, seed=seed)
    return draws.draw_from(
        names,
        size=plan.size,
        seed=seed,
        share=asked.share,
        confidence=asked.confidence,
        allowed=asked.allowed,
        expected=asked.expected,
        second=plan.size if given.two_stage else 0,
        spares=given.spares,
    )


def in_words(given: SampleOptions, plan: Planned, lot: int | None) -> Iterator[str]:
    """The plan in sentences, and as a small chart how likely it accepts which lot."""
    of_lot = f" of {lot:,}" if lot else ""
    found = "no bad one" if plan.allowed == 0 else f"at most {plan.allowed} bad"
    shown = f"at most {percent(given.share)}"
    sure = f"with {percent(given.confidence)} confidence."
    if given.value is not None:
        yield (
            f"Check what {plan.size:,} points of the value lie on. With {found} among them, "
            f"{shown} of the value is on bad pairs, {sure}"
        )
    elif given.two_stage:
        yield (
            f"Check {_pieces(plan.size)}{of_lot}: with no bad one among them, {shown} of the pairs "
            f"are bad, {sure} With more than {plan.allowed} bad this is not shown. Else check "
            f"the {plan.size:,} of the second stage: {found} in both shows it too."
        )
    else:
        yield (
            f"Check {_pieces(plan.size)}{of_lot}. With {found} among them, {shown} of the pairs "
            f"are bad, {sure}"
        )
    for name, size in plan.strata.items():
        yield f"  {style.plain(name) or 'none named'}: {size:,}"
    if is_more_than_size(given):
        yield from _power(given, plan, lot)


def is_more_than_size(given: SampleOptions) -> bool:
    """Whether more is asked for than how many."""
    return bool(given.expected or given.two_stage or given.systematic or given.allowed)


def _power(given: SampleOptions, plan: Planned, lot: int | None) -> Iterator[str]:
    yield "Chance that the plan accepts a lot, by its share of bad pairs:"
    chances: Sequence[tuple[float, float]] = plans.power(
        plan.stages, share=float(given.share), lot=lot
    )
    for share, chance in chances:
        yield f"  {100 * share:>6g} % {100 * chance:>5.1f} %  {'#' * round(_BAR * chance)}".rstrip()


def percent(share: str) -> str:
    """A share as a percentage, without needless zeros."""
    return f"{float(share) * 100:g} %"


def _pieces(number: int) -> str:
    return "1 piece" if number == 1 else f"{number:,} pieces"
