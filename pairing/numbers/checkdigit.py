"""Check digits worked out step by step, so that a person can follow them with a pencil.

The mod-10 digit itself comes from python-stdnum (`stdnum.ean`, the GS1 algorithm of
General Specifications 7.9.1); this module adds the steps.
"""

from __future__ import annotations

from dataclasses import dataclass

from stdnum import ean

from pairing.errors import NotCalculable
from pairing.model import CheckRule
from pairing.numbers import text as texts

S10_WEIGHTS = (8, 6, 4, 2, 3, 5, 9, 7)
"""UPU S10-12, check digit: weights of the eight serial digits, left to right."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckWork:
    """A check digit's calculation.

    digits, weights, products: one entry a digit, left to right.
    digit: the check digit that results.
    lines: the calculation in words, one step a line.
    """

    rule: CheckRule
    digits: str
    weights: tuple[int, ...]
    products: tuple[int, ...]
    digit: str
    lines: tuple[str, ...]


def mod10(data: str) -> str:
    """The GS1 mod-10 check digit over `data` (ASCII digits, check digit left out).

    Raises NotCalculable for anything but digits.
    """
    _require(texts.is_digits(data), data, "digits only")
    return str(ean.calc_check_digit(data))


def s10(serial: str) -> str:
    """The S10 check digit over eight ASCII digits: 11 - (sum mod 11), with 10 -> 0 and 11 -> 5.

    Raises NotCalculable for anything else.
    """
    _require(texts.is_digits(serial) and len(serial) == len(S10_WEIGHTS), serial, "eight digits")
    rest = 11 - sum(w * int(d) for w, d in zip(S10_WEIGHTS, serial, strict=True)) % 11
    return {10: "0", 11: "5"}.get(rest, str(rest))


def work_out(data: str, rule: CheckRule) -> CheckWork | None:
    """The steps for `data` (digits that the check digit covers); None where there is no rule.

    Raises NotCalculable where `data` is not what the rule covers.
    """
    if rule is CheckRule.S10_MOD11:
        return _s10_work(data)
    if rule is CheckRule.MOD10:
        return _mod10_work(data, rule)
    if rule is CheckRule.MOD10_AI91:
        return _mod10_work("91" + data, rule)
    return None


def _require(holds: bool, data: str, wanted: str) -> None:
    if not holds:
        raise NotCalculable(
            "There is no check digit for this", where=data, remedy=f"Give {wanted}."
        )


def _mod10_work(digits: str, rule: CheckRule) -> CheckWork:
    digit = mod10(digits)
    weights = tuple(3 if (len(digits) - index) % 2 else 1 for index in range(len(digits)))
    products = tuple(w * int(d) for w, d in zip(weights, digits, strict=True))
    threes = sum(int(d) for w, d in zip(weights, digits, strict=True) if w == 3)
    ones = sum(int(d) for w, d in zip(weights, digits, strict=True) if w == 1)
    total = sum(products)
    return CheckWork(
        rule=rule,
        digits=digits,
        weights=weights,
        products=products,
        digit=digit,
        lines=(
            f"every second digit, starting with the last one before the check digit: "
            f"sum {threes}, times 3 = {threes * 3}",
            f"the other digits: sum {ones}",
            f"together {threes * 3} + {ones} = {total}",
            f"up to the next multiple of ten: {total} + {digit} = {total + int(digit)}",
        ),
    )


def _s10_work(serial: str) -> CheckWork:
    digit = s10(serial)
    products = tuple(w * int(d) for w, d in zip(S10_WEIGHTS, serial, strict=True))
    total = sum(products)
    rest = 11 - total % 11
    folded = f", and {rest} is written {digit}" if rest > 9 else ""
    return CheckWork(
        rule=CheckRule.S10_MOD11,
        digits=serial,
        weights=S10_WEIGHTS,
        products=products,
        digit=digit,
        lines=(
            "weights 8 6 4 2 3 5 9 7: "
            + " + ".join(f"{w}x{d}" for w, d in zip(S10_WEIGHTS, serial, strict=True))
            + f" = {total}",
            f"{total} divided by 11 leaves {total % 11}",
            f"11 - {total % 11} = {rest}{folded}",
        ),
    )
