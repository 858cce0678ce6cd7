"""The acceptance list of a day: what was sealed, in the numerical order of the articles.

A list that was given out cannot be taken back, so each list is recorded in the ledger with its
rows. A later run for the same day finds there what was given out and makes a supplement: pieces
sealed since, pieces to strike out because they were voided, and pieces whose numbers were
corrected. A firm sheet asks for the articles in numerical order and for the total entered
(PS Form 3877, 6/2011, guide items 1 to 8); the layout is our own.

A list is recorded before it is printed, and without names, because it must stay possible to erase
names. The ledger's size and root are printed at the foot of each page.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta, tzinfo
from typing import Any

from pairing.desk import dates
from pairing.errors import KeyReused, LedgerDamaged
from pairing.ledger import Draft, Entry, Kind, Ledger, Piece, State
from pairing.numbers.text import is_digits

MARK = "Day list "
"""How the note that records a list begins. The first line is for people, the rest is its rows."""

_KEY = "daylist/"
_TRIES = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """An article on a list. sequence: that of the piece's first entry."""

    sequence: int
    article: str
    card: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """A row as it was given out, and as it is after a correction."""

    was: Row
    now: Row


@dataclass(frozen=True, slots=True, kw_only=True)
class DayList:
    """One list as it is given out.

    desk: "" for all desks. number: which list of that day it is, from 1. supplements: numbers of
    the earlier lists that it adds to; none for a first list. entered: rows of sealed pieces.
    struck: rows of earlier lists whose pieces were voided since. changed: rows of earlier lists
    that were corrected since. All rows are in the numerical order of the articles. standing: how
    many pieces of that day and desk are sealed and not voided, on this list and earlier ones.
    made: when it was recorded; None for a draft.
    """

    day: date
    desk: str
    number: int
    supplements: tuple[int, ...]
    entered: tuple[Row, ...]
    struck: tuple[Row, ...] = ()
    changed: tuple[Change, ...] = ()
    standing: int = 0
    made: datetime | None = None

    @property
    def is_empty(self) -> bool:
        """Whether there is nothing on it."""
        return not (self.entered or self.struck or self.changed)

    @property
    def title(self) -> str:
        """The title at its head."""
        if not self.supplements:
            return "Acceptance list"
        lists = ", ".join(str(number) for number in self.supplements)
        return f"Supplement to list{'s' if len(self.supplements) > 1 else ''} {lists}"


def compose(
    ledger: Ledger, day: date, *, desk: str = "", zone: tzinfo | None = None, is_whole: bool = False
) -> DayList:
    """The list that would be given out now for a day. Nothing is recorded.

    is_whole: list the whole day, including what earlier lists have.
    """
    earlier = given_out(ledger, day)
    since, until = dates.span(day, zone)
    pieces = [one for one in ledger.pieces(since=since, until=until) if _is_of(one, desk)]
    listed = {} if is_whole else _listed(earlier)
    entered, struck, changed = [], [], []
    for piece in pieces:
        now = Row(sequence=piece.sequence, article=piece.article or "", card=piece.card)
        was = listed.get(piece.sequence)
        is_void = piece.state is State.VOID
        if was is None and piece.sequence not in listed:
            entered += [] if is_void else [now]
        elif was is not None and is_void:
            struck.append(was)
        elif was is not None and was != now:
            changed.append(Change(was=was, now=now))
    own = {piece.sequence for piece in pieces}
    return DayList(
        day=day,
        desk=desk,
        number=len(earlier) + 1,
        supplements=()
        if is_whole
        else tuple(one.number for one in earlier if own & {row.sequence for row in one.entered}),
        entered=_ordered(entered, lambda row: row.article),
        struck=_ordered(struck, lambda row: row.article),
        changed=_ordered(changed, lambda change: change.was.article),
        standing=sum(piece.state is not State.VOID for piece in pieces),
    )


def record(  # noqa: PLR0913 - what was asked for, and by whom
    ledger: Ledger, day: date, *, desk: str, at_desk: str, operator: str, zone: tzinfo | None = None
) -> DayList:
    """Compose the list to give out now, and record it durably before anybody receives it. An
    empty list is not recorded.

    at_desk, operator: where and by whom it is given out. Two desks that do this at the same
    moment each get a list of their own. Raises what the ledger raises.
    """
    for _ in range(_TRIES):
        found = compose(ledger, day, desk=desk, zone=zone)
        if found.is_empty:
            return found
        draft = Draft(
            kind=Kind.NOTE,
            desk=at_desk,
            operator=operator,
            remark=_remark(found),
            key=f"{_KEY}{day.isoformat()}/{found.number}",
        )
        try:
            outcome = ledger.append(draft)
        except KeyReused:
            continue  # another desk took this number: compose again, after its list
        return replace(found, made=outcome.entry.when)
    raise LedgerDamaged(
        "No number is free for this list",
        where=ledger.where,
        remedy="Verify the ledger; print the list as a draft meanwhile.",
    )


def outdated(
    ledger: Ledger, day: date, *, back_days: int = 14, zone: tzinfo | None = None
) -> tuple[date, ...]:
    """The days, from `back_days` before `day` to the day before it, whose lists are out of date: a
    piece was voided, corrected or added after they were given out."""
    since = dates.span(day - timedelta(days=back_days), zone)[0]
    keys = (entry.key for entry in ledger.entries(kinds=[Kind.NOTE], since=since))
    texts = {key.split("/")[1] for key in keys if key.startswith(_KEY) and key.count("/") == 2}
    earliest = (day - timedelta(days=back_days)).isoformat()
    known = sorted(text for text in texts if earliest <= text < day.isoformat())
    found = [date.fromisoformat(text) for text in known if _is_day(text)]
    return tuple(one for one in found if not compose(ledger, one, zone=zone).is_empty)


def _is_day(text: str) -> bool:
    try:
        date.fromisoformat(text)
    except ValueError:
        return False
    return True


def given_out(ledger: Ledger, day: date) -> tuple[DayList, ...]:
    """All lists that were given out for a day, by any desk, in order."""
    # No list is given out before its day begins, but another desk's time zone may begin the day
    # up to a day earlier.
    since = dates.span(day)[0] - timedelta(days=1)
    found = []
    for entry in ledger.entries(kinds=[Kind.NOTE], since=since):
        if entry.key.startswith(f"{_KEY}{day.isoformat()}/") and entry.remark.startswith(MARK):
            found.append(_of_note(entry, ledger.where))
    return tuple(sorted(found, key=lambda one: one.number))


def _listed(lists: Iterable[DayList]) -> dict[int, Row | None]:
    """Each piece's row by the earlier lists taken together; None for one that was struck out."""
    listed: dict[int, Row | None] = {}
    for one in lists:
        listed |= {row.sequence: row for row in one.entered}
        listed |= {change.now.sequence: change.now for change in one.changed}
        listed |= {row.sequence: None for row in one.struck}
    return listed


def _is_of(piece: Piece, desk: str) -> bool:
    return not desk or piece.first.desk == desk


def _ordered(rows: Sequence[Any], article: Callable[[Any], str]) -> tuple[Any, ...]:
    """Digits by their value, then numbers with letters (S10) by their characters."""

    def order(row: Any) -> tuple[bool, int, str]:
        text = article(row)
        return not is_digits(text), int(text) if is_digits(text) else 0, text

    return tuple(sorted(rows, key=order))


def _remark(one: DayList) -> str:
    said = f"{MARK}{one.day.isoformat()} number {one.number}: {len(one.entered)} sealed"
    said += f", {len(one.struck)} voided" if one.struck else ""
    said += f", {len(one.changed)} corrected" if one.changed else ""
    rows = {
        "changed": [[_cells(change.was), _cells(change.now)] for change in one.changed],
        "day": one.day.isoformat(),
        "desk": one.desk,
        "entered": [_cells(row) for row in one.entered],
        "number": one.number,
        "standing": one.standing,
        "struck": [_cells(row) for row in one.struck],
        "supplements": list(one.supplements),
    }
    return f"{said}\n{json.dumps(rows, ensure_ascii=False, separators=(',', ':'))}"


def _of_note(entry: Entry, where: str) -> DayList:
    try:
        rows = json.loads(entry.remark.partition("\n")[2])
        return DayList(
            day=date.fromisoformat(rows["day"]),
            desk=rows["desk"],
            number=int(rows["number"]),
            supplements=tuple(rows["supplements"]),
            entered=tuple(_row(cells) for cells in rows["entered"]),
            struck=tuple(_row(cells) for cells in rows["struck"]),
            changed=tuple(Change(was=_row(was), now=_row(now)) for was, now in rows["changed"]),
            standing=int(rows["standing"]),
            made=entry.when,
        )
    except (ValueError, KeyError, TypeError) as problem:
        raise LedgerDamaged(
            "The record of a day list that was given out cannot be read",
            where=f"{where}, entry {entry.sequence}",
            remedy="Verify the ledger. The list can be printed as a draft.",
        ) from problem


def _cells(row: Row) -> list[Any]:
    return [row.sequence, row.article, row.card]


def _row(cells: Sequence[Any]) -> Row:
    sequence, article, card = cells
    return Row(sequence=sequence, article=article, card=card)


def about(ledger: Ledger, daylist: DayList) -> dict[int, dict[str, str]]:
    """Whom each piece on the list is for and why it is sent, by the piece's sequence; only pieces
    for which that was kept and not erased."""
    rows = (*daylist.entered, *daylist.struck, *(change.now for change in daylist.changed))
    return ledger.about([row.sequence for row in rows])
