"""Lines that count for nothing because of how they came: who typed them is not who they seem."""

from __future__ import annotations

from pairing.desk.remarks import Remark, Say
from pairing.desk.words import Arrived, Line, Word, nearest_word, parse_line
from pairing.numbers.text import count_digits


def refusal(line: str, said: Line, arrived: Arrived) -> Remark | None:
    """Why a line is not taken, None where it is. said: what it is (`words.parse_line`)."""
    if arrived is Arrived.EVEN:
        return Remark(code=Say.TOO_EVEN)
    if arrived is Arrived.SCANNED and line.strip() and (meant := parse_line(line).word):
        # Sent by a scanner (a barcode with a word in it), or pasted: the label's number
        # could be put in the box that way, so it is no word.
        return Remark(code=Say.TOO_FAST, text=meant.value)
    if arrived is Arrived.MIXED and said.text.strip():
        return Remark(code=Say.NOT_TYPED)
    if arrived is Arrived.PIPED and said.word is None and nearest_word(said.text):
        # No scanner sends it: taken for a scan, it would count as a label that was not read.
        return Remark(code=Say.NO_WORD, text=said.text.strip())
    if arrived is not Arrived.TYPED or not said.text.strip():
        return None
    if said.word is Word.STRIP:
        return Remark(code=Say.STRIP_TYPED)
    return _unnamed(said.text) if said.word is None else None


def _unnamed(text: str) -> Remark:
    """A line that a person typed without a word. Which number it is, is not guessed at; a
    scanner that is set too slow must not key the box."""
    first = text.split(maxsplit=1)[0]
    if first.isalpha() or not count_digits(text):
        return Remark(code=Say.NO_WORD, text=text.strip())
    return Remark(code=Say.UNNAMED)
