"""The line in the card's box, and the number under the label's bars: found and read, blind."""

from __future__ import annotations

from pairing.judge.box import Unread
from pairing.photos.written.box import (
    BoxReading,
    digit_quads,
    read_box,
    read_label_print,
    read_region,
)
from pairing.photos.written.box_lines import Line, is_beside_box, lines_in_box
from pairing.photos.written.printed_line import line_under
from pairing.photos.written.reader import Reader, WrittenLine, read, shared_reader
from pairing.photos.written.reader_thresholds import thresholds
from pairing.photos.written.seen import box_zone, seen, together

__all__ = [
    "BoxReading",
    "Line",
    "Reader",
    "Unread",
    "WrittenLine",
    "box_zone",
    "digit_quads",
    "is_beside_box",
    "line_under",
    "lines_in_box",
    "read",
    "read_box",
    "read_label_print",
    "read_region",
    "seen",
    "shared_reader",
    "thresholds",
    "together",
]
"""Names that other rooms use."""
