"""What is in the card's box in one frame, and what is printed under the label's bars.

Both are read blind: nothing that bars say is given to the reader. Only when a line has been
read is a label's print held against the bars of the same label.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from pairing.findings import Code, Finding
from pairing.judge.box import Seen, Unread
from pairing.model import How, Quad, Reading, Role, Side, TrackingNumber
from pairing.numbers import identify, printed
from pairing.photos.barcodes import card as cards
from pairing.photos.files import Frame
from pairing.photos.written import (
    BoxReading,
    box_zone,
    is_beside_box,
    read_box,
    read_label_print,
    seen,
    shared_reader,
)
from pairing.photos.written.card_without_bars import Field, fields, is_within, turned
from pairing.photos.written.plane import stretch
from pairing.photos.written.unknown_card import read_unknown
from pairing.pieces.known_form import form_of, is_in_box, look_in_form
from pairing.pieces.placed import (
    Looked,
    Placed,
    print_differs,
    read_strip_print,
    source_of,
    strip_print,
)
from pairing.pieces.strips import refused_strip, strip_in_place, why_not_strip
from pairing.pieces.unread_bars import is_beside_line, unread_bars

_FEWEST_BY_SHAPE = 10
"""Of several ruled fields the one with so many characters holds the number: a date has 8, the
shortest number 13."""


_FEWEST_FIELDS = 2
"""A card has several ruled fields beside the box: signature, name, date. A label has not."""
_FAR_SURER = 2.3
"""Ten times as likely: writing seen upside down is read too, but never surely."""

_SURELY_UPRIGHT = -0.11
"""log 0.9: what is read so surely is not upside down, and need not be tried that way."""


def look_in_box(
    frame: Frame,
    placed: Sequence[Placed],
    own: cards.Standing | None,
    *,
    shows: Side | None,
    unread: Sequence[Quad] = (),
) -> Looked:
    """Read the box of the card in this frame.

    own: the card's own barcode; without it the card is looked for by its shape, unless the
    photo is said to show the label alone. shows: what the photo is said to show. unread: places
    that may hold bars which nobody read.
    """
    if shows is not Side.LABEL and (match := form_of(frame.gray, placed)) is not None:
        looked = look_in_form(frame, placed, own, match)
        inside = [quad for quad in unread if is_in_box(match, quad)]
    else:
        looked = _of_no_form(frame, placed, own, shows)
        line = looked.seen.box if looked.seen and looked.seen.evidence else None
        inside = [
            quad for quad in unread
            if (own and cards.is_in_box(own.symbol, quad)) or (line and is_beside_line(line, quad))
        ]  # fmt: skip
    return replace(looked, found=unread_bars(frame.gray, inside))


def _of_no_form(
    frame: Frame, placed: Sequence[Placed], own: cards.Standing | None, shows: Side | None
) -> Looked:
    """The box of a card whose form is not known."""
    if own is not None:
        placed = [_off_box(frame, one, own) for one in placed]
    strip = None
    if own is not None or shows is Side.CARD:
        strip = strip_in_place(frame, placed, own)
    readings = tuple(one.reading for one in placed)
    if strip is not None:
        return _with_strip(frame, placed, strip, own)
    if own is None:
        if shows is Side.LABEL:
            return Looked(readings=readings, seen=None)
        return _by_shape(frame, placed, shows)
    if any(_is_unplaced_beside(one, own) for one in placed):
        # Print that belongs to those bars must not be taken for what is written in the box.
        return Looked(readings=readings, seen=None)
    zone = box_zone(own.symbol.quad)
    if any(one.reading.side is Side.BOX for one in placed):
        return refused_strip(frame, placed, zone, Unread.FORM_UNKNOWN, is_by_shape=False)
    number = next(one.reading.number.text for one in placed if one.standing is own)
    reading = read_unknown(frame.gray, own.symbol.quad, number, shared_reader(), frame.color)
    box = reading.used[0].quad() if reading.used else zone
    return Looked(readings=readings, seen=seen(reading, source=source_of(frame), box=box))


def _with_strip(
    frame: Frame, placed: Sequence[Placed], strip: Placed, own: cards.Standing | None
) -> Looked:
    """A strip in the box of a card of no known form, unless something was written over it or
    beside it."""
    placed = [strip if one.standing is strip.standing else one for one in placed]
    is_by_shape = own is None
    zone = box_zone(own.symbol.quad) if own is not None else _around(strip)
    card = None if own is None else own.symbol.quad
    read = read_strip_print(frame, strip)
    if (reason := why_not_strip(frame.gray, strip, read, card=card)) is not None:
        return refused_strip(frame, placed, zone, reason, is_by_shape=is_by_shape)
    readings = tuple(one.reading for one in placed)
    return Looked(readings=readings, seen=strip_print(read, frame, zone, is_by_shape=is_by_shape))


def _off_box(frame: Frame, one: Placed, own: cards.Standing) -> Placed:
    """A strip that lies beside the box's own rules stands nowhere known: it may be what is to
    be seen of a label under the card."""
    is_strip = one.reading.side is Side.BOX and one.reading.quad is not None
    if not is_strip or not is_beside_box(frame.gray, own.symbol.quad, one.standing.symbol.quad):
        return one
    return replace(one, reading=replace(one.reading, side=Side.UNPLACED))


def _is_unplaced_beside(one: Placed, own: cards.Standing) -> bool:
    """Whether bars that stand neither on the label nor in the box for certain lie near it."""
    if one.standing is own or one.reading.side is not Side.UNPLACED:
        return False
    at = cards.offset(own.symbol.quad, one.standing.symbol.quad)
    return abs(at.along) <= cards.DOUBT_ALONG and abs(at.below) <= cards.DOUBT_BELOW


def label_print(frame: Frame, reading: Reading) -> tuple[Finding, ...]:
    """A finding where a label's print surely says another number than its bars."""
    number = reading.number
    if reading.quad is None or not isinstance(number, TrackingNumber):
        return ()
    read = read_label_print(frame.gray, reading.quad, shared_reader())
    if read.line is None or not print_differs(read, number):
        return ()
    return (
        Finding.of(
            Code.LABEL_PRINT_DIFFERS,
            bars=printed(number),
            printed=printed(read.line.best),
        ),
    )


def _by_shape(frame: Frame, placed: Sequence[Placed], shows: Side | None) -> Looked:
    """The box of a card whose own barcode was not read, or that has none."""
    readings = tuple(one.reading for one in placed)
    if shows is None and not any(one.reading.side is Side.LABEL for one in placed):
        # An envelope has ruled fields too. Where nobody says that this is the card, the label
        # must be seen to lie on another sheet.
        return Looked(readings=readings, seen=None)
    ruled = [one for one in fields(frame.gray) if _is_on_card(one, placed, shows)]
    strips = [one for one in placed if one.is_strip and _is_beside(one, ruled)]
    if len(strips) == 1:
        (strip,) = strips
        read = read_strip_print(frame, strip)
        if (reason := why_not_strip(frame.gray, strip, read)) is not None:
            return refused_strip(frame, placed, _around(strip), reason, is_by_shape=True)
        moved = replace(strip.reading, side=Side.BOX)
        return Looked(
            readings=tuple(moved if one is strip.reading else one for one in readings),
            seen=strip_print(read, frame, _around(strip), is_by_shape=True),
        )
    if strips or any(one.is_strip for one in placed):
        return Looked(readings=readings, seen=None)
    if shows is Side.CARD and not placed:
        reading = read_unknown(frame.gray, None, "", shared_reader(), frame.color)
        if reading.lines:
            return Looked(readings=readings, seen=_without_bars(frame, reading))
    # Bars that were not read: a strip, or a label that must not be its own box.
    ruled = [one for one in ruled if not one.holds_bars]
    upright = _numbers_in(frame, ruled)
    chosen = _surest(upright)
    if chosen is None or _log_sure(chosen[1]) < _SURELY_UPRIGHT:
        upside_down = [turned(one) for one in ruled]
        chosen = _surest([*upright, *_numbers_in(frame, upside_down)])
    if chosen is None:
        return Looked(readings=readings, seen=None)
    field, reading = chosen
    what = seen(reading, source=source_of(frame), box=box_zone(field.bars), is_by_shape=True)
    # Print in a field could be part of a label whose own bars were not read.
    return Looked(readings=readings, seen=what if what.how is How.HAND else None)


def _without_bars(frame: Frame, reading: BoxReading) -> Seen | None:
    """What is written on a card of no known form on which no bars were read at all; None for
    print, which could be part of a label whose own bars were not read, and for a card's number."""
    box = (reading.used or reading.lines)[0].quad()
    what = seen(reading, source=source_of(frame), box=box, is_by_shape=True)
    if reading.line is None:
        return what
    number = identify(reading.line.best)
    is_cards = isinstance(number, TrackingNumber) and number.role is Role.CARD
    return None if is_cards or what.how is not How.HAND else what


def _numbers_in(frame: Frame, ruled: Sequence[Field]) -> list[tuple[Field, BoxReading]]:
    read = [(field, read_box(frame.gray, field.bars, shared_reader())) for field in ruled]
    return [(field, one) for field, one in read if _is_number(one)]


def _surest(found: Sequence[tuple[Field, BoxReading]]) -> tuple[Field, BoxReading] | None:
    """The one field, and way up, whose reading is far surer than all others; None for none."""
    ranked = sorted(((_log_sure(one[1]), one) for one in found), key=lambda row: -row[0])
    if len(ranked) > 1 and ranked[0][0] - ranked[1][0] < _FAR_SURER:
        return None
    return ranked[0][1] if ranked else None


def _log_sure(reading: BoxReading) -> float:
    line = reading.line
    return -math.inf if line is None else line.log_likelihood(line.best)


def _is_on_card(field: Field, placed: Sequence[Placed], shows: Side | None) -> bool:
    """Whether a ruled field is on a sheet that can be nothing but the card: one that bears no
    tall bars."""
    tall = [one for one in placed if one.standing.height_x > cards.STRIP_MOST_X]
    if field.paper is None:
        return shows is Side.CARD and not tall
    return not any(is_within(one.standing.symbol.quad.center, field.paper) for one in tall)


def _is_beside(strip: Placed, ruled: Sequence[Field]) -> bool:
    """Whether a strip is on the card: on one sheet with its ruled fields."""
    at = strip.standing.symbol.quad.center
    if len(ruled) < _FEWEST_FIELDS:
        return False
    return any(field.paper is None or is_within(at, field.paper) for field in ruled)


def _is_number(reading: BoxReading) -> bool:
    return reading.line is not None and len(reading.line.best) >= _FEWEST_BY_SHAPE


def _around(strip: Placed) -> Quad:
    """A strip's bars and what is printed under them."""
    return stretch(strip.standing.symbol.quad, along=(-0.65, 0.65), below=(-0.2, 0.3))
