"""What the other fields of a card say: addressee, sender, services, signature, date. Pure.

A field is seen as filled, empty, or not to be told (`photos.forms.field_ink`); no number is read
here, and no field helps to read one. Before the card goes out an empty sender's or addressee's
field and the service boxes matter; on a card that came back the signature and its date do.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum

from pairing.findings import Code, Finding, Weight
from pairing.model import Quad

SENDER = "sender"
ADDRESSEE = "addressee"
SIGNATURE = "signature"
DATE = "date"
SERVICE = "service"
NAME = "printed-name"
RESTRICTED = "restricted-delivery"
NAMES = (SENDER, ADDRESSEE, SIGNATURE, DATE, NAME, RESTRICTED, "postmark")
"""What a field may be; besides, `service NAME` for each box of a service."""

SOLID = 0.95
"""A service box whose ink covers this share of it was blotted out; one filled with a pen's strokes
has 0.72 to 0.90 of it, a cross 0.39 to 0.66. Measured on phone photos of the tuned designs of
`tests/benchmarks/fields.py`."""

SETTABLE = (
    Code.SENDER_EMPTY, Code.ADDRESSEE_EMPTY, Code.SERVICE_UNMARKED, Code.SERVICE_TWO,
    Code.SERVICE_BETWEEN, Code.SERVICE_CORRECTED,
)  # fmt: skip
"""Findings that an office may have said as a note only; by default each asks for another look."""

SETTABLE_ON_RETURN = (Code.CARD_UNSIGNED, Code.CARD_UNDATED, Code.SIGNATURE_OUTSIDE)
"""The same of cards that came back; as a note, the last one lets the card count as signed."""


class State(StrEnum):
    """What of a field is seen."""

    FILLED = "filled"
    EMPTY = "empty"
    UNTOLD = "cannot be told"


class Mark(StrEnum):
    """Something odd about where the ink is. BETWEEN: on the border of two service boxes.
    OUTSIDE: nothing in the field, but ink beside it."""

    NONE = ""
    BETWEEN = "between"
    OUTSIDE = "outside"


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldSeen:
    """One field in one photo. share: of its area that people's ink covers; of a marked service
    box, that is nearly as dark as the mark. place: where it is in the photo. only_notes: codes
    that this form's office has as notes."""

    name: str
    state: State
    share: float
    place: Quad | None = None
    mark: Mark = Mark.NONE
    only_notes: tuple[str, ...] = ()


def is_name(name: str) -> bool:
    """Whether a field may be called this."""
    return name in NAMES or (name.startswith(f"{SERVICE} ") and bool(name[len(SERVICE) :].strip()))


def together(seen: Iterable[FieldSeen]) -> tuple[FieldSeen, ...]:
    """Each field once: what is filled in one photo is filled, and what is empty in one and not to
    be told in another is empty."""
    rank = {State.FILLED: 2, State.EMPTY: 1, State.UNTOLD: 0}
    best: dict[str, FieldSeen] = {}
    for one in seen:
        known = best.get(one.name)
        if known is None or (rank[one.state], bool(one.mark)) > (
            rank[known.state], bool(known.mark),
        ):  # fmt: skip
            best[one.name] = one
    return tuple(best.values())


def before_mailing(seen: Sequence[FieldSeen]) -> tuple[Finding, ...]:
    """What is to be said of a card that is to go out."""
    notes = {code for one in seen for code in one.only_notes}
    found = (*_empty(seen), *_services([one for one in seen if one.name.startswith(SERVICE)]))
    return tuple(
        Finding.from_parameters(
            Code.named(one.code),
            dict(one.parameters),
            weight=Weight.NOTE if one.code in notes else Weight.DOUBT,
        )
        for one in found
    )


def on_return(seen: Sequence[FieldSeen]) -> tuple[bool | None, bool | None, tuple[Finding, ...]]:
    """Whether a card that came back is signed, whether it is dated (None where that cannot be
    told), and what is to be said. Writing beside the signature's field is for a person to look at,
    unless the office has it as a note: then it counts as the signature."""
    by_name = {one.name: one for one in seen}
    signature, day = by_name.get(SIGNATURE), by_name.get(DATE)
    if signature is not None and signature.mark is Mark.OUTSIDE:
        is_note = Code.SIGNATURE_OUTSIDE in signature.only_notes
        weight = Weight.NOTE if is_note else Weight.DOUBT
        found = (Finding.of(Code.SIGNATURE_OUTSIDE, weight=weight),)
        return is_note or None, _is_filled(day), found
    return _is_filled(signature), _is_filled(day), ()


def _is_filled(one: FieldSeen | None) -> bool | None:
    if one is None or one.state is State.UNTOLD:
        return None
    return one.state is State.FILLED


def _empty(seen: Iterable[FieldSeen]) -> Iterator[Finding]:
    codes = {SENDER: Code.SENDER_EMPTY, ADDRESSEE: Code.ADDRESSEE_EMPTY}
    for one in seen:
        if one.state is State.EMPTY and one.name in codes:
            yield Finding.of(codes[one.name], weight=Weight.DOUBT)


def _services(boxes: Sequence[FieldSeen]) -> Iterator[Finding]:
    if not boxes:
        return
    if any(one.mark is Mark.BETWEEN for one in boxes):
        yield Finding.of(Code.SERVICE_BETWEEN, weight=Weight.DOUBT)
        return
    marked = [one for one in boxes if one.state is State.FILLED]
    if len(marked) > 1:
        is_blotted = sum(one.share >= SOLID for one in marked) == len(marked) - 1
        code = Code.SERVICE_CORRECTED if is_blotted else Code.SERVICE_TWO
        names = tuple(one.name[len(SERVICE) :].strip() for one in marked)
        yield Finding.of(code, weight=Weight.DOUBT, services=names)
    elif not marked and all(one.state is State.EMPTY for one in boxes):
        yield Finding.of(Code.SERVICE_UNMARKED, weight=Weight.DOUBT)
