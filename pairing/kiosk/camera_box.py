"""The box in a camera's picture: read blind, compared with the label's number only afterward.

Frames of one scene are no independent witnesses: looking often would find a lucky reading. So
the first frame in which a number could be made out is the one that is weighed, once a piece.

The page tells keys apart by the events' own times, and a label's number never shows in a field,
not even for a moment.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from pairing.findings import Code, Finding, Weight
from pairing.judge.box import Seen, decide
from pairing.judge.box.weighing import weigh
from pairing.judge.fields import FieldSeen
from pairing.model import Quad, Reading, Side, TrackingNumber, Verdict
from pairing.numbers import printed
from pairing.photos.written import thresholds


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """What was read in one picture, in the worker.

    readings: () where the decoders contradicted each other. seen: the writing or print in the
    card's box. digest: the picture's SHA-256 in hexadecimal. fields: the card's other fields,
    where its form is known.
    """

    readings: tuple[Reading, ...]
    seen: Seen | None
    digest: str
    fields: tuple[FieldSeen, ...] = ()


@dataclass(slots=True)
class Writing:
    """The box of one piece as the camera saw it."""

    _first: Frame | None = None
    _is_weighed: bool = False

    def add(self, frame: Frame) -> None:
        """Keep the first frame in which something could be made out."""
        if self._first is None and frame.seen is not None and frame.seen.evidence is not None:
            self._first = frame

    def weighed(
        self, article: TrackingNumber | None, card: str | None
    ) -> tuple[tuple[Reading, ...], str]:
        """The reading that the decision allows, and its picture's digest; () where it allows
        none: then a person reads the box."""
        if self._first is None or article is None or self._is_weighed:
            return (), ""
        if card is None or not _shows_card(self._first, card):
            return (), ""  # the box of who knows which card: one put back, or lying beside
        self._is_weighed = True
        found = weigh(
            self._first.seen, (), article=article, card=card, others={}, thresholds=thresholds()
        )
        if any(one.weight is not Weight.NOTE for one in found.findings):
            return (), ""
        return found.readings, self._first.digest


def line_of(seen: Seen | None) -> Quad | None:
    """Where the line in the box stands, from its first character to its last; None where
    none was read."""
    if seen is None or seen.evidence is None or not seen.digit_quads:
        return None
    return seen.digit_quads[0].through(seen.digit_quads[-1])


def _shows_card(frame: Frame, card: str) -> bool:
    return any(one.side is Side.CARD and one.number.text == card for one in frame.readings)


def beside_print(readings: Sequence[Reading], seen: Seen | None) -> tuple[Reading, ...]:
    """The readings, a strip's bars doubted where the print under them says something else."""
    return tuple(_doubted(one, seen) if one.side is Side.BOX else one for one in readings)


def _doubted(strip: Reading, seen: Seen | None) -> Reading:
    number = strip.number
    if seen is None or seen.evidence is None or not isinstance(number, TrackingNumber):
        return strip
    decision = decide(
        seen.evidence,
        number.text,
        thresholds=thresholds(),
        group_sizes=number.family.group_sizes,
    )
    if decision.verdict is not Verdict.DIFFERS:
        return strip
    finding = Finding.of(Code.STRIP_PRINT_DIFFERS, number=printed(number))
    return replace(strip, findings=(*strip.findings, finding))
