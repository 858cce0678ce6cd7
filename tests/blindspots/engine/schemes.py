"""The additive check schemes: weights, a modulus, and what a remainder is folded into.

A scheme covers a stretch of digits of which the last is the check digit.

Mod-10: weights 3, 1, 3, 1, ... from the right of the data (GS1 General Specifications
7.9.1; BCOCA Code 128 modifier X'06' for IMpb). With application identifier 91 in front
the weights go on to the left: a number of even length has 9*3 + 1*1 = 28 more in its sum.
S10: weights 8 6 4 2 3 5 9 7 mod 11; 11 - remainder, 10 -> 0, 11 -> 5 (UPU S10-12).
"""

from __future__ import annotations

from dataclasses import dataclass

from pairing.errors import CounterfoilError
from pairing.model import CheckRule
from pairing.numbers.checkdigit import S10_WEIGHTS
from pairing.numbers.text import is_digits

MIN_LENGTH = 8
"""The shortest number with a mod-10 check digit that GS1 knows (GTIN-8)."""

_S10_LENGTH = 13
_S10_START = 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Scheme:
    """An additive check scheme over `len(weights)` data digits and a check digit.

    start: 0-based index in the whole number where the covered digits begin.
    length: characters of the whole number.
    weights: one per data digit, from the left.
    offset: what digits that are not written down add to the sum.
    folds: the check digit for each remainder of the sum, `len(folds)` is the modulus.
    """

    start: int
    length: int
    weights: tuple[int, ...]
    offset: int
    folds: tuple[int, ...]

    @property
    def modulus(self) -> int:
        return len(self.folds)

    @property
    def digits(self) -> int:
        """How many digits the scheme covers, its check digit included."""
        return len(self.weights) + 1

    def check_digit(self, data: str) -> str:
        """The check digit for the covered digits without it."""
        total = self.offset + sum(
            w * int(digit) for w, digit in zip(self.weights, data, strict=True)
        )
        return str(self.folds[total % self.modulus])

    def accepts(self, text: str) -> bool:
        """Whether a whole number has the right shape and check digit."""
        covered = text[self.start : self.start + self.digits]
        around = text[: self.start] + text[self.start + self.digits :]
        return (
            len(text) == self.length
            and is_digits(covered)
            and (not around or (around.isascii() and around.isalpha() and around.isupper()))
            and self.check_digit(covered[:-1]) == covered[-1]
        )


def scheme_for(rule: CheckRule, length: int) -> Scheme | None:
    """The scheme of numbers of `length` characters; None for CheckRule.NONE."""
    if rule is CheckRule.NONE:
        return None
    if rule is CheckRule.S10_MOD11:
        _require(length == _S10_LENGTH, length, "Give 13, the length of a UPU S10 number.")
        folds = tuple({10: 0, 11: 5}.get(11 - r, 11 - r) for r in range(11))
        return Scheme(start=_S10_START, length=length, weights=S10_WEIGHTS, offset=0, folds=folds)
    _require(length >= MIN_LENGTH, length, f"Give a length of at least {MIN_LENGTH}.")
    data = length - 1
    weights = tuple(3 if (data - index) % 2 else 1 for index in range(data))
    ahead = [3 if (data + place) % 2 else 1 for place in (2, 1)]
    offset = 9 * ahead[0] + 1 * ahead[1] if rule is CheckRule.MOD10_AI91 else 0
    return Scheme(
        start=0,
        length=length,
        weights=weights,
        offset=offset,
        folds=tuple(-r % 10 for r in range(10)),
    )


def _require(fits: bool, length: int, remedy: str) -> None:
    if not fits:
        raise CounterfoilError(
            "The check digit rule has no numbers of this length", where=length, remedy=remedy
        )
