"""Which symbols a photo holds: one `Symbol` for each printed one, and no more.

zxing-cpp goes over the whole frame first. What it reads needs one more witness;
where bars stand that it did not read, the slower ways of `reading` are tried, one
place at a time, so that cost grows with difficulty alone.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from pairing.findings import Code, Finding
from pairing.model import Quad, Symbol
from pairing.photos.barcodes.bar_edges import measured
from pairing.photos.barcodes.barlike import worth_reading
from pairing.photos.barcodes.decoding import parts_of, quick_witness, read_place
from pairing.photos.barcodes.engines import CODE_128, Detection, Engines, Gray, Scope, load_engines
from pairing.photos.barcodes.locate import Block, locate_blocks, locate_rows
from pairing.photos.barcodes.others import is_believable, matrix_symbols, symbol_of
from pairing.photos.barcodes.quads import (
    contains,
    grown,
    height_px,
    length_px,
    overlap_share,
    quad_of,
    reading_angle_deg,
)
from pairing.photos.barcodes.stacks import are_two, is_part_of, unstacked
from pairing.photos.barcodes.votes import WHOLE, Vote, best_placed, outcome
from pairing.photos.code128 import encoding

_COARSE_PIXELS = 1_000_000
_MOST_PLACES = 6  # at each level; the strongest edges come first
_MOST_BESIDE = 2  # where the photo has a symbol already; its text should not cost much
_SAME_PLACE_SHARE = 0.4
_SAME_PRINT_SHARE = 0.1  # two prints do not lie on each other; quads of a tilted one may


@dataclass(frozen=True, slots=True, kw_only=True)
class SymbolReport:
    """What a photo's bars say.

    symbols: each printed symbol once, Code 128 and others (see `Symbol.kind`).
        Every Code 128 symbol has two independent witnesses.
    conflicts: places that were read in more than one way, or by one witness alone;
        none of those readings is among `symbols`.
    missing: one sentence about each engine that could not be loaded.
    """

    symbols: tuple[Symbol, ...]
    conflicts: tuple[Finding, ...]
    missing: tuple[str, ...]


@dataclass(slots=True)
class _Found:
    """What has been read so far, by place."""

    symbols: list[Symbol] = field(default_factory=list)
    disputed: list[Quad] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)
    lonely: list[tuple[Quad, tuple[Vote, ...]]] = field(default_factory=list)
    others: list[Symbol] = field(default_factory=list)


def read_symbols(gray: NDArray[np.uint8]) -> SymbolReport:
    """Read every symbol in a grey photo, (height, width) uint8."""
    engines = load_engines()
    found = _Found()
    for detection in _frame_reads(gray, engines):
        _take_detection(gray, detection, engines, found)
    _read_blocks(gray, engines, found)
    found.symbols += [s for s in found.others if not _is_known(s.quad, found)]
    if not found.symbols and not found.findings and engines.zxing is not None:
        found.symbols += matrix_symbols(gray, engines.zxing)
    findings = [*found.findings, *_lonely_findings(found)]
    return SymbolReport(
        symbols=tuple(found.symbols), conflicts=tuple(findings), missing=engines.missing
    )


def _frame_reads(gray: Gray, engines: Engines) -> list[Detection]:
    """zxing-cpp's detections, with symbols that it joined taken apart.

    zbar costs ten times as much and only helps where bars are: it sees the blocks.
    """
    if engines.zxing is None:
        return []
    # Where Code 128 stands, other symbologies are nobody's business, and cost a third more.
    found = engines.zxing.read(gray, scope=Scope.CODE_128) or engines.zxing.read(
        gray, scope=Scope.LINEAR
    )
    return [part for whole in found for part in unstacked(gray, whole)]


def _take_detection(gray: Gray, detection: Detection, engines: Engines, found: _Found) -> None:
    if detection.kind != CODE_128:
        if is_believable(detection):
            found.others.append(symbol_of(detection))
        return
    quad = quad_of(detection.points)
    votes: tuple[Vote, ...] = (
        Vote(
            engine=detection.engine,
            band=WHOLE,
            text=detection.text,
            aim=detection.aim,
            kind=detection.kind,
            quad=quad,
        ),
    )
    if engines.zbar is not None:
        modules = encoding.shortest_modules(detection.text, aim=detection.aim)
        votes += quick_witness(gray, quad, engines.zbar, modules)
    if not outcome(votes).accepted:
        x_px = length_px(quad) / encoding.shortest_modules(detection.text, aim=detection.aim)
        tall = grown(quad, along_px=0, across_px=0 if height_px(quad) > 6 * x_px else 3 * x_px)
        votes = read_place(gray, tall, engines, votes)
    _settle(gray, votes, found)


def _read_blocks(gray: Gray, engines: Engines, found: _Found) -> None:
    """Try the places that look like bars and are not read yet."""
    tried: list[Quad] = []
    is_beside = bool(found.symbols)
    levels = _levels(gray, found)
    known = [s.quad for s in found.symbols] + found.disputed
    for halvings in levels:
        allowed = len(tried) + (_MOST_BESIDE if found.symbols else _MOST_PLACES)
        for block in locate_blocks(gray, halvings=halvings, known=known):
            if len(tried) >= allowed:
                break
            if _is_known(block.quad, found) or _was_tried(block, tried):
                continue
            directions = worth_reading(gray, block.quad, is_beside=is_beside)
            if not directions or _is_more_of_one(gray, block.quad, found):
                continue
            tried.append(block.quad)
            for quad in directions:
                if _try_place(gray, quad, engines, found):
                    break
        if found.symbols:
            return
    for halvings in levels[:2]:
        for block in locate_rows(gray, halvings=halvings):
            if not _is_known(block.quad, found) and worth_reading(gray, block.quad)[:1]:
                _try_place(gray, block.quad, engines, found)
        if found.symbols:
            return


def _levels(gray: Gray, found: _Found) -> list[int]:
    """How often to halve the photo when looking for bars, coarse first.

    Where something was read, other symbols of the photo will have about its X: one
    level that keeps a narrow bar at two thirds of a pixel (and the wider ones above one)
    is enough.
    """
    coarse = 0
    while gray.size / 4**coarse > _COARSE_PIXELS:
        coarse += 1
    read = [s.x_px for s in found.symbols if s.x_px > 0]
    if read:
        fine = max(0, int(np.floor(np.log2(max(min(read), 1.0) / 0.67))))
        return [min(coarse + 1, fine)]
    return [*range(coarse, -1, -1), *([coarse + 1] if coarse == 0 else [])]


def _was_tried(block: Block, tried: list[Quad]) -> bool:
    """Whether nearly the same quad was tried; a tighter or wider one is worth another try."""
    area = length_px(block.quad) * height_px(block.quad)
    return any(
        overlap_share(block.quad, quad) > 0.8
        and 0.8 < length_px(quad) * height_px(quad) / area < 1.25
        for quad in tried
    )


def _is_more_of_one(gray: Gray, quad: Quad, found: _Found) -> bool:
    read = [s for s in found.symbols if s.kind == CODE_128]
    return any(
        is_part_of(gray, quad, s.quad, encoding.shortest_modules(s.text, aim=s.aim)) for s in read
    )


def _try_place(gray: Gray, quad: Quad, engines: Engines, found: _Found) -> bool:
    """Read one place, then its parts where it turns out to be more than one."""
    votes = read_place(gray, quad, engines)
    if votes and _settle(gray, votes, found):
        return True
    is_read = False
    for part in parts_of(gray, quad):
        if not worth_reading(gray, part):
            continue
        votes = read_place(gray, part, engines)
        if votes and _settle(gray, votes, found):
            is_read = True
    return is_read


def _settle(gray: Gray, votes: tuple[Vote, ...], found: _Found) -> bool:
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


def _lonely_findings(found: _Found) -> list[Finding]:
    """What one witness alone read, once for each text and place that nothing settled."""
    said: dict[Finding, None] = {}
    for quad, votes in found.lonely:
        finding = outcome(votes).finding
        if finding is not None and not _is_known(quad, found):
            said.setdefault(finding)
    return list(said)


def _enter(gray: Gray, symbol: Symbol, found: _Found) -> None:
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


def _is_known(quad: Quad, found: _Found) -> bool:
    places = [s.quad for s in found.symbols] + found.disputed
    if all(quad is not s.quad for s in found.others):
        places += [s.quad for s in found.others]
    return any(overlap_share(quad, place) > 0.5 or contains(place, quad.centre) for place in places)


def _symbol(gray: Gray, party: tuple[Vote, ...]) -> Symbol:
    placed = best_placed(party)
    teller = next((v for v in party if v.aim), placed)
    modules = encoding.shortest_modules(teller.text, aim=teller.aim)
    quad = measured(gray, placed.quad, modules)
    is_measured = quad is not None
    quad = quad or placed.quad
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
