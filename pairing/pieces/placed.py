"""A frame's symbols with what each of them may be, and what was seen in the card's box."""

from __future__ import annotations

import os
from dataclasses import dataclass

from pairing.findings import Finding
from pairing.judge.box import Seen, decide
from pairing.judge.fields import FieldSeen
from pairing.model import Quad, Reading, Role, TrackingNumber, Verdict
from pairing.photos.barcodes import card as cards
from pairing.photos.files import Frame
from pairing.photos.written import read_label_print, seen, shared_reader, thresholds
from pairing.photos.written.box import BoxReading


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A symbol of the frame and the reading made of it."""

    standing: cards.Standing
    reading: Reading

    @property
    def is_article(self) -> bool:
        """Whether it bears an article's number."""
        number = self.reading.number
        return isinstance(number, TrackingNumber) and number.role is Role.ARTICLE

    @property
    def is_strip(self) -> bool:
        """Whether it may be an article number's strip: its bars are low."""
        return self.is_article and cards.is_low(self.standing, None)


@dataclass(frozen=True, slots=True, kw_only=True)
class Looked:
    """The frame's readings, a strip found by the card's shape among them put in the box, and
    what was seen there; `seen` is None where no box was found. found: what was found out about
    the box otherwise. fields: the form's other fields."""

    readings: tuple[Reading, ...]
    seen: Seen | None
    found: tuple[Finding, ...] = ()
    fields: tuple[FieldSeen, ...] = ()


def source_of(frame: Frame) -> str:
    """The photo, as a reading names it."""
    path = os.fspath(frame.photo)
    return path if frame.page == 1 else f"{path} page {frame.page}"


def print_differs(read: BoxReading, bars: TrackingNumber) -> bool:
    """Whether what is printed under bars surely says another number than they do."""
    if read.line is None:
        return False
    groups = bars.family.group_sizes
    decision = decide(read.line, bars.text, thresholds=thresholds(), group_sizes=groups)
    return decision.verdict is Verdict.DIFFERS


def read_strip_print(frame: Frame, strip: Placed) -> BoxReading:
    """What is printed under a strip's bars, read blind."""
    return read_label_print(frame.gray, strip.standing.symbol.quad, shared_reader())


def strip_print(read: BoxReading, frame: Frame, zone: Quad, *, is_by_shape: bool) -> Seen | None:
    """A strip's print as what is seen in the box; None where nothing is to be seen there."""
    if read.line is None and not is_by_shape:
        return None
    return seen(read, source=source_of(frame), box=zone, is_by_shape=is_by_shape, has_bars=True)
