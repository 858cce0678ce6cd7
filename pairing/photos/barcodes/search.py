"""Where a photo may hold bars that no engine saw in the whole frame: found, and tried in turn.

Where nothing is read yet, bars of every size are looked for. Where something is, others are
looked for until half to twice of its X is covered.
"""

from __future__ import annotations

import numpy as np

from pairing.model import Quad
from pairing.photos.barcodes.barlike import X_RANGE, known_of, worth_reading, worth_reading_beside
from pairing.photos.barcodes.decoding import (
    QuickRead,
    is_settled,
    parts_of,
    read_place,
    read_quickly,
    read_slowly,
)
from pairing.photos.barcodes.engines import CODE_128, Engines, Gray
from pairing.photos.barcodes.locate import locate_blocks, locate_rows
from pairing.photos.barcodes.quads import (
    height_px,
    length_px,
    overlap_share,
)
from pairing.photos.barcodes.settling import Found, is_known, settle
from pairing.photos.barcodes.stacks import is_part_of
from pairing.photos.code128 import encoding

_COARSE_PIXELS = 1_000_000
_MOST_PLACES = 6  # at each level; the strongest edges come first
_MOST_BESIDE = 8  # where the photo has a symbol already
_FEWEST_EDGES = 50
"""20 digits have 80 (ISO/IEC 15417: six to a character). Measured on `decode_scenes`, three levels:
of 19 places beside a symbol that our own reader was asked about, words and 2-D codes, it read none;
all symbols there were read by the engines."""
_LEAST_X_PX = 0.67  # at which bars still show as bars in a reduced picture


def read_blocks(gray: Gray, engines: Engines, found: Found) -> None:
    """Try the places that look like bars and are not read yet."""
    if not found.symbols:
        _search(gray, engines, found)
    if found.symbols:
        _search_beside(gray, engines, found)


def _search(gray: Gray, engines: Engines, found: Found) -> None:
    """Look for bars of any size, coarse first, until something is read."""
    coarse = _coarse(gray)
    levels = [*range(coarse, -1, -1), *([coarse + 1] if coarse == 0 else [])]
    tried: list[Quad] = []
    for halvings in levels:
        _search_level(gray, engines, found, halvings, tried)
        if found.symbols:
            return
    for halvings in levels[:2]:
        for block in locate_rows(gray, halvings=halvings):
            if not is_known(block.quad, found) and worth_reading(gray, block.quad)[:1]:
                _try_place(gray, read_quickly(gray, block.quad, engines), engines, found)
        if found.symbols:
            return


def _search_level(
    gray: Gray, engines: Engines, found: Found, halvings: int, tried: list[Quad]
) -> None:
    """Read the places of one level: what the engines read first; only where that is nothing our
    own reader, which costs ten times as much, likelier places first."""
    left: list[QuickRead] = []
    places = 0
    for block in locate_blocks(gray, halvings=halvings, known=found.disputed):
        if places == _MOST_PLACES:
            break
        if is_known(block.quad, found) or _was_tried(block.quad, tried):
            continue
        directions = worth_reading(gray, block.quad)
        if not directions:
            continue
        places += 1
        tried.append(block.quad)
        for quad in directions:
            quick = read_quickly(gray, quad, engines)
            if is_settled(quick.votes) and settle(gray, quick.votes, found):
                break
            left.append(quick)
    for quick in sorted(left, key=lambda one: -one.agreement):
        if found.symbols and not quick.votes:
            continue
        if not is_known(quick.quad, found):
            _try_place(gray, quick, engines, found)


def _search_beside(gray: Gray, engines: Engines, found: Found) -> None:
    """Look for bars whose X is half to twice of what was read, until nothing new is found."""
    tried: list[Quad] = []
    done: set[int] = set()
    while todo := [halvings for halvings in _levels_beside(found) if halvings not in done]:
        halvings = todo[0]
        done.add(halvings)
        taken = [s.quad for s in found.symbols] + found.disputed
        known = known_of(gray, [(s.quad, s.x_px) for s in found.symbols if s.x_px > 0])
        for block in locate_blocks(gray, halvings=halvings, known=taken):
            if len(tried) >= _MOST_BESIDE:
                return
            if is_known(block.quad, found):
                continue
            bars = worth_reading_beside(gray, block.quad, known)
            if bars is None or is_known(bars, found) or _was_tried(bars, tried):
                continue
            if _is_more_of_one(gray, bars, found):
                continue
            tried.append(bars)
            quick = read_quickly(gray, bars, engines)
            # Print of a few words shows as parallel edges too, but fewer than a number's bars.
            is_number = is_settled(quick.votes) or quick.edges >= _FEWEST_EDGES
            votes = read_slowly(gray, quick) if is_number else quick.votes
            if not votes or not settle(gray, votes, found):
                found.unread.append(bars)


def _coarse(gray: Gray) -> int:
    coarse = 0
    while gray.size / 4**coarse > _COARSE_PIXELS:
        coarse += 1
    return coarse


def _levels_beside(found: Found) -> list[int]:
    """How often to halve a photo in which something was read, coarse first: the finest level
    keeps the least X looked for at two thirds of a pixel, the coarsest the greatest X read."""
    read = [s.x_px for s in found.symbols if s.x_px > 0]
    if not read:
        return []
    fine, coarse = (
        max(0, int(np.floor(np.log2(max(x_px, 1.0) / _LEAST_X_PX))))
        for x_px in (min(read) / X_RANGE, max(read))
    )
    return list(range(coarse, fine - 1, -1))


def _was_tried(quad: Quad, tried: list[Quad]) -> bool:
    """Whether nearly the same quad was tried; a tighter or wider one is worth another try."""
    area = length_px(quad) * height_px(quad)
    return any(
        overlap_share(quad, other) > 0.8 and 0.8 < length_px(other) * height_px(other) / area < 1.25
        for other in tried
    )


def _is_more_of_one(gray: Gray, quad: Quad, found: Found) -> bool:
    read = [s for s in found.symbols if s.kind == CODE_128]
    return any(
        is_part_of(gray, quad, s.quad, encoding.shortest_modules(s.text, aim=s.aim)) for s in read
    )


def _try_place(gray: Gray, quick: QuickRead, engines: Engines, found: Found) -> bool:
    """Read one place, then its parts where it turns out to be more than one."""
    votes = read_slowly(gray, quick)
    texts = {vote.text for vote in votes}
    if len(texts) == 1 and settle(gray, votes, found):
        return True
    is_read = False
    for part in parts_of(gray, quick.quad):
        if not worth_reading(gray, part):
            continue
        part_votes = read_place(gray, part, engines)
        if part_votes and settle(gray, part_votes, found):
            is_read = True
    if len(texts) > 1 and not texts <= {symbol.text for symbol in found.symbols}:
        return settle(gray, votes, found) or is_read
    return is_read
