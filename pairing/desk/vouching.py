"""What an operator may say of a piece that nothing on it shows: that it belongs on no list, or that
its card has no number. Each is recorded with who said it."""

from __future__ import annotations

from pairing.desk.in_hand import InHand
from pairing.desk.lookup import Lookup
from pairing.desk.remarks import Remark, Say
from pairing.desk.words import Word
from pairing.errors import LedgerUnusable
from pairing.findings import Code
from pairing.model import Side

CODES = {Word.UNLISTED: Code.UNLISTED_CONFIRMED, Word.NONUMBER: Code.NUMBERLESS_CONFIRMED}
"""What is recorded for each of these words."""

SAID = {Word.UNLISTED: Say.UNLISTED_SAID, Word.NONUMBER: Say.NUMBERLESS_SAID}
"""What the clerk is told of each."""


def objection(word: Word, hand: InHand, lookup: Lookup) -> Remark | None:
    """Why the word does nothing on the piece in hand, None where it does. Never raises."""
    label = hand.label
    if label is None:
        return Remark(code=Say.LABEL_FIRST, text=word.value)
    if word is Word.NONUMBER:
        return Remark(code=Say.CARD_HAS_NUMBER) if hand.has(Side.CARD) else None
    try:
        return None if lookup.is_unlisted(label.text) else Remark(code=Say.IS_LISTED)
    except LedgerUnusable:
        return None  # said when the piece is to be recorded
