"""Reads the list of pairs that another system printed: a CSV file with a pair in each row."""

from __future__ import annotations

import hashlib
import os
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from pairing.desk import csv_rows
from pairing.desk.for_whom import Field
from pairing.desk.for_whom import cleaned as cleaned_about
from pairing.errors import TableUnusable
from pairing.model import Role, TrackingNumber
from pairing.numbers import text as texts
from pairing.pieces import office_rules

_ROUNDED = re.compile(r"\d(?:[.,]\d+)?E\+?\d\d", re.IGNORECASE)
_FORMULA = re.compile(r'="(.*)"')


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A column and how it was found. index: from 0. name: its head, or "column" and its place
    from 1 where the file has no heads. holds: how many rows hold a number of this kind, or any
    text where no number is wanted. is_guessed: nobody named it; its head or content decided."""

    index: int
    name: str
    holds: int
    is_guessed: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ListedPair:
    """A pair as listed, with canonical numbers. line: the last line of its row in the file, from
    1. about: whom the piece is for and why it is sent, as far as the list says (`for_whom`)."""

    line: int
    article: str
    card: str | None
    about: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class RefusedRow:
    """A row that gives no pair, and the reason in a sentence."""

    line: int
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PairList:
    """A list. digest: SHA-256 of the file in hexadecimal. card: None where no column has
    card numbers. repeated: how many rows say the same as an earlier one. about: the columns
    that say whom a piece is for and why it is sent."""

    name: str
    digest: str
    article: Column
    card: Column | None
    pairs: tuple[ListedPair, ...]
    refused: tuple[RefusedRow, ...]
    repeated: int
    about: Mapping[Field, Column] = field(default_factory=dict)


def read_list(
    path: Path, *, article: str = "", card: str = "", about: Mapping[Field, str] | None = None
) -> PairList:
    """The pairs of a CSV file (comma, semicolon, tab or bar; UTF-8, or UTF-16 with a mark).

    article, card: a column's head or its place from 1. By default a column is recognized by the
    numbers in it, if only one column holds such numbers. about: the same for the columns that
    say whom a piece is for; by default those whose head is the field's own name (name, address,
    reference, service, fee). Raises TableUnusable.
    """
    data, rows = csv_rows.of_file(path)
    if not rows:
        raise _unusable("The list is empty", path, "Put one pair in each row.")
    heads = _heads(rows[0])
    body = rows[1:] if heads else rows
    found = _Columns(heads, body, path)
    of_article = found.named(article, Role.ARTICLE) if article else found.guessed(Role.ARTICLE)
    if of_article is None:
        raise _unusable("No column holds article numbers", path, "Name it: --article COLUMN.")
    of_card = found.named(card, Role.CARD) if card else found.guessed(Role.CARD)
    of_about = found.of_about(about or {})
    taker = _Taker(of_article, of_card, of_about)
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
        about=of_about,
    )


class _Columns:
    def __init__(self, heads: Sequence[str], body: Sequence[csv_rows.Row], path: Path) -> None:
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
                number = office_rules.identified(cleaned(cell))
                if isinstance(number, TrackingNumber):
                    self._holds[number.role][index] += 1

    def of_about(self, named: Mapping[Field, str]) -> dict[Field, Column]:
        """The columns that say whom a piece is for and why it is sent."""
        heads = [name.casefold() for name in self._names]
        known = {one: one.value for one in Field if heads.count(one.value) == 1}
        wanted = {**known, **{one: name for one, name in named.items() if name}}
        return {
            one: Column(
                index=(index := self._place(name)),
                name=self._names[index],
                holds=sum(
                    index < len(row.cells) and bool(row.cells[index].strip()) for row in self._body
                ),
                is_guessed=one not in named or not named[one],
            )
            for one, name in wanted.items()
        }

    def named(self, wanted: str, role: Role) -> Column:
        return self._column(self._place(wanted), role, is_guessed=False)

    def _place(self, wanted: str) -> int:
        key = wanted.strip().casefold()
        same = [at for at, name in enumerate(self._names) if name.casefold() == key]
        if not same and key in map(str, range(1, len(self._names) + 1)):
            same = [int(key) - 1]
        if len(same) != 1:
            listed = ", ".join(repr(name) for name in self._names)
            raise _unusable(
                f"{len(same) or 'No'} columns are called {wanted!r}",
                self._path,
                f"There are: {listed}. A column's place (1, 2, ...) works too.",
            )
        return same[0]

    def guessed(self, role: Role) -> Column | None:
        holds = self._holds[role]
        most = max(holds, default=0)
        if not most:
            return None
        # A column with a few such numbers by chance does not count.
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
    def __init__(self, article: Column, card: Column | None, about: Mapping[Field, Column]) -> None:
        self._about = about
        self._article = article
        self._card = card
        self._cards: dict[str, ListedPair] = {}
        self.pairs: dict[str, ListedPair] = {}
        self.refused: list[RefusedRow] = []
        self.repeated = 0

    def take(self, row: csv_rows.Row) -> None:
        article, card = _cell(row, self._article), _cell(row, self._card)
        reason = _why_not(article, card, is_named=bool(self._card and not self._card.is_guessed))
        if reason:
            self.refused.append(RefusedRow(line=row.line, reason=reason))
            return
        pair = ListedPair(
            line=row.line,
            article=office_rules.identified(article).text,
            card=office_rules.identified(card).text if card else None,
            about={
                one.value: said
                for one, column in self._about.items()
                if (said := cleaned_about(_cell(row, column)))
            },
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
    """A cell without the marks that make a spreadsheet keep a number as text: ' and ="..."."""
    text = cell.strip()
    formula = _FORMULA.fullmatch(text)
    return (formula[1] if formula else text).removeprefix("'").strip()


def _cell(row: csv_rows.Row, column: Column | None) -> str:
    if column is None or column.index >= len(row.cells):
        return ""
    return cleaned(row.cells[column.index])


def _why_not(article: str, card: str, *, is_named: bool) -> str:
    if not article:
        return "There is no article number."
    number = _number(article)
    if isinstance(number, str):
        return number
    if number.role is not Role.ARTICLE:
        return f"{article[:40]!r} is a {number.family.title}, not an article number."
    if not card:
        return ""
    own = _number(card)
    if isinstance(own, str):
        return own
    # A privately printed card's number does not show what it is: a person must name the column.
    if own.role is not Role.CARD and not is_named:
        return f"{card[:40]!r} is a {own.family.title}, not a card number."
    if own.text == number.text:
        return "Article and card have the same number."
    return ""


def _number(text: str) -> TrackingNumber | str:
    """A cell's number, or why it is none."""
    if _ROUNDED.fullmatch(text):
        return f"{text!r}: a spreadsheet has rounded this number; format its column as text."
    number = office_rules.identified(text)
    return number if isinstance(number, TrackingNumber) else f"{text[:40]!r}: {number.message}"


def _heads(first: csv_rows.Row) -> tuple[str, ...]:
    """The first row's cells; none where that row holds a number, which no row of heads does."""
    has_number = any(texts.count_digits(cell) >= texts.FEWEST_DIGITS for cell in first.cells)
    return () if has_number else first.cells


def _unusable(what: str, path: Path, remedy: str) -> TableUnusable:
    return TableUnusable(what, where=os.fspath(path), remedy=remedy)
