"""The lines of a day list, for paper and for CSV."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from pairing.csv_tables import DAY_LIST, grouped, harmless, table
from pairing.desk.daylist import DayList, Row
from pairing.desk.for_whom import Field, addressee
from pairing.numbers import printed


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """The heading of a part of the list."""

    text: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A row of the table. place: its number on this list; 0 for a row of an earlier list.
    numbers: mark ("was", "now" or ""), article and card, printed; one or two."""

    sequence: int
    place: int
    numbers: tuple[tuple[str, str, str], ...]
    is_struck: bool = False


Block = Heading | Line
"""The parts of a printed list, from top to bottom."""


def blocks(daylist: DayList) -> tuple[Block, ...]:
    """The list's parts in order. A first list has no headings."""
    return tuple(_blocks(daylist))


def _blocks(daylist: DayList) -> Iterator[Block]:
    if daylist.supplements and daylist.entered:
        yield Heading(text="Also sealed")
    for place, row in enumerate(daylist.entered, 1):
        yield Line(sequence=row.sequence, place=place, numbers=(("", *_printed(row)),))
    if daylist.struck:
        yield Heading(text="Strike these from the earlier lists: the pieces were voided")
    for row in daylist.struck:
        yield Line(
            sequence=row.sequence, place=0, numbers=(("voided", *_printed(row)),), is_struck=True
        )
    if daylist.changed:
        yield Heading(text="Change these on the earlier lists: the numbers were corrected")
    for change in daylist.changed:
        both = (("was", *_printed(change.was)), ("now", *_printed(change.now)))
        yield Line(sequence=change.was.sequence, place=0, numbers=both)


About = Mapping[int, Mapping[str, str]]
"""A piece's sequence to whom it is for and why it is sent (`for_whom`)."""


_OTHERS = (Field.REFERENCE, Field.SERVICE, Field.FEE, Field.PIECE)


def csv_lines(daylist: DayList, about: About | None = None) -> Iterator[str]:
    """The list as CSV, the heads first, then a line for each row; the cell `says` is sealed, voided
    or corrected."""
    return table(DAY_LIST, _csv_rows(daylist, about or {}))


def _csv_rows(daylist: DayList, known: About) -> Iterator[tuple[object, ...]]:
    for place, row in enumerate(daylist.entered, 1):
        yield _csv(daylist, known, row, place=str(place), says="sealed")
    for row in daylist.struck:
        yield _csv(daylist, known, row, says="voided")
    for change in daylist.changed:
        yield _csv(daylist, known, change.now, says="corrected", was=change.was)


def _csv(  # noqa: PLR0913 - the cells of one line
    daylist: DayList,
    known: About,
    row: Row,
    *,
    says: str,
    place: str = "",
    was: Row | None = None,
) -> tuple[object, ...]:
    about = known.get(row.sequence, {})
    return (
        daylist.day.isoformat(),
        daylist.number,
        harmless(daylist.desk),
        place,
        says,
        grouped(row.article),
        grouped(row.card),
        grouped(was.article) if was else "",
        grouped(was.card) if was else "",
        row.sequence,
        harmless(addressee(about)),
        *(harmless(about.get(name, "")) for name in _OTHERS),
    )


def _printed(row: Row) -> tuple[str, str]:
    card = printed(row.card) if row.card else "none"
    return printed(row.article), card
