"""What was seen in a box, as the frozen value that travels to the judge.

Several photos of a box are weighed by the normalized geometric mean: a doubt that all share stays
a doubt.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import cast

from pairing.judge.box import Seen, Unread
from pairing.model import How, Quad
from pairing.photos.written.box import BoxReading, digit_quads
from pairing.photos.written.box_lines import BOX_ALONG, BOX_BELOW
from pairing.photos.written.plane import stretch
from pairing.photos.written.reader import WrittenLine

_CLEAR_OF_BARS = 0.02
"""In lengths of the barcode: 1 mm."""


def box_zone(card_bars: Quad) -> Quad:
    """The stretch below the card's own barcode in which the box is looked for, its bars left
    out: who is shown the box must not be shown a number that bars tell."""
    a, b, c, d = card_bars.corners
    high = math.dist(a, d) + math.dist(b, c)
    half = 0.5 * high / max(math.dist(a, b) + math.dist(d, c), 1.0)
    first = max(BOX_BELOW[0], half + _CLEAR_OF_BARS)
    return stretch(card_bars, along=BOX_ALONG, below=(first, BOX_BELOW[1]))


def seen(
    reading: BoxReading,
    *,
    source: str,
    box: Quad,
    is_by_shape: bool = False,
    has_bars: bool = False,
) -> Seen:
    """`reading` as it travels. source: the photo, as in `Reading.source`."""
    is_print = has_bars or (bool(reading.used) and all(line.is_even for line in reading.used))
    return Seen(
        source=source,
        how=How.PRINT if is_print else How.HAND,
        evidence=reading.line,
        reason=reading.reason,
        digit_probabilities=reading.line.digit_probabilities if reading.line else (),
        digit_quads=digit_quads(reading),
        box=box,
        is_by_shape=is_by_shape,
        has_bars=has_bars,
        is_over_edge=any(line.is_over_edge for line in reading.used),
        spoiled=reading.line.spoiled(is_print=is_print) if reading.line else (),
    )


def together(several: Sequence[Seen]) -> Seen | None:
    """What several photos of one card show of its box, taken together; None for no photo.

    What speaks against reading it at all (empty, two numbers, struck out) in one photo
    stands, for it may be hidden in another; a photo in which nothing can be made out does not
    count beside one in which a number can.
    """
    if not several:
        return None
    against = [one for one in several if one.reason not in (None, Unread.NO_NUMBER)]
    read = [one for one in several if one.evidence is not None]
    if against or not read:
        return (against or list(several))[0]
    if len(read) == 1:
        return read[0]
    lines = [cast(WrittenLine, one.evidence) for one in read]
    surest = max(range(len(lines)), key=lambda at: lines[at].log_likelihood(lines[at].best))
    line = WrittenLine(
        [picture for one in lines for picture in one.pictures],
        [blots for one in lines for blots in one.blots],
    )
    first = read[surest]
    is_same = line.best == lines[surest].best
    return Seen(
        source=first.source,
        how=first.how,
        evidence=line,
        reason=None,
        digit_probabilities=line.digit_probabilities,
        digit_quads=first.digit_quads if is_same else (),
        box=first.box,
        is_by_shape=all(one.is_by_shape for one in read),
        has_bars=any(one.has_bars for one in read),
        is_over_edge=any(one.is_over_edge for one in read),
        spoiled=line.spoiled(is_print=first.how is How.PRINT),
    )
