"""The box of a card whose form was taught: found by the form's print, not by the card's bars."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.judge.box import Unread
from pairing.model import Quad, Role, Side, TrackingNumber
from pairing.numbers.recognition import family
from pairing.photos.barcodes import card as cards
from pairing.photos.files import Frame
from pairing.photos.finder.number_lines import proposals
from pairing.photos.forms import folder
from pairing.photos.forms.box_region import region_of
from pairing.photos.forms.definition import NO_BOX
from pairing.photos.forms.field_ink import seen_fields
from pairing.photos.forms.registration import Match, registered
from pairing.photos.written import read_region, seen, shared_reader
from pairing.photos.written.box import BoxReading
from pairing.photos.written.plane import mapped, quad_of, rectangle
from pairing.photos.written.proposed_line import is_line_altered
from pairing.photos.written.region import Region
from pairing.pieces.placed import Looked, Placed, read_strip_print, source_of, strip_print
from pairing.pieces.strips import refused_strip, why_not_strip

_BARS_SLACK_MM = 8.0
"""A card's own bars lie so near to where they lie on the empty card."""
_BARS_LONG_MM = 52.0
"""`photos.written.plane.PX_PER_MM`'s."""
_BOX_SLACK_MM = 1.5
_STRIP_MOST_MM = 11.5
"""A label's bars are 12.5 mm high and more (UPU S10-12 section 8; 0.5 in, BCOCA)."""
_LENGTH_SLACK = 1
"""A number with a digit too many or too few is still one, and a wrong one."""


def form_of(photo: NDArray[np.uint8], placed: Sequence[Placed]) -> Match | None:
    """The taught form that the photo shows; None for none, or where the card's own bars lie
    elsewhere than that form has them. photo: gray (h, w) uint8."""
    match = registered(photo, folder.index())
    if match is None or match.form.bars is None:
        return match
    own = [one for one in placed if _is_cards(one)]
    place = _polygon(match, match.form.bars, _BARS_SLACK_MM)
    if own and not any(_holds(place, one) or _is_in_box(match, one) for one in own):
        return None
    return match


def look_in_form(
    frame: Frame, placed: Sequence[Placed], own: cards.Standing | None, match: Match
) -> Looked:
    """Read the box that the form has; what is not accounted for in it leaves it unread."""
    fields = seen_fields(frame.gray, match)
    if match.form.kind == NO_BOX:
        readings = tuple(one.reading for one in placed)
        return Looked(readings=readings, seen=None, fields=fields)
    return replace(_box_in_form(frame, placed, own, match), fields=fields)


def _box_in_form(
    frame: Frame, placed: Sequence[Placed], own: cards.Standing | None, match: Match
) -> Looked:
    placed = [_sided(one, own, match) for one in placed]
    readings = tuple(one.reading for one in placed)
    if any(_is_label_over_box(one, match) for one in placed):
        return Looked(readings=readings, seen=None)
    region = region_of(frame.gray, match)
    box = quad_of(mapped(match.to_photo, np.array(match.form.box)))
    strips = [one for one in placed if one.reading.side is Side.BOX]
    if strips:
        return _with_strip(frame, placed, strips[0], region, box, is_by_shape=own is None)
    reading = _of_family(read_region(frame.gray, region, shared_reader(), frame.color), match)
    if reading.line is not None and _is_altered(frame.gray, reading, match):
        reading = replace(reading, line=None, reason=Unread.STRUCK, used=())
    what = seen(reading, source=source_of(frame), box=box, is_by_shape=own is None)
    return Looked(readings=readings, seen=what)


def _with_strip(  # noqa: PLR0913 - a frame, its symbols, and where they were looked for
    frame: Frame,
    placed: Sequence[Placed],
    strip: Placed,
    region: Region,
    box: Quad,
    *,
    is_by_shape: bool,
) -> Looked:
    """A strip whose bars were read, unless something was written over it or beside it."""
    read = read_strip_print(frame, strip)
    reason = why_not_strip(frame.gray, strip, read, region)
    if reason is not None:
        return refused_strip(frame, placed, box, reason, is_by_shape=is_by_shape)
    what = strip_print(read, frame, box, is_by_shape=is_by_shape)
    return Looked(readings=tuple(one.reading for one in placed), seen=what)


def _is_altered(photo: NDArray[np.uint8], reading: BoxReading, match: Match) -> bool:
    """Whether the finder, which does not know the form, sees the line altered; without the rules
    that the form is known to have there, which are no strokes."""
    photo = photo if reading.bare is None else reading.bare
    x, y = np.array(match.form.box).min(0)
    # A stretch as long as a card's bars tells it scale and direction.
    stretch = mapped(match.to_photo, rectangle(float(x), float(y), _BARS_LONG_MM, 10.0))
    proposed = proposals(photo, stretch)
    looks = [(line, shared_reader().look(line.picture)) for line in reading.used]
    return any(is_line_altered(photo, line, look, proposed) for line, look in looks)


def _of_family(reading: BoxReading, match: Match) -> BoxReading:
    """Where the form allows certain families only, a text of no such length is no number."""
    if reading.line is None or not match.form.families:
        return reading
    lengths = [n for name in match.form.families for n in family(name).lengths]
    many = len(reading.line.best)
    if any(abs(many - length) <= _LENGTH_SLACK for length in lengths):
        return reading
    return replace(reading, line=None, reason=Unread.NO_NUMBER, used=())


def _sided(one: Placed, own: cards.Standing | None, match: Match) -> Placed:
    """A symbol with the side that the form says it is on."""
    side = one.reading.side
    is_low = cards.is_low(one.standing, None) or _high_mm(match, one) < _STRIP_MOST_MM
    if one.standing is own:
        return one
    if _is_in_box(match, one) and is_low:
        side = Side.BOX
    elif side is Side.BOX or (side is Side.LABEL and _holds(_card(match), one)):
        side = Side.UNPLACED
    return (
        one if side is one.reading.side else replace(one, reading=replace(one.reading, side=side))
    )


def _high_mm(match: Match, one: Placed) -> float:
    """How high the bars are, taken to lie on the card."""
    to_card = np.asarray(np.linalg.inv(match.to_photo), np.float64)
    corners = mapped(to_card, np.array(one.standing.symbol.quad.corners))
    return float(np.linalg.norm(corners[3] - corners[0] + corners[2] - corners[1])) / 2


def _is_label_over_box(one: Placed, match: Match) -> bool:
    return one.reading.side is not Side.BOX and _is_in_box(match, one)


def _is_cards(one: Placed) -> bool:
    number = one.reading.number
    return isinstance(number, TrackingNumber) and number.role is Role.CARD


def is_in_box(match: Match, quad: Quad) -> bool:
    """Whether the middle of a place in the photo lies in the form's box."""
    return _contains(_polygon(match, match.form.box, _BOX_SLACK_MM), quad)


def _is_in_box(match: Match, one: Placed) -> bool:
    return is_in_box(match, one.standing.symbol.quad)


def _card(match: Match) -> NDArray[np.float64]:
    return mapped(match.to_photo, rectangle(0.0, 0.0, *match.form.size_mm))


def _polygon(
    match: Match, place: Sequence[tuple[float, float]], slack_mm: float
) -> NDArray[np.float64]:
    """A part of the form in the photo, a little larger, px."""
    corners = np.array(place)
    middle = corners.mean(0)
    away = corners - middle
    grown = middle + away * (1 + slack_mm / np.maximum(1.0, np.linalg.norm(away, axis=1)))[:, None]
    # Across its short side a long box grows by less than that.
    grown += np.sign(away) * 0.5 * slack_mm
    return mapped(match.to_photo, grown)


def _holds(polygon: NDArray[np.float64], one: Placed) -> bool:
    return _contains(polygon, one.standing.symbol.quad)


def _contains(polygon: NDArray[np.float64], quad: Quad) -> bool:
    corners = polygon.astype(np.float32).reshape(-1, 1, 2)
    return cv2.pointPolygonTest(corners, quad.center, False) >= 0
