"""Scans that come while nothing but the box is missing, and that nobody announced.

A strip bears the label's number. Scanned without its word it looks like the label once more; a
strip with another number looks like the next piece's label. Neither is guessed at.
"""

from __future__ import annotations

from pairing.desk.gathered import Gathered, is_beyond_doubt
from pairing.desk.remarks import Remark, Say
from pairing.model import How, Reading, Side


def question(reading: Reading, read: Gathered) -> Remark | None:
    """What to ask of this scan, None where nothing is to be asked. read: the piece in hand, of
    which only the box is missing."""
    is_scan = reading.how is not How.KEYED
    if not is_scan or reading.side is not Side.LABEL or not is_beyond_doubt(reading):
        return None
    return Remark(code=Say.DOUBLE_READ_OR_STRIP if read.has(reading) else Say.STRIP_OR_NEXT)
