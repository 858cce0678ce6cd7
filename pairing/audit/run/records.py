"""The lot against what was recorded or printed elsewhere: a ledger, an expected list."""

from __future__ import annotations

import csv
import os
from collections.abc import Container, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from pathlib import Path
from typing import Any

from pairing import whole_file
from pairing.errors import TableUnusable
from pairing.findings import Code, Finding
from pairing.ledger import Kind, Ledger, Piece, State
from pairing.model import ExpectedPair, TrackingNumber
from pairing.numbers import printed
from pairing.pieces import office_rules


class Recorded(StrEnum):
    """How the ledger has a photographed piece. BY_LABEL: with this label; a card's number is
    known from the photos alone, or from the ledger alone."""

    AS_PHOTOGRAPHED = "as photographed"
    BY_LABEL = "label as photographed"
    OTHERWISE = "otherwise"
    VOID = "void"
    STOPPED = "stopped, never accepted"
    NEVER = "never"


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """What the ledger says of a photographed piece. state: None without a ledger, or where no
    number was read. entry: the piece's first entry."""

    state: Recorded | None = None
    entry: int | None = None
    desk: str = ""
    day: str = ""
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Missing:
    """A pair that is recorded or expected, and no photo shows it."""

    article: str
    card: str | None
    known_from: str
    desk: str = ""
    day: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Records:
    """What the lot is held against. since, until: which of the ledger's pieces should be in
    the lot, by the time of acceptance; aware, half-open."""

    pairs: Mapping[str, tuple[ExpectedPair, ...]] = field(default_factory=dict)
    by_card: Mapping[str, tuple[ExpectedPair, ...]] = field(default_factory=dict)
    ledger: Ledger | None = None
    since: datetime | None = None
    until: datetime | None = None

    def expected(self, article: str | None, card: str | None) -> tuple[ExpectedPair, ...]:
        """What the list says of these numbers, for `judge`; where it knows neither, one other
        pair, so that it is not taken for no list at all."""
        if not self.pairs:
            return ()
        found = (*self.pairs.get(article or "", ()), *self.by_card.get(card or "", ()))
        return tuple(dict.fromkeys(found)) or next(iter(self.pairs.values()))

    def partner(self, card: str) -> str | None:
        """The article that list or ledger gives this card to; None where they do not say, or
        contradict each other."""
        found = {pair.article for pair in self.by_card.get(card, ())}
        if self.ledger is not None:
            pieces = self.ledger.story(card).pieces
            found |= {one.article for one in pieces if _stands(one) and one.card == card
                      and one.article}  # fmt: skip
        return found.pop() if len(found) == 1 else None

    def of(self, article: str | None, card: str | None) -> Record:
        """What the ledger says of a piece with these numbers. Raises LedgerUnusable."""
        if self.ledger is None or (article is None and card is None):
            return Record()
        found: dict[int, Piece] = {}
        stopped = False
        for number in (article, card):
            if number is None:
                continue
            story = self.ledger.story(number)
            found |= {one.sequence: one for one in story.pieces}
            stopped = stopped or any(
                one.kind is Kind.STOPPED and number in (one.article, one.card)
                for one in story.entries
            )
        standing = [one for one in found.values() if _stands(one)]
        same = [one for one in standing if one.article == article]
        if whole := next((one for one in same if one.card == card), None):
            return _record(Recorded.AS_PHOTOGRAPHED, whole)
        clashes = [one for one in standing if _is_otherwise(one, article, card)]
        if clashes:
            return _record(Recorded.OTHERWISE, clashes[0], _otherwise(clashes[0], article, card))
        if same:
            # Of its two cards one has no number, or was not read.
            return _record(Recorded.BY_LABEL, same[0])
        voids = [one for one in found.values() if one.article == article and not _stands(one)]
        if voids:
            return _record(Recorded.VOID, voids[-1], _void(voids[-1]))
        if article is None:
            return Record()
        state = Recorded.STOPPED if stopped else Recorded.NEVER
        return Record(state=state, findings=(_never(article, state),))

    def missing(self, photographed: Container[str]) -> Iterator[Missing]:
        """Pairs that are recorded (in the time asked for) or expected, and not in the lot.

        photographed: article numbers. A pair that ledger and list have alike comes once, known
        from both.
        """
        listed_too: set[str] = set()
        if self.ledger is not None:
            states = (State.OPEN, State.RETURNED)
            for piece in self.ledger.pieces(states=states, since=self.since, until=self.until):
                if piece.article and piece.article not in photographed:
                    listed = [
                        pair.source
                        for pair in self.pairs.get(piece.article, ())[:1]
                        if pair.card in (None, piece.card)
                    ]
                    listed_too.update([piece.article] * len(listed))
                    yield Missing(
                        article=piece.article,
                        card=piece.card,
                        known_from="; ".join((piece.name, *listed)),
                        desk=piece.first.desk,
                        day=_day(piece),
                    )
        for article, pairs in self.pairs.items():
            if article not in listed_too and article not in photographed:
                yield Missing(article=article, card=pairs[0].card, known_from=pairs[0].source)


def with_pairs(pairs: Iterable[ExpectedPair]) -> dict[str, Any]:
    """An expected list, looked up by either number: the arguments `pairs` and `by_card`."""
    found: dict[str, dict[str, tuple[ExpectedPair, ...]]] = {"pairs": {}, "by_card": {}}
    for pair in pairs:
        for name, number in (("pairs", pair.article), ("by_card", pair.card)):
            if number:
                found[name][number] = (*found[name].get(number, ()), pair)
    return found


def pairs_in(table: Path) -> Iterator[ExpectedPair]:
    """The pairs of a CSV file with the columns `article` and, if need be, `card`. Raises
    TableUnusable, also for a number that is none: a list with typing errors proves nothing."""
    try:
        with table.open(newline="", encoding="utf-8-sig") as file:
            rows = csv.DictReader(whole_file.lines(file))
            names = {(name or "").strip().lower(): name for name in rows.fieldnames or ()}
            if "article" not in names:
                raise _unusable(table, "The expected list has no column article")
            for row in rows:
                where = f"{os.fspath(table)}, line {rows.line_num}"
                article = _number(row[names["article"]], where)
                card = _number(row[names["card"]], where) if "card" in names else None
                if article:
                    yield ExpectedPair(article=article, card=card, source=table.name)
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        why = (error.strerror if isinstance(error, OSError) else None) or error
        raise _unusable(table, f"The expected list cannot be read ({why})") from error


def _number(cell: str | None, where: str) -> str | None:
    if not (cell or "").strip():
        return None
    number = office_rules.identified(cell or "")
    if isinstance(number, TrackingNumber):
        return number.text
    raise TableUnusable(
        f"The expected list has something that is not a number: {number.message}",
        where=where,
        remedy="Correct the list; numbers must be complete, in text cells.",
    )


def _unusable(table: Path, what: str) -> TableUnusable:
    return TableUnusable(
        what,
        where=os.fspath(table),
        remedy="Give a UTF-8 CSV file with the columns article and card.",
    )


def _day(piece: Piece) -> str:
    """The desk's day of acceptance, as its lists have it, and not UTC's."""
    return piece.first.when.astimezone().date().isoformat()


def _stands(piece: Piece) -> bool:
    return piece.state is not State.VOID


def _is_otherwise(piece: Piece, article: str | None, card: str | None) -> bool:
    """Recorded with another partner; a number that was not read contradicts nothing."""
    if article is not None and piece.article == article:
        return card is not None and piece.card is not None and piece.card != card
    return article is not None and card is not None and piece.card == card


def _record(state: Recorded, piece: Piece, *findings: Finding) -> Record:
    return Record(
        state=state,
        entry=piece.sequence,
        desk=piece.first.desk,
        day=_day(piece),
        findings=findings,
    )


def _otherwise(piece: Piece, article: str | None, card: str | None) -> Finding:
    if piece.article == article:
        what, recorded, shown = "card", piece.card, card
    else:
        what, recorded, shown = "article", piece.article, article
    return Finding.of(
        Code.RECORDED_OTHERWISE,
        piece=piece.name,
        what=what,
        recorded=_shown(recorded),
        shown=_shown(shown),
    )


def _void(piece: Piece) -> Finding:
    return Finding.of(Code.RECORDED_VOID, piece=piece.name)


def _never(article: str, state: Recorded) -> Finding:
    return Finding.of(
        Code.NEVER_RECORDED,
        number=printed(article),
        is_stopped=state is Recorded.STOPPED,
    )


def _shown(text: str | None) -> str | None:
    return printed(text) or None
