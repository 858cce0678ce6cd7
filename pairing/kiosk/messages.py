"""What goes over the wire: bodies that are taken, and answers of the API, as types.

A body is decoded into its type, bounds and all, before anything uses it. The OpenAPI document is
made from the same types (`openapi`), so that it cannot say something else. What the kiosk's own
page sends is in `stations`.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

import msgspec
from msgspec import Meta

from pairing.ledger.entries import Kind
from pairing.ledger.state import State
from pairing.model import Verdict

_Scan = Annotated[str, Meta(max_length=2_000)]
_Person = Annotated[str, Meta(min_length=1, max_length=80)]
_Key = Annotated[str, Meta(max_length=80)]
_Code = Annotated[str, Meta(pattern="^[a-z0-9]+(-[a-z0-9]+)*$")]
_Sentence = Annotated[str, Meta(min_length=1)]
_From1 = Annotated[int, Meta(ge=1)]


class Body(msgspec.Struct, forbid_unknown_fields=True):
    """A body that is taken: a misspelled member must not pass unseen."""


# --- The API for other software ----------------------------------------------------------


class Offer(Body):
    """What was read on one piece."""

    scans: (
        Annotated[
            list[_Scan],
            Meta(max_length=16, description="What the scanner sent, label and card in any order."),
        ]
        | msgspec.UnsetType
    ) = msgspec.UNSET
    strip: Annotated[_Scan, Meta(description="The scan of the strip in the box.")] = ""
    box: Annotated[
        _Scan,
        Meta(description="What a person reads in the box, without having seen the label's number."),
    ] = ""
    desk: _Person = "api"
    operator: _Person = "api"
    record: bool = False
    key: Annotated[_Key, Meta(description="Idempotency key; needed with `record`.")] = ""


class Answer(msgspec.Struct, forbid_unknown_fields=True):
    """An answer; every member is there."""


class Hello(Answer):
    """That the service is there."""

    name: Literal["counterfoil"]
    version: str


class Finding(Answer):
    """One thing worth saying."""

    code: _Code
    message: _Sentence
    positions: Annotated[
        list[_From1],
        Meta(description="Digit positions, from 1, in the number that the message speaks of."),
    ]


class Entry(Answer):
    """An entry of the ledger."""

    sequence: _From1
    at: str
    kind: Kind
    desk: str
    operator: str
    article: str | None
    card: str | None
    written: str | None
    verdict: Verdict | None


class Checked(Answer):
    """What became of an offer. `piece` has the command line's shape (`Piece`)."""

    piece: dict[str, Any]
    entry: Entry | None
    is_repeated: bool
    may_seal: Annotated[
        bool, Meta(description="The piece is recorded as sealed, on the disk, and was not voided.")
    ]


class Part(Answer):
    """A named stretch of a number."""

    name: str
    text: str


class KnownPiece(Answer):
    """A piece of the ledger that bears the number."""

    entry: int
    at: str
    state: State
    desk: str
    article: str | None
    card: str | None


class KnownExpectation(Answer):
    """A pair of an expected list that has the number."""

    article: str | None
    card: str | None
    source: str
    is_withdrawn: bool


class Known(Answer):
    """What a number is, and what the ledger knows of it."""

    given: str
    is_valid: bool
    number: Annotated[
        str | None, Meta(description="Canonical; null where it is not a valid number.")
    ]
    printed: str
    family: str | None
    title: str | None
    role: str | None
    check_rule: str | None
    parts: list[Part]
    message: str
    findings: list[Finding]
    pieces: list[KnownPiece]
    expected: list[KnownExpectation]


class Error(Answer):
    """Why a request was not served."""

    code: _Code
    message: _Sentence
    action: str


class Refusal(Answer):
    """A request that was not served."""

    error: Error


# --- The kiosk's own pages ---------------------------------------------------------------


class Token(Body):
    """An access token."""

    token: Annotated[str, Meta(max_length=200)]


class Sought(Body):
    """What the operator looks for."""

    text: Annotated[str, Meta(max_length=200)]


class Named(Body):
    """A form by its name."""

    name: Annotated[str, Meta(max_length=60)]


_Px = Annotated[float, Meta(ge=-10_000, le=100_000)]
_Mm = Annotated[float, Meta(ge=1, le=1_000)]


class TaughtForm(Body):
    """A form as the operator marked it in a photo: corners in px, from the top left clockwise."""

    name: Annotated[str, Meta(min_length=1, max_length=60)]
    wide_mm: _Mm
    high_mm: _Mm
    card: Annotated[list[tuple[_Px, _Px]], Meta(min_length=4, max_length=4)]
    box: Annotated[list[tuple[_Px, _Px]], Meta(min_length=4, max_length=4)]


class CameBack(Body):
    """A card that came back, as the operator gives it. is_signed: null where nobody said."""

    card: _Scan
    box: _Scan = ""
    is_signed: bool | None = None
    signed: Annotated[str, Meta(pattern=r"^(\d{4}-\d{2}-\d{2})?$")] = ""
    name: Annotated[str, Meta(max_length=200)] = ""


class Pin(Body):
    """An operator's PIN."""

    pin: Annotated[str, Meta(max_length=64)]
