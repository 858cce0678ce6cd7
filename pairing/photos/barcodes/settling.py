"""What the votes on one place come to, and where that leaves the symbols read so far."""

from __future__ import annotations

from dataclasses import dataclass, field

from pairing.findings import Code, Finding
from pairing.model import Quad, Symbol
from pairing.photos.barcodes.bar_edges import measured
from pairing.photos.barcodes.engines import Gray
from pairing.photos.barcodes.quads import (
    contains,
    length_px,
    overlap_share,
    reading_angle_deg,
)
from pairing.photos.barcodes.stacks import are_two
from pairing.photos.barcodes.text_placing import placed_by_text
from pairing.photos.barcodes.votes import Vote, best_placed, outcome
from pairing.photos.code128 import encoding

_SAME_PLACE_SHARE = 0.4
_SAME_PRINT_SHARE = 0.1  # two prints do not lie on each other; quads of a tilted one may


@dataclass(slots=True)
class Found:
    """What has been read so far, by place."""

    symbols: list[Symbol] = field(default_factory=list)
    disputed: list[Quad] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    lonely: list[tuple[Quad, tuple[Vote, ...]]] = field(default_factory=list)
    others: list[Symbol] = field(default_factory=list)
    unread: list[Quad] = field(default_factory=list)


def settle(gray: Gray, votes: tuple[Vote, ...], found: Found) -> bool:
    """Enter what the votes on one place come to; whether that settles the place.

    A place may be met twice, as two blocks that lie on each other: votes that were
    too few the first time count the second time.
    """
    quad = best_placed(votes).quad
    for other, earlier in found.lonely:
        if overlap_share(quad, other) > _SAME_PLACE_SHARE:
            votes += earlier
    result = outcome(votes)
    if result.finding is not None:
        if result.finding.code == "one-witness":
            found.lonely.append((quad, votes))
            return False
        found.findings.append(result.finding)
        found.disputed.append(quad)
        return True
    if not result.accepted:
        return False
    _enter(gray, _symbol(gray, result.accepted), found)
    return True


@dataclass(frozen=True, slots=True, kw_only=True)
class Lonely:
    """A symbol that one witness alone read, and the finding that says so."""

    symbol: Symbol
    finding: Finding


def lonely_symbols(gray: Gray, found: Found) -> tuple[Lonely, ...]:
    """What one witness alone read, once for each text and place that nothing settled."""
    said: dict[Finding, Lonely] = {}
    for quad, votes in found.lonely:
        finding = outcome(votes).finding
        if finding is not None and finding not in said and not is_known(quad, found):
            said[finding] = Lonely(symbol=_symbol(gray, votes), finding=finding)
    return tuple(said.values())


def _enter(gray: Gray, symbol: Symbol, found: Found) -> None:
    """Add a symbol unless its place is taken: the same text is the same symbol."""
    if any(_is_same_print(gray, symbol, other) for other in found.symbols):
        return
    for place, other in enumerate(found.symbols):
        if overlap_share(symbol.quad, other.quad) <= _SAME_PLACE_SHARE:
            continue
        del found.symbols[place]
        found.disputed += [symbol.quad, other.quad]
        found.findings.append(
            Finding.of(
                Code.ENGINES_DISAGREE,
                readings=tuple(f"{one.kind} {one.text!r}" for one in (other, symbol)),
                witnesses=("", ""),
            )
        )
        return
    if any(overlap_share(symbol.quad, quad) > _SAME_PLACE_SHARE for quad in found.disputed):
        return
    found.symbols.append(symbol)


def _is_same_print(gray: Gray, symbol: Symbol, other: Symbol) -> bool:
    """Whether two readings of one text are of one printed symbol."""
    if (symbol.text, symbol.kind) != (other.text, other.kind):
        return False
    if overlap_share(symbol.quad, other.quad) > _SAME_PRINT_SHARE:
        return True
    modules = encoding.shortest_modules(symbol.text, aim=symbol.aim)
    return not are_two(gray, other.quad, symbol.quad, modules)


def is_known(quad: Quad, found: Found) -> bool:
    """Whether a place is that of a symbol that was read, or of one that is disputed."""
    places = [s.quad for s in found.symbols] + found.disputed
    if all(quad is not s.quad for s in found.others):
        places += [s.quad for s in found.others]
    return any(overlap_share(quad, place) > 0.5 or contains(place, quad.center) for place in places)


def _symbol(gray: Gray, party: tuple[Vote, ...]) -> Symbol:
    placed = best_placed(party)
    teller = next((v for v in party if v.aim), placed)
    modules = encoding.shortest_modules(teller.text, aim=teller.aim)
    where = placed.quad
    if not placed.exact:
        where = placed_by_text(gray, where, teller.text, teller.aim) or where
    quad = measured(gray, where, modules)
    is_measured = quad is not None
    quad = quad or where
    return Symbol(
        text=teller.text,
        aim=teller.aim,
        kind=teller.kind,
        quad=quad,
        angle_deg=reading_angle_deg(quad),
        x_px=length_px(quad) / modules,
        witnesses=tuple(dict.fromkeys(v.witness for v in party)),
        is_measured=is_measured,
    )
