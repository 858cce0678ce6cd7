"""The values that pass between the rooms: frozen, slotted, keyword-only.

No arithmetic on numbers happens here; `numbers` makes these values, `judge`
weighs them, the shells show them. Coordinates are pixels with the origin at the
photo's top left corner, x to the right, y down.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from pairing.findings import Code, Finding, Weight

GS = "\x1d"
"""A decoder sends it for an FNC1 inside a GS1-128 symbol (GS1 General Specifications; memory)."""


class Role(StrEnum):
    """What a number is for."""

    ARTICLE = "article"
    CARD = "card"
    ROUTING = "routing"
    OTHER = "other"


class Side(StrEnum):
    """Where on the piece something was read."""

    LABEL = "label"
    CARD = "card"
    BOX = "box"
    UNPLACED = "unplaced"


class How(StrEnum):
    """By what means something was read."""

    BARCODE = "barcode"
    PRINT = "print"
    HAND = "hand"
    KEYED = "keyed"
    PART_KEYED = "partly keyed"  # read, and the digits in doubt keyed by a person


class Verdict(StrEnum):
    """The answer for one piece."""

    AGREES = "agrees"
    DIFFERS = "differs"
    UNREAD = "unread"

    @property
    def clerk_word(self) -> str:
        """What the clerk is to do."""
        return _CLERK_WORDS[self]


_CLERK_WORDS = {
    Verdict.AGREES: "Seal",
    Verdict.DIFFERS: "Do not seal",
    Verdict.UNREAD: "Look again",
}


class CheckRule(StrEnum):
    """Which convention a check digit was found to follow."""

    MOD10 = "mod-10, weights 3 and 1"
    MOD10_AI91 = "mod-10, weights 3 and 1, computed with 91 in front"
    S10_MOD11 = "S10 weighted mod-11"
    NONE = "none"


@dataclass(frozen=True, slots=True, kw_only=True)
class Family:
    """A number family as data.

    name: the short name that commands take.
    title: what people call it.
    role: the role of its members.
    lengths: how many characters a canonical number has.
    group_sizes: the printed grouping; the last size repeats and the tail may be short.
    check_rule: its check digit's convention.
    source: where its structure is written down.
    """

    name: str
    title: str
    role: Role
    lengths: tuple[int, ...]
    group_sizes: tuple[int, ...]
    check_rule: CheckRule
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A named stretch of a canonical number; `start` is its 0-based index."""

    name: str
    text: str
    start: int


@dataclass(frozen=True, slots=True, kw_only=True)
class TrackingNumber:
    """A number of a known family whose structure and check digit hold.

    text: canonical, without blanks, routing prefix or symbology identifier.
    check_rule: the convention that held (a family may know two).
    routing: the postal code that preceded the number in the bars, if any.
    given: what was read, untouched.
    """

    family: Family
    text: str
    parts: tuple[Part, ...]
    role: Role
    check_rule: CheckRule
    given: str
    routing: str = ""
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Rejection:
    """Something read that is no valid number of a known family.

    text: what was read, without blanks and separators.
    reason: why; its positions are those in `text` that are at fault, where that is known.
    likely: name of the family that it most resembles, or "".
    """

    given: str
    text: str
    reason: Finding
    likely: str = ""

    @property
    def code(self) -> Code | str:
        """The reason's code, one of `findings.REFUSALS`."""
        return self.reason.code

    @property
    def message(self) -> str:
        """The reason in one sentence."""
        return self.reason.message

    @property
    def action(self) -> str:
        """What to do now; one sentence."""
        return self.reason.action

    @property
    def positions(self) -> tuple[int, ...]:
        """1-based positions in `text` that are at fault, where that is known."""
        return self.reason.positions


Number = TrackingNumber | Rejection


@dataclass(frozen=True, slots=True, kw_only=True)
class Quad:
    """Four corners (x, y) in px: top left, top right, bottom right, bottom left,
    as seen by someone who reads the symbol from its start to its end."""

    top_left: tuple[float, float]
    top_right: tuple[float, float]
    bottom_right: tuple[float, float]
    bottom_left: tuple[float, float]

    @property
    def corners(self) -> tuple[tuple[float, float], ...]:
        return (self.top_left, self.top_right, self.bottom_right, self.bottom_left)

    @property
    def center(self) -> tuple[float, float]:
        (ax, ay), (bx, by), (cx, cy), (dx, dy) = self.corners
        return (ax + bx + cx + dx) / 4, (ay + by + cy + dy) / 4

    def through(self, last: Quad) -> Quad:
        """From the start of this to the end of `last`, which is further along the line."""
        return Quad(
            top_left=self.top_left,
            top_right=last.top_right,
            bottom_right=last.bottom_right,
            bottom_left=self.bottom_left,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Symbol:
    """One barcode in one photo.

    text: what its bars say, FNC1 inside as GS; a leading FNC1 shows in `aim` alone.
    aim: the ISO/IEC 15424 symbology identifier (`]C0`, `]C1`, ...) or "".
    kind: the symbology's name ("Code 128", "EAN-13", ...).
    quad: each edge measured on the bars if `is_measured`, else a slice where a decoder met them.
    angle_deg: the reading direction, clockwise from the photo's x axis.
    x_px: the narrow bar's width (X) in the photo, 0.0 where not measured.
    witnesses: the independent means that read exactly this text.
    """

    text: str
    aim: str
    kind: str
    quad: Quad
    angle_deg: float
    x_px: float
    witnesses: tuple[str, ...]
    is_measured: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Scan:
    """One thing that a wedge scanner or a keyboard sent.

    raw: the keystrokes as they came.
    text: what they mean, cleaned; FNC1 as GS.
    aim: the symbology identifier that came with them, or "".
    number: what `text` is.
    findings: set-up faults, splits, repairs and questions.
    suggested: what `text` would be if a person says yes to the question among the
        findings; never used without that answer.
    """

    raw: str
    text: str
    aim: str
    number: Number
    findings: tuple[Finding, ...] = ()
    suggested: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One number read on one side of a piece, by one means.

    source: what it came from ("mail/front.jpg", "scan", "keyed"); two readings of one frame
        have the same.
    quad: its place in that photo; None for scans and keyed entries.
    """

    side: Side
    how: How
    number: Number
    source: str
    quad: Quad | None = None
    findings: tuple[Finding, ...] = ()

    @property
    def in_doubt(self) -> bool:
        """Whether the reading, or the number that it gave, cannot be relied on."""
        own = self.number.findings if isinstance(self.number, TrackingNumber) else ()
        return any(finding.weight is Weight.DOUBT for finding in (*self.findings, *own))


@dataclass(frozen=True, slots=True, kw_only=True)
class ExpectedPair:
    """A pair that another system says it printed; canonical numbers."""

    article: str
    card: str | None
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class EarlierUse:
    """A piece that was seen before; canonical numbers, `piece` names it to people."""

    piece: str
    article: str | None
    card: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgment:
    """The answer for one piece.

    article, card: canonical; None where not exactly one was read. written: what is in the
    box; None where nothing, or two different things, were read there.
    """

    verdict: Verdict
    article: str | None
    card: str | None
    written: str | None
    written_by: How | None
    findings: tuple[Finding, ...]
