"""Drafts, numbers and a clock for the ledger's tests. All numbers are invented and valid."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from functools import cache
from typing import Any

from pairing.ledger import Draft, Kind, Observed, Via
from pairing.model import How, Side, Verdict
from pairing.numbers.checkdigit import mod10


@dataclass
class Clock:
    """A clock that goes on a second at each look, and can be set."""

    now: datetime = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
    step: timedelta = timedelta(seconds=1)

    def __call__(self) -> datetime:
        self.now += self.step
        return self.now


@cache
def label(number: int) -> str:
    """A valid 22-digit article number (IMpb, channel 92)."""
    front = f"92{number:019d}"
    return front + mod10(front)


@cache
def card(number: int) -> str:
    """A valid 22-digit card number."""
    front = f"959094{number:015d}"
    return front + mod10(front)


def pair(article: int, with_card: int | None, **more: Any) -> Draft:
    """A piece that agrees."""
    number = label(article)
    draft = Draft(
        kind=Kind.PAIRED,
        desk="desk 1",
        operator="clerk 7",
        article=number,
        card=None if with_card is None else card(with_card),
        written=number,
        verdict=Verdict.AGREES,
        readings=(
            Observed(side=Side.LABEL, how=How.BARCODE, via=Via.SCAN, text=number),
            Observed(side=Side.BOX, how=How.KEYED, via=Via.KEYED, text=number),
        ),
    )
    return replace(draft, **more)


def returned(with_card: int, box: int | None = None, **more: Any) -> Draft:
    """A card that came back."""
    draft = Draft(
        kind=Kind.RETURNED,
        desk="desk 2",
        operator="clerk 8",
        card=card(with_card),
        written=None if box is None else label(box),
        verdict=Verdict.AGREES,
    )
    return replace(draft, **more)


def void(sequence: int) -> Draft:
    """Void what that entry says."""
    return Draft(
        kind=Kind.VOIDED, desk="desk 1", operator="clerk 7", refers=sequence, remark="wrong piece"
    )
