"""What may be taken as read: who saw a text, and how independent they are.

Rules, for Code 128:

* Two engines that say the same are two witnesses. So are two readings of disjoint
  bands of the bars. Two passes of one engine over the same pixels repeat each
  other's errors: one witness.
* A place that is read in two ways is read in none.
* Where only one engine supports both bands, a number that claims a mod-10
  check digit must also pass it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from pairing.findings import Code, Finding
from pairing.model import Quad
from pairing.numbers import checkdigit, s10
from pairing.numbers.text import is_digits
from pairing.photos.barcodes.engines import CODE_128, ZXING, Detection

WHOLE, UPPER, LOWER = "", "upper band", "lower band"
PROFILE = "profile"
"""The name under which our own reader (`likelihood`) bears witness."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Vote:
    """One reading of one place.

    band: `WHOLE`, or the disjoint part of the bars that was looked at.
    aim: "" where the engine does not tell.
    exact: whether `quad` was measured on the bars.
    """

    engine: str
    band: str
    text: str
    aim: str
    kind: str
    quad: Quad
    exact: bool = True

    @classmethod
    def of(cls, detection: Detection, quad: Quad, *, exact: bool = True) -> Vote:
        """What an engine read of the whole symbol."""
        return cls(
            engine=detection.engine,
            band=WHOLE,
            text=detection.text,
            aim=detection.aim,
            kind=detection.kind,
            quad=quad,
            exact=exact,
        )

    @property
    def witness(self) -> str:
        return f"{self.engine}, {self.band}" if self.band else self.engine


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What the votes on one place come to; at most one of the two is set."""

    accepted: tuple[Vote, ...] = ()
    finding: Finding | None = None


def same_text(first: Vote, second: Vote) -> bool:
    """Whether two votes say the same; an engine that cannot tell may leave high bits out."""
    if first.kind != second.kind:
        return False
    if first.text == second.text:
        return not (first.aim and second.aim) or first.aim == second.aim
    teller, other = (first, second) if first.aim else (second, first)
    return not other.aim and other.text == "".join(chr(ord(c) & 0x7F) for c in teller.text)


def outcome(votes: Sequence[Vote]) -> Outcome:
    """Weigh all votes on one place."""
    parties: list[list[Vote]] = []
    for vote in sorted(votes, key=lambda v: not v.aim):
        home = next((p for p in parties if same_text(p[0], vote)), None)
        if home is None:
            parties.append([vote])
        else:
            home.append(vote)
    if not parties:
        return Outcome()
    if len(parties) > 1:
        return Outcome(finding=_disagreement(parties))
    (party,) = parties
    if party[0].kind != CODE_128 or is_enough(party):
        return Outcome(accepted=tuple(party))
    return Outcome(finding=_lonely(party[0]))


def is_enough(party: Sequence[Vote]) -> bool:
    """Whether votes of one text come from two independent witnesses."""
    if len({v.engine for v in party}) >= 2:
        return True
    bands = {v.band for v in party}
    if not {UPPER, LOWER} <= bands:
        return False
    return not claims_mod10(party[0].text) or passes_mod10(party[0].text)


def claims_mod10(text: str) -> bool:
    """Whether a text is a number that ends in a mod-10 check digit.

    20 or 22 digits of the families 7x and 9x, or a routing code 420 before one
    (package numbers as in the USPS Parcel Labeling Guide 5.1; 26-digit ones too).
    """
    number = _without_routing(text)
    return is_digits(number) and (
        (len(number) == 20 and number[0] in "79") or (len(number) in (22, 26) and number[0] == "9")
    )


def is_checked(text: str) -> bool:
    """Whether a text is a number with a check digit, and the digit holds."""
    return passes_mod10(text) if claims_mod10(text) else s10.is_valid(text)


def passes_mod10(text: str) -> bool:
    """Weights 3 and 1 from the right, as it stands or with 91 in front (20 digits).

    text: one for which `claims_mod10` holds; others raise `errors.NotCalculable`.
    The rule: IBM/AFP "Bar Code Object Content Architecture Reference", Code 128
    modifier X'06'; the 91: USPS Publication 91, by way of open tracking data.
    """
    number = _without_routing(text)
    forms = [number, "91" + number] if len(number) == 20 else [number]
    return any(checkdigit.mod10(form[:-1]) == form[-1] for form in forms)


def _without_routing(text: str) -> str:
    head, separator, tail = text.partition("\x1d")
    if separator and head.startswith("420") and len(head) in (8, 12):
        return tail
    routing = {30: 8, 34: 12}.get(len(text))
    if routing and text.startswith("420") and text[routing] == "9":
        return text[routing:]
    return text


def _disagreement(parties: Sequence[Sequence[Vote]]) -> Finding:
    return Finding.of(
        Code.ENGINES_DISAGREE,
        readings=tuple(f"{party[0].kind} {party[0].text!r}" for party in parties),
        witnesses=tuple(", ".join(dict.fromkeys(v.witness for v in party)) for party in parties),
    )


def _lonely(vote: Vote) -> Finding:
    return Finding.of(Code.ONE_WITNESS, witness=vote.engine, reading=f"{vote.kind} {vote.text!r}")


def best_placed(party: Sequence[Vote]) -> Vote:
    """The vote whose quad describes the symbol best."""
    return min(party, key=lambda v: (not v.exact, v.band != WHOLE, v.engine != ZXING))
