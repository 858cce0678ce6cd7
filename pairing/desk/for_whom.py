"""For whom a piece is and why: addressee, the office's own reference, service, fee, and whether it
is a letter, a flat or a parcel (`piece_kind`).

All of it is optional, kept beside the entry where it can be erased, and never needed for a
verdict. Pure.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum


class Field(StrEnum):
    """What may be said of a piece; the values are what it is filed under beside the entry."""

    NAME = "name"
    ADDRESS = "address"
    REFERENCE = "reference"
    SERVICE = "service"
    FEE = "fee"
    PIECE = "piece"


class Asked(StrEnum):
    """When a desk asks for whom a piece is: not at all, when its label comes, or once it is
    sealed. It goes on whether it is told or not."""

    NEVER = "never"
    BEFORE = "before"
    AFTER = "after"


SIGNED_BY = "signed by"
"""What the name of whoever signed a card is filed under, beside the entry of its return."""

LONGEST = 200
"""Characters of one field. Common practice, no source: an address on a label is shorter."""

_AMOUNT = re.compile(r"(\d{1,7}(?:[ ,.']\d{3})*)(?:[.,](\d{2}))?")


def cleaned(text: str) -> str:
    """The text of a field: without control characters, blanks made one, cut where it is too
    long."""
    shown = "".join(one if one.isprintable() else " " for one in text)
    return " ".join(shown.split())[:LONGEST]


def addressee(about: Mapping[str, str]) -> str:
    """Names and addresses in one line, what names a person first; other fields that a program
    of before kept count as such."""
    others = {Field.REFERENCE, Field.SERVICE, Field.FEE, Field.PIECE}
    named = [one for one in about.items() if one[0] not in others]
    ordered = sorted(named, key=lambda one: "name" not in one[0].casefold())
    return ", ".join(" ".join(value.split()) for _, value in ordered if value.strip())


def described(about: Mapping[str, str]) -> str:
    """All of it but the fee, in one line, for a list."""
    parts = [addressee(about), about.get(Field.PIECE, ""), about.get(Field.SERVICE, "")]
    parts += [f"reference {about[Field.REFERENCE]}"] if about.get(Field.REFERENCE) else []
    return "; ".join(part for part in parts if part)


def amount(text: str) -> Decimal | None:
    """A fee as a number: `8.65`, `$8.65`, `8,65 EUR`, `1,208.65`; None where it is none."""
    found = _AMOUNT.fullmatch(re.sub(r"[^\d.,' ]", "", text).strip())
    if found is None:
        return None
    return Decimal(re.sub(r"\D", "", found[1])) + Decimal(found[2] or "0") / 100


@dataclass(frozen=True, slots=True, kw_only=True)
class Total:
    """Fees together. services: how many pieces declare each service, by name. fees: their sum.
    counted: of how many pieces. unclear: how many fees are no amount."""

    services: Mapping[str, int]
    fees: Decimal
    counted: int
    unclear: int

    @property
    def sentence(self) -> str:
        """The totals in one line; "" where nothing was declared."""
        parts = [f"{name} {count}" for name, count in self.services.items()]
        if self.counted:
            parts.append(f"fees {self.fees:.2f} for {self.counted}")
        if self.unclear:
            parts.append(f"fees that are not an amount: {self.unclear}")
        return "; ".join(parts)


def total(every: Iterable[Mapping[str, str]]) -> Total:
    """Services and fees of these pieces together."""
    services: dict[str, int] = {}
    fees, counted, unclear = Decimal(0), 0, 0
    for about in every:
        if service := about.get(Field.SERVICE, "").strip():
            services[service] = services.get(service, 0) + 1
        if fee := about.get(Field.FEE, "").strip():
            found = amount(fee)
            fees += found or 0
            counted += found is not None
            unclear += found is None
    return Total(services=dict(sorted(services.items())), fees=fees, counted=counted,
                 unclear=unclear)  # fmt: skip
