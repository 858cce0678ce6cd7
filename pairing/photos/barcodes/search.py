"""Where a photo may hold bars that no engine saw in the whole frame: found, and tried in turn.

Where nothing is read yet, bars of every size are looked for. Where something is, others are
looked for until half to twice of its X is covered.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from pairing.model import Quad
from pairing.photos.barcodes.barlike import (
    X_RANGE,
    Likely,
    known_of,
    worth_reading,
    worth_reading_beside,
)
from pairing.photos.barcodes.decoding import (
    QuickRead,
    is_settled,
    parts_of,
    read_place,
    read_quickly,
    read_slowly,
)
from pairing.photos.barcodes.engines import CODE_128, Engines, Gray
from pairing.photos.barcodes.halved import Halved
from pairing.photos.barcodes.locate import locate_blocks, locate_rows
from pairing.photos.barcodes.quads import (
    height_px,
    length_px,
    overlap_share,
    reading_angle_deg,
)
from pairing.photos.barcodes.settling import Found, is_known, settle
from pairing.photos.barcodes.stacks import is_part_of
from pairing.photos.code128 import encoding

_COARSE_PIXELS = 1_000_000
_MOST_PLACES = 6  # at each level; the strongest edges come first
_LEAST_SHARE, _LEAST_DEPTH_SHARE = 0.42, 0.05
"""Below these a place is read only if no other is: of the most that a place can show of bars, and
of the photo's contrast. Measured on `decode_scenes`, looked at: bars have 0.45 and more of the one
and 0.1 and more of the other, table grain and lines of print mostly less."""

_SURE_SHARE = 0.8
_LEAST_AGREEMENT = 0.95  # of a place for which our own reader does not wait
_MOST_BESIDE = 8  # where the photo has a symbol already
_FEWEST_EDGES = 50
"""20 digits have 80 (ISO/IEC 15417: six to a character). Measured on `decode_scenes`, three levels:
of 19 places beside a symbol that our own reader was asked about, words and 2-D codes, it read none;
all symbols there were read by the engines."""
_FEWEST_SWINGS = 60
"""The same in a quick look, below which a place beside a symbol is told as unread without being
tried. Measured on drawn scenes, cards and sample_scans: of 42 symbols read there the fewest show
77; of 183 places that nobody read 97 show fewer than 60."""

_SAME_TURN_DEG, _SAME_AREA, _SAME_PLACE = 2.5, 0.72, 0.9  # see `_is_nearly`
_LEAST_X_PX = 0.67  # at which bars still show as bars in a reduced picture


def read_blocks(photo: Halved, engines: Engines, found: Found) -> None:
    """Try the places that look like bars and are not read yet."""
    if not found.symbols:
        _search(photo, engines, found)
    if found.symbols:
        _search_beside(photo, engines, found)


@dataclass(slots=True)
class _Queue:
    """What a search has not read yet. left: places that the engines did not settle, for our own
    reader. unlikely: places that wait until all likely ones were looked at. tried: all of them.
    asked: those that our own reader has looked at. bars: places that show bars enough for a
    number, which nobody read."""

    left: list[QuickRead] = field(default_factory=list)
    unlikely: list[list[Likely]] = field(default_factory=list)
    tried: list[Quad] = field(default_factory=list)
    asked: list[Quad] = field(default_factory=list)
    bars: list[Quad] = field(default_factory=list)


def _search(photo: Halved, engines: Engines, found: Found) -> None:
    """Look for bars of any size, coarse first, until something is read: likely places first, and
    in each the engines before our own reader, which costs ten times as much."""
    coarse = _coarse(photo.gray)
    levels = [*range(coarse, -1, -1), *([coarse + 1] if coarse == 0 else [])]
    queue = _Queue()
    for halvings in levels:
        _read_level(photo, engines, found, queue, halvings)
        # Bars that are only just seen at one size are read at once at the next.
        if not found.symbols and halvings != levels[0]:
            _read_waiting(photo, engines, found, queue, is_last=False)
        if found.symbols:
            break
    if not found.symbols:
        for directions in queue.unlikely:
            _read_directions(photo.gray, directions, engines, found, queue)
    _read_waiting(photo, engines, found, queue, is_last=True)
    if not found.symbols:  # beside one, bars are looked for again
        found.unread += queue.bars
        _search_rows(photo, engines, found, queue, levels[:2])


def _shows_bars(quick: QuickRead) -> bool:
    """Whether a place that the engines did not settle shows bars enough for a number."""
    return quick.agreement >= _LEAST_AGREEMENT and quick.edges >= _FEWEST_EDGES


def _search_rows(
    photo: Halved, engines: Engines, found: Found, queue: _Queue, levels: list[int]
) -> None:
    """Look for very low bars and bars under streaks, which show no one direction."""
    for halvings in levels:
        for block in locate_rows(photo, halvings=halvings):
            if is_known(block.quad, found):
                continue
            for likely in worth_reading(photo, block.quad)[:1]:
                quick = read_quickly(photo.gray, likely.quad, engines)
                if not _is_asked(likely.quad, queue):
                    queue.asked.append(likely.quad)
                    _try_place(photo, quick, engines, found)
                elif is_settled(quick.votes):
                    settle(photo.gray, quick.votes, found)
        if found.symbols:
            return


def _read_level(
    photo: Halved, engines: Engines, found: Found, queue: _Queue, halvings: int
) -> None:
    """What the engines read of the likely places of one level, likeliest first; once something is
    read, of those alone that can be nothing but bars: others are looked for beside it."""
    places: list[list[Likely]] = []
    for block in locate_blocks(photo, halvings=halvings, known=found.disputed):
        if len(places) == _MOST_PLACES:
            break
        if is_known(block.quad, found) or _was_tried(block.quad, queue.tried):
            continue
        if directions := worth_reading(photo, block.quad):
            places.append(directions)
            queue.tried.append(block.quad)
    places.sort(key=lambda directions: -directions[0].promise)
    least_depth = _LEAST_DEPTH_SHARE * _contrast(photo)
    for directions in places:
        likely = directions[0]
        if likely.share < _LEAST_SHARE or likely.depth < least_depth:
            queue.unlikely.append(directions)
        elif not found.symbols or likely.share > _SURE_SHARE:
            _read_directions(photo.gray, directions, engines, found, queue)


def _contrast(photo: Halved) -> float:
    """Between the dark and the light of a photo, in gray levels."""
    dark, light = np.percentile(photo.at(_coarse(photo.gray))[::4, ::4], (5, 95))
    return float(light - dark)


def _read_directions(
    gray: Gray, directions: list[Likely], engines: Engines, found: Found, queue: _Queue
) -> None:
    """What the engines read of one place, in the directions in which it may be read."""
    for likely in directions:
        if is_known(likely.quad, found):
            continue
        quick = read_quickly(gray, likely.quad, engines)
        if is_settled(quick.votes) and settle(gray, quick.votes, found):
            break
        queue.left.append(quick)


def _read_waiting(
    photo: Halved, engines: Engines, found: Found, queue: _Queue, *, is_last: bool
) -> None:
    """Our own reader on what the engines left: all of it if `is_last`, else the best of it; once
    something is read, only where an engine saw a text."""
    waiting: list[QuickRead] = []
    for quick in sorted(queue.left, key=lambda one: -one.agreement):
        if not is_last and not _shows_bars(quick):
            waiting.append(quick)
            continue
        if is_known(quick.quad, found) or (found.symbols and not quick.votes):
            continue
        if quick.profiles is not None:
            if _is_asked(quick.quad, queue):
                continue
            queue.asked.append(quick.quad)
        if not _try_place(photo, quick, engines, found) and _shows_bars(quick):
            queue.bars.append(quick.quad)
    queue.left = waiting


def _search_beside(photo: Halved, engines: Engines, found: Found) -> None:
    """Look for bars whose X is half to twice of what was read, until nothing new is found."""
    tried: list[Quad] = []
    done: set[int] = set()
    depths: dict[Quad, float] = {}
    while todo := [halvings for halvings in _levels_beside(found) if halvings not in done]:
        halvings = todo[0]
        done.add(halvings)
        taken = [s.quad for s in found.symbols] + found.disputed
        known = known_of(photo, [(s.quad, s.x_px) for s in found.symbols if s.x_px > 0], depths)
        blocks = locate_blocks(photo, halvings=halvings, known=taken)
        seen = [worth_reading_beside(photo, block.quad, known) for block in blocks]
        for likely in sorted((one for one in seen if one), key=lambda one: -one.promise):
            if len(tried) >= _MOST_BESIDE:
                return
            bars = likely.quad
            if is_known(bars, found) or _was_tried(bars, tried):
                continue
            if _is_more_of_one(photo.gray, bars, found):
                continue
            tried.append(bars)
            if likely.swings < _FEWEST_SWINGS or not _is_read_beside(photo, bars, engines, found):
                found.unread.append(bars)


def _is_read_beside(photo: Halved, bars: Quad, engines: Engines, found: Found) -> bool:
    quick = read_quickly(photo.gray, bars, engines)
    # Print of a few words shows as parallel edges too, but fewer than a number's bars.
    votes = read_slowly(photo.gray, quick) if _shows_bars(quick) else quick.votes
    return bool(votes) and settle(photo.gray, votes, found)


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


def _is_asked(quad: Quad, queue: _Queue) -> bool:
    """Whether our own reader has looked at nearly the same place."""
    return any(_is_nearly(quad, other) for other in queue.asked)


def _is_nearly(first: Quad, second: Quad) -> bool:
    """Whether our own reader would read one as the other. Measured on 400 damaged crops: what it
    is not asked again by this rule took a quarter of all CPU, and was 3 numbers of 330."""
    area = length_px(first) * height_px(first) / (length_px(second) * height_px(second))
    turn = (reading_angle_deg(first) - reading_angle_deg(second) + 90) % 180 - 90
    return (
        abs(turn) < _SAME_TURN_DEG
        and _SAME_AREA < area < 1 / _SAME_AREA
        and overlap_share(first, second) > _SAME_PLACE
    )


def _is_more_of_one(gray: Gray, quad: Quad, found: Found) -> bool:
    read = [s for s in found.symbols if s.kind == CODE_128]
    return any(
        is_part_of(gray, quad, s.quad, encoding.shortest_modules(s.text, aim=s.aim)) for s in read
    )


def _try_place(photo: Halved, quick: QuickRead, engines: Engines, found: Found) -> bool:
    """Read one place, then its parts where it turns out to be more than one."""
    gray = photo.gray
    votes = read_slowly(gray, quick)
    texts = {vote.text for vote in votes}
    if len(texts) == 1 and settle(gray, votes, found):
        return True
    is_read = False
    for part in parts_of(gray, quick.quad):
        if not worth_reading(photo, part):
            continue
        part_votes = read_place(gray, part, engines)
        if part_votes and settle(gray, part_votes, found):
            is_read = True
    if len(texts) > 1 and not texts <= {symbol.text for symbol in found.symbols}:
        return settle(gray, votes, found) or is_read
    return is_read
