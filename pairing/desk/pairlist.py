"""The list of pairs that another system printed: a CSV file to its pairs, row by row."""

from __future__ import annotations

import csv
import hashlib
import io
import os
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from pairing.errors import TableUnusable
from pairing.model import Role, TrackingNumber
from pairing.numbers import identify
from pairing.numbers import text as texts

_ROUNDED = re.compile(r"\d(?:[.,]\d+)?E\+?\d\d", re.IGNORECASE)
_FORMULA = re.compile(r'="(.*)"')
_DELIMITERS = ",;\t|"
_LARGEST_BYTES = 64_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A column and how it was found. index: from 0. name: its head, or its place where the
    file has no heads. holds: how many rows hold such a number. is_guessed: by its content."""

    index: int
    name: str
    holds: int
    is_guessed: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ListedPair:
    """A pair as listed; canonical numbers. line: where its row ends in the file, from 1."""

    line: int
    article: str
    card: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class RefusedRow:
    """A row that gives no pair, and why, in a sentence."""

    line: int
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PairList:
    """A list. digest: SHA-256 of the file in hexadecimal. card: None where no column has
    card numbers. repeated: rows that say the same as an earlier one."""

    name: str
    digest: str
    article: Column
    card: Column | None
    pairs: tuple[ListedPair, ...]
    refused: tuple[RefusedRow, ...]
    repeated: int


@dataclass(frozen=True, slots=True, kw_only=True)
class _Row:
    line: int
    cells: tuple[str, ...]


def read_list(path: Path, *, article: str = "", card: str = "") -> PairList:
    """The pairs of a CSV file (comma, semicolon, tab or bar; UTF-8, or UTF-16 with a mark).

    article, card: a column's head or its place from 1; by default they are recognized by what
    they hold, if only one column holds such numbers. Raises TableUnusable.
    """
    data = _bytes(path)
    rows = _rows(data, os.fspath(path))
    if not rows:
        raise _unusable("The list is empty", path, "Give the pairs, a row each.")
    heads = _heads(rows[0])
    body = rows[1:] if heads else rows
    found = _Columns(heads, body, path)
    of_article = found.named(article, Role.ARTICLE) if article else found.guessed(Role.ARTICLE)
    if of_article is None:
        raise _unusable("No column holds article numbers", path, "Name it: --article COLUMN.")
    of_card = found.named(card, Role.CARD) if card else found.guessed(Role.CARD)
    taker = _Taker(of_article, of_card)
    for row in body:
        taker.take(row)
    return PairList(
        name=path.name,
        digest=hashlib.sha256(data).hexdigest(),
        article=of_article,
        card=of_card,
        pairs=tuple(taker.pairs.values()),
        refused=tuple(taker.refused),
        repeated=taker.repeated,
    )


class _Columns:
    def __init__(self, heads: Sequence[str], body: Sequence[_Row], path: Path) -> None:
        width = max((len(row.cells) for row in body), default=0)
        self._names = [
            heads[index].strip() if index < len(heads) else f"column {index + 1}"
            for index in range(max(width, len(heads)))
        ]
        self._body = body
        self._path = path
        self._holds = {role: [0] * len(self._names) for role in Role}
        for row in body:
            for index, cell in enumerate(row.cells):
                number = identify(cleaned(cell))
                if isinstance(number, TrackingNumber):
                    self._holds[number.role][index] += 1

    def named(self, wanted: str, role: Role) -> Column:
        key = wanted.strip().casefold()
        same = [at for at, name in enumerate(self._names) if name.casefold() == key]
        if not same and key.isdecimal() and 1 <= int(key) <= len(self._names):
            same = [int(key) - 1]
        if len(same) != 1:
            listed = ", ".join(repr(name) for name in self._names)
            raise _unusable(
                f"{len(same) or 'No'} columns are called {wanted!r}",
                self._path,
                f"There are: {listed}. A column's place (1, 2, ...) will do too.",
            )
        return self._column(same[0], role, is_guessed=False)

    def guessed(self, role: Role) -> Column | None:
        holds = self._holds[role]
        most = max(holds, default=0)
        if not most:
            return None
        # A column that holds a few such numbers by chance is no rival.
        rivals = [at for at, count in enumerate(holds) if count * 2 > most]
        if len(rivals) > 1:
            listed = " and ".join(repr(self._names[at]) for at in rivals)
            raise _unusable(
                f"More than one column holds {role.value} numbers: {listed}",
                self._path,
                f"Name the right one: --{role.value} COLUMN.",
            )
        return self._column(rivals[0], role, is_guessed=True)

    def _column(self, index: int, role: Role, *, is_guessed: bool) -> Column:
        holds = self._holds[role][index]
        return Column(index=index, name=self._names[index], holds=holds, is_guessed=is_guessed)


class _Taker:
    def __init__(self, article: Column, card: Column | None) -> None:
        self._article = article
        self._card = card
        self._cards: dict[str, ListedPair] = {}
        self.pairs: dict[str, ListedPair] = {}
        self.refused: list[RefusedRow] = []
        self.repeated = 0

    def take(self, row: _Row) -> None:
        article, card = _cell(row, self._article), _cell(row, self._card)
        reason = _why_not(article, card, is_named=bool(self._card and not self._card.is_guessed))
        if reason:
            self.refused.append(RefusedRow(line=row.line, reason=reason))
            return
        pair = ListedPair(
            line=row.line,
            article=identify(article).text,
            card=identify(card).text if card else None,
        )
        reason = self._contradiction(pair)
        if reason:
            self.refused.append(RefusedRow(line=row.line, reason=reason))
        elif pair.article in self.pairs:
            self.repeated += 1
        else:
            self.pairs[pair.article] = pair
            if pair.card:
                self._cards[pair.card] = pair

    def _contradiction(self, pair: ListedPair) -> str:
        same_article = self.pairs.get(pair.article)
        if same_article is not None and same_article.card != pair.card:
            return f"Line {same_article.line} gives this article another card."
        same_card = self._cards.get(pair.card or "")
        if same_card is not None and same_card.article != pair.article:
            return f"Line {same_card.line} gives this card to another article."
        return ""


def cleaned(cell: str) -> str:
    """A cell without what spreadsheets put around numbers so that they stay text."""
    text = cell.strip()
    formula = _FORMULA.fullmatch(text)
    return (formula[1] if formula else text).removeprefix("'").strip()


def _cell(row: _Row, column: Column | None) -> str:
    if column is None or column.index >= len(row.cells):
        return ""
    return cleaned(row.cells[column.index])


def _why_not(article: str, card: str, *, is_named: bool) -> str:
    if not article:
        return "There is no article number."
    number = identify(article)
    if _ROUNDED.fullmatch(article):
        return f"{article!r}: a spreadsheet has rounded this number; format its column as text."
    if not isinstance(number, TrackingNumber):
        return f"{article[:40]!r}: {number.message}"
    if number.role is not Role.ARTICLE:
        return f"{article[:40]!r} is a {number.family.title}, no article number."
    if not card:
        return ""
    own = identify(card)
    if _ROUNDED.fullmatch(card):
        return f"{card!r}: a spreadsheet has rounded this number; format its column as text."
    if not isinstance(own, TrackingNumber):
        return f"{card[:40]!r}: {own.message}"
    # Privately printed cards have numbers whose form does not tell; a person has to say so.
    if own.role is not Role.CARD and not is_named:
        return f"{card[:40]!r} is a {own.family.title}, no card's number."
    if own.text == number.text:
        return "Article and card have the same number."
    return ""


def _heads(first: _Row) -> tuple[str, ...]:
    """The first row, unless it holds a number itself."""
    has_number = any(sum(map(str.isdigit, cell)) >= texts.FEWEST_DIGITS for cell in first.cells)
    return () if has_number else first.cells


def _bytes(path: Path) -> bytes:
    try:
        with path.open("rb") as file:
            data = file.read(_LARGEST_BYTES + 1)
    except OSError as problem:
        raise _unusable(
            f"The list cannot be read ({problem.strerror or problem})", path, "Check the path."
        ) from problem
    if len(data) > _LARGEST_BYTES:
        raise _unusable("The list is larger than 64 MB", path, "Part it into several files.")
    return data


def _rows(data: bytes, where: str) -> list[_Row]:
    is_wide = data.startswith((b"\xff\xfe", b"\xfe\xff"))
    try:
        text = data.decode("utf-16" if is_wide else "utf-8-sig")
        reader = csv.reader(io.StringIO(text, newline=""), delimiter=_delimiter(text))
        return [
            _Row(line=reader.line_num, cells=tuple(cells))
            for cells in reader
            if any(cell.strip() for cell in cells)
        ]
    except (UnicodeDecodeError, csv.Error) as problem:
        raise TableUnusable(
            f"The list cannot be read ({problem})",
            where=where,
            remedy="Save it as CSV in UTF-8.",
        ) from problem


def _delimiter(text: str) -> str:
    first: Iterable[str] = (line for line in text.splitlines() if line.strip())
    line = next(iter(first), "")
    return max(_DELIMITERS, key=line.count)


def _unusable(what: str, path: Path, remedy: str) -> TableUnusable:
    return TableUnusable(what, where=os.fspath(path), remedy=remedy)
