"""Pieces whose card has not come back, with the dates that matter.

The dates are reminders, counted from the day the piece was sealed. The postal operator says
which deadlines apply.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta, tzinfo
from itertools import islice

from pairing.csv_tables import OUTSTANDING, grouped, harmless, table
from pairing.desk import dates
from pairing.desk.for_whom import Field, addressee
from pairing.ledger import Ledger, Piece, State
from pairing.ledger.ruling import free_from
from pairing.numbers import s10

INQUIRY_DAYS = 90
"""Days within which delivery information can be asked for where a purchased receipt did not
come back (PS Form 3811-A; 90 days by one third-party page, so a reminder and no more)."""

CAUTION = (
    "These dates are counted from the day the piece was sealed at the desk. Your postal operator "
    "says which deadlines apply and how long delivery records are kept: ask there, and early."
)

_AT_ONCE = 200
"""Rows whose names are looked up together."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outstanding:
    """A piece whose card has not come back.

    sealed: the desk's day. days: since then. inquire_by: the last day to ask for delivery
    information; None for S10 items, for which other rules hold. free_from: from when the
    article's number may be used again (`ledger.ruling`), which ends the time in which it names
    one mailing alone. about: for whom and why it is, as far as it is kept (`for_whom`).
    """

    piece: Piece
    sealed: date
    days: int
    inquire_by: date | None
    free_from: date
    about: Mapping[str, str] = field(default_factory=dict)


def outstanding(  # noqa: PLR0913 - what was asked for
    ledger: Ledger,
    *,
    now: datetime,
    least_days: int = 0,
    desk: str | None = None,
    inquiry_days: int = INQUIRY_DAYS,
    zone: tzinfo | None = None,
) -> Iterator[Outstanding]:
    """Pieces sealed at least so many of the desk's days before `now` (aware) whose card has
    not come back, oldest first. Streams. Raises LedgerUnusable."""
    last = dates.day_of(now, zone) - timedelta(days=least_days)
    until = dates.span(last, zone)[1] if least_days else None
    pieces = ledger.pieces(states=[State.OPEN], until=until)
    wanted = (piece for piece in pieces if desk in (None, piece.first.desk))
    while chunk := list(islice(wanted, _AT_ONCE)):
        about = ledger.about([piece.sequence for piece in chunk])
        for piece in chunk:
            row = _of(piece, now, inquiry_days, zone)
            yield replace(row, about=about.get(piece.sequence, {}))


_OTHERS = (Field.REFERENCE, Field.SERVICE, Field.FEE)


def csv_lines(rows: Iterator[Outstanding]) -> Iterator[str]:
    """The list as CSV, the heads first."""
    return table(OUTSTANDING, map(_csv, rows))


def _csv(row: Outstanding) -> tuple[object, ...]:
    first = row.piece.first
    return (
        row.piece.sequence,
        row.sealed.isoformat(),
        row.days,
        grouped(row.piece.article),
        grouped(row.piece.card),
        harmless(first.desk),
        harmless(first.operator),
        row.inquire_by.isoformat() if row.inquire_by else "",
        row.free_from.isoformat(),
        harmless(addressee(row.about)),
        *(harmless(row.about.get(name, "")) for name in _OTHERS),
    )


def _of(piece: Piece, now: datetime, inquiry_days: int, zone: tzinfo | None) -> Outstanding:
    sealed = dates.day_of(piece.first.when, zone)
    article = piece.article or ""
    is_s10 = s10.is_valid(article)
    return Outstanding(
        piece=piece,
        sealed=sealed,
        days=(dates.day_of(now, zone) - sealed).days,
        inquire_by=None if is_s10 else sealed + timedelta(days=inquiry_days),
        free_from=dates.day_of(free_from(article, piece.first.when), zone),
    )
