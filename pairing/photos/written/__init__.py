"""The line in the card's box, and the number under the label's bars: found and read, blind."""

from __future__ import annotations

from pairing.photos.written.lines import Line, line_under, lines_in_box
from pairing.photos.written.reader import Reader, WrittenLine, read

__all__ = ["Line", "Reader", "WrittenLine", "line_under", "lines_in_box", "read"]
"""Names that other rooms use."""
