"""The acceptance list as PDF: one table, a place for initials on every page, the acceptance
mark on the last.

Lengths here are in points (1/72 in), the unit of PDF; y grows upward. Numbers are set in Courier,
in which 0 and O look different; names in an embedded font, so that every printer has it.
"""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.utils import simpleSplit
from reportlab.pdfgen.canvas import Canvas

from pairing import column_heads
from pairing.desk.daylist import DayList
from pairing.desk.daylist_face import embedded, unusable
from pairing.desk.daylist_rows import Block, Heading, Line, blocks
from pairing.desk.for_whom import Field, described
from pairing.desk.for_whom import total as total_of

PAPERS = {"letter": LETTER, "a4": A4}
"""Names of papers to (width, height)."""

_MM = 72 / 25.4
_MARGIN = 15 * _MM
_ROW = 6.6 * _MM
_LEADING = 11.0
_HEADING = 11 * _MM
_TOP = 25 * _MM  # what the head of a page takes
_BOTTOM = 18 * _MM  # what its foot takes
_ACCEPTANCE = 60 * _MM
_NO, _ARTICLE, _CARD = 0.0, 12 * _MM, 67 * _MM
_NAMES = 122 * _MM
_NUMBER_WIDE = 51 * _MM
_NUMBER_SIZE = 8.8
_COURIER = 0.6  # the width of a character in ems (Adobe's metrics of Courier, 600 of 1000)
_MOST_LINES = 4
_FEE = 20 * _MM
_LONGEST_FEE = 14
_LONGEST_DESK = 40

_PLAIN, _BOLD, _MONO = "Helvetica", "Helvetica-Bold", "Courier"


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """What is on the paper in addition to the rows.

    sender: lines of the sender's name and address; without any there is room to write them.
    paper: a name of `PAPERS`. about: a piece's sequence to whom it is for and why it is sent
    (`for_whom`); it fills a column of its own, and fees a second one with their total. font: a
    TrueType file for sender and names; by default one of the PDF library's, which has the
    letters of western Europe and few others. seal: lines that tie the list to the ledger.
    notice: a sentence at the head that says "draft" or "copy", else "".
    """

    sender: tuple[str, ...] = ()
    paper: str = "letter"
    about: Mapping[int, Mapping[str, str]] = field(default_factory=dict)
    font: Path | None = None
    seal: tuple[str, ...] = ()
    notice: str = ""

    @property
    def names(self) -> dict[int, str]:
        """A piece's sequence to what is printed beside it."""
        return {one: text for one, about in self.about.items() if (text := described(about))}

    @property
    def fees(self) -> dict[int, str]:
        """A piece's sequence to its fee as it was declared."""
        return {one: about[Field.FEE] for one, about in self.about.items() if about.get(Field.FEE)}


def pdf(daylist: DayList, sheet: Sheet) -> bytes:
    """The file's bytes; the same for the same input. Raises OutputRefused for a font file
    that cannot be used, or that lacks letters of a name."""
    texts = (daylist.desk, *sheet.sender, *sheet.names.values(), *sheet.fees.values())
    face = embedded(sheet.font, texts)
    try:
        return _Printer(daylist, sheet, face).printed()
    except Exception as problem:
        if sheet.font is None:
            raise
        raise unusable(sheet.font, problem) from problem  # the library parses it only here


def _taken_over(page: list[Block]) -> list[Block]:
    """Take the last row, with its heading, off a full page and return it for the next: a
    signature must not be on a page without a row."""
    count = 2 if len(page) > 1 and isinstance(page[-2], Heading) else 1
    if len(page) <= count:
        return []
    taken = page[-count:]
    del page[-count:]
    return taken


class _Printer:
    def __init__(self, daylist: DayList, sheet: Sheet, face: str) -> None:
        self._list = daylist
        self._sheet = sheet
        self._face = face
        self._names, self._fees = sheet.names, sheet.fees
        self._width, self._height = PAPERS[sheet.paper]
        self._out = io.BytesIO()
        self._pen = Canvas(self._out, pagesize=(self._width, self._height), invariant=1, lang="en")
        self._right = self._width - _MARGIN

    def printed(self) -> bytes:
        pages = self._pages(blocks(self._list))
        title = f"{self._list.title}, {self._list.day.isoformat()}"
        self._pen.setTitle(title)
        self._pen.setSubject(f"List {self._list.number} of {self._list.day.isoformat()}")
        for number, page in enumerate(pages, 1):
            self._head(number, len(pages))
            y = self._body_top(number)
            for block in page:
                y = self._block(block, y)
            is_last = number == len(pages)
            if is_last:
                self._acceptance(y)
            self._foot(page, number, len(pages))
            self._pen.showPage()
        self._pen.save()
        return self._out.getvalue()

    def _pages(self, todo: Sequence[Block]) -> list[list[Block]]:
        """Blocks by page. A heading stays with its first row, and the last page has room for the
        acceptance."""
        pages: list[list[Block]] = [[]]
        left = self._room(1)
        for index, block in enumerate(todo):
            height = self._tall(block)
            needed = height
            if isinstance(block, Heading) and index + 1 < len(todo):
                needed += self._tall(todo[index + 1])
            if needed > left and pages[-1]:
                pages.append([])
                left = self._room(len(pages))
            pages[-1].append(block)
            left -= height
        if left < _ACCEPTANCE:
            pages.append(_taken_over(pages[-1]))
        return pages

    def _room(self, number: int) -> float:
        return self._body_top(number) - _MARGIN - _BOTTOM

    def _body_top(self, number: int) -> float:
        senders = max(len(self._sheet.sender), 3) * 12 + 8 if number == 1 else 0
        return float(self._height - _MARGIN - _TOP - senders)

    def _tall(self, block: Block) -> float:
        if isinstance(block, Heading):
            return _HEADING
        return max(_ROW, _ROW + (max(len(block.numbers), len(self._addressee(block))) - 1) * 11.0)

    def _addressee(self, line: Line) -> list[str]:
        text = self._names.get(line.sequence, "")
        width = self._right - _MARGIN - _NAMES - (_FEE if self._fees else 0)
        found: list[str] = simpleSplit(text, self._face, 8.5, width)
        if len(found) > _MOST_LINES:
            return [*found[: _MOST_LINES - 1], found[_MOST_LINES - 1][:-3] + "..."]
        return found

    def _text(self, x: float, y: float, text: str, face: str = _PLAIN, size: float = 9) -> None:
        self._pen.setFont(face, size)
        self._pen.drawString(x, y, text)

    def _number(self, x: float, y: float, text: str) -> None:
        """A number, in smaller type where it is too long for its column (26 digits)."""
        size = min(_NUMBER_SIZE, _NUMBER_WIDE / (_COURIER * max(len(text), 1)))
        self._text(x, y, text, _MONO, size)

    def _text_right(self, x: float, y: float, text: str, face: str, size: float) -> None:
        self._pen.setFont(face, size)
        self._pen.drawRightString(x, y, text)

    def _rule(self, y: float, width: float = 0.4) -> None:
        self._pen.setLineWidth(width)
        self._pen.line(_MARGIN, y, self._right, y)

    def _head(self, number: int, pages: int) -> None:
        top = self._height - _MARGIN
        self._text(_MARGIN, top - 14, self._list.title, _BOLD, 16)
        self._text_right(self._right, top - 12, f"page {number} of {pages}", _BOLD, 11)
        day = self._list.day
        self._text(_MARGIN, top - 32, f"{day.isoformat()}  ({day:%A})", _BOLD, 11)
        desk = f"desk: {self._list.desk[:_LONGEST_DESK]}" if self._list.desk else "all desks"
        self._text(_MARGIN + 60 * _MM, top - 32, desk, self._face, 9.5)
        self._text_right(self._right, top - 32, f"list {self._list.number} of this day", _PLAIN, 11)
        if self._sheet.notice:
            self._text(_MARGIN, top - 48, self._sheet.notice, _BOLD, 10)
        if number == 1:
            self._sender(top - 62)
        y = self._body_top(number)
        self._column_heads(y + 5)
        self._rule(y, 1.0)

    def _sender(self, y: float) -> None:
        self._text(_MARGIN, y, "Sender", _BOLD, 9)
        x = _MARGIN + 18 * _MM
        for index, line in enumerate(self._sheet.sender):
            self._text(x, y - index * 12, line, self._face, 9)
        if not self._sheet.sender:
            self._pen.setLineWidth(0.4)
            for index in range(3):
                self._pen.line(x, y - 2 - index * 14, x + 90 * _MM, y - 2 - index * 14)

    def _column_heads(self, y: float) -> None:
        self._text_right(_MARGIN + _NO + 8 * _MM, y, column_heads.PLACE, _BOLD, 9)
        self._text(_MARGIN + _ARTICLE, y, column_heads.ARTICLE, _BOLD, 9)
        self._text(_MARGIN + _CARD, y, column_heads.CARD, _BOLD, 9)
        last = column_heads.ADDRESSEE if self._names else column_heads.REMARKS
        self._text(_MARGIN + _NAMES, y, last, _BOLD, 9)
        if self._fees:
            self._text_right(self._right, y, column_heads.FEE, _BOLD, 9)

    def _block(self, block: Block, y: float) -> float:
        """Draw a block whose top is at y; the y of the next one."""
        tall = self._tall(block)
        if isinstance(block, Heading):
            self._text(_MARGIN, y - tall + 3.2 * _MM, block.text, _BOLD, 10)
            self._rule(y - tall)
            return y - tall
        base = y - 4.6 * _MM
        if block.place:
            self._text_right(_MARGIN + _NO + 8 * _MM, base, str(block.place), _PLAIN, 9)
        for index, (mark, article, card) in enumerate(block.numbers):
            at = base - index * _LEADING
            if mark:
                self._text(_MARGIN + _NO, at, mark, _PLAIN, 8)
            self._number(_MARGIN + _ARTICLE, at, article)
            self._number(_MARGIN + _CARD, at, card)
        for index, part in enumerate(self._addressee(block)):
            self._text(_MARGIN + _NAMES, base - index * _LEADING, part, self._face, 8.5)
        if fee := self._fees.get(block.sequence):
            self._text_right(self._right, base, fee[:_LONGEST_FEE], self._face, 8.5)
        if block.is_struck:
            self._pen.setLineWidth(0.5)
            self._pen.line(_MARGIN + _ARTICLE, base + 3, _MARGIN + _NAMES - 3 * _MM, base + 3)
        self._rule(y - tall, 0.25)
        return y - tall

    def _foot(self, page: Sequence[Block], number: int, pages: int) -> None:
        y = _MARGIN + 12 * _MM
        lines = sum(isinstance(block, Line) for block in page)
        self._rule(y + 4 * _MM, 0.6)
        self._text(_MARGIN, y, f"Lines on this page: {lines}", _PLAIN, 9)
        self._text(self._right - 78 * _MM, y, "Accepting employee's initials", _PLAIN, 9)
        self._pen.setLineWidth(0.6)
        self._pen.rect(self._right - 30 * _MM, y - 3 * _MM, 30 * _MM, 6.4 * _MM)
        small = [f"{self._list.title} {self._list.day.isoformat()}, page {number} of {pages}"]
        for index, text in enumerate((*self._sheet.seal, *small)[:4]):
            self._text(_MARGIN, y - 5 * _MM - index * 7.2, text, _MONO, 5.8)

    def _acceptance(self, y: float) -> None:
        """Totals and the place for the acceptance mark, right below the last row."""
        top = y - 4 * _MM
        self._text(
            _MARGIN,
            top - 3 * _MM,
            "End of the list. Nothing is listed below this line.",
            _PLAIN,
            8,
        )
        top -= 7 * _MM
        total = len(self._list.entered)
        self._pen.setLineWidth(0.8)
        self._pen.rect(_MARGIN, top - 47 * _MM, self._right - _MARGIN, 47 * _MM)
        x, split = _MARGIN + 4 * _MM, self._right - 62 * _MM
        self._pen.line(split, top, split, top - 47 * _MM)
        self._text(x, top - 8 * _MM, f"Total sealed on this list: {total}", _BOLD, 12)
        after = ""
        if self._list.supplements:
            after = f"Voided: {len(self._list.struck)}, corrected: {len(self._list.changed)}. "
            after += f"On all lists of this day now: {self._list.standing}"
        self._text(x, top - 14 * _MM, after, _PLAIN, 9)
        entered = [self._sheet.about.get(row.sequence, {}) for row in self._list.entered]
        declared = simpleSplit(total_of(entered).sentence, self._face, 8, split - x - 4 * _MM)
        room, first = (1, 17.2) if after else (2, 13.0)
        for index, text in enumerate(declared[:room]):
            self._text(x, top - (first + index * 3) * _MM, text, self._face, 8)
        for index, what in enumerate(
            ("Total received", "Received by (name)", "Signature", "Date and time")
        ):
            at = top - (21 + index * 7) * _MM
            self._text(x, at, what, _PLAIN, 9)
            self._pen.setLineWidth(0.4)
            self._pen.line(x + 36 * _MM, at - 1, split - 4 * _MM, at - 1)
        self._text(split + 4 * _MM, top - 5 * _MM, "Acceptance mark of the office", _PLAIN, 9)
        self._pen.setDash(2, 3)
        self._pen.circle((split + self._right) / 2, top - 27 * _MM, 17 * _MM)
        self._pen.setDash()
