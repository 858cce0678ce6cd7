"""What a blind reading is to the rule, and what the rule asks of it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol

from pairing.findings import Code
from pairing.model import How, Quad


class Evidence(Protocol):
    """A blind reading of one line of writing."""

    @property
    def best(self) -> str:
        """The likeliest text; "" where nothing was read."""
        ...

    def log_likelihoods(self, texts: Sequence[str]) -> Sequence[float]:
        """The natural logarithm of P(text | picture) for each text; the probabilities of all
        texts there are add up to 1."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Thresholds:
    """In natural-logarithm units, from the calibration stored with the model.

    agrees: by how much the label's number must beat all other texts taken together, and so
        every rival.
    differs: by how much another text must beat the label's number ...
    differs_sure: ... and what share of all probability it must have; or
    differs_far: by how much it must beat the label's number where it has only half of all
        probability: a character is in doubt, but others surely are not the label's.
    differs_one: by how much a text by hand that is the label's but for one digit must beat it: one
        misread digit is met with more often than one miscopied. So many times as much where one
        and the same digit of the label differs in several places.
    asks: a digit is in doubt where another beats it, or comes closer than this.
    """

    agrees: float
    differs: float
    differs_sure: float
    asks: float
    differs_far: float = math.inf
    differs_one: float = 0.0


class Unread(StrEnum):
    """Why a box was not read."""

    EMPTY = "empty"
    NO_NUMBER = "no-number"  # a name, or writing too unclear
    SEVERAL = "several-numbers"
    OTHER_WRITING = "other-writing"  # struck out or added
    CUT = "cut"  # the photo does not show all of it
    STRUCK = "struck"  # a stroke runs through what is written
    BARS_UNREAD = "bars-unread"  # a strip whose bars were not read
    FORM_UNKNOWN = "form-unknown"  # and no single number was found on the card

    @property
    def code(self) -> Code:
        """The code of the finding that says so."""
        return _CODES[self]


_CODES = {
    Unread.EMPTY: Code.BOX_EMPTY,
    Unread.NO_NUMBER: Code.BOX_ILLEGIBLE,
    Unread.SEVERAL: Code.BOX_TWO_NUMBERS,
    Unread.OTHER_WRITING: Code.BOX_STRUCK_OUT,
    Unread.CUT: Code.BOX_CUT,
    Unread.STRUCK: Code.BOX_STRUCK,
    Unread.BARS_UNREAD: Code.BOX_BARS_UNREAD,
    Unread.FORM_UNKNOWN: Code.FORM_UNKNOWN,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """What is written in the card's box, seen in one photo or several, with the label unseen.

    source: the photo (as `Reading.source`); the surest one where there are several.
    how: HAND or PRINT.
    evidence: the distribution over texts; None where there is a `reason`.
    digit_probabilities: for each character of `evidence.best`, all others being as read.
    digit_quads: each character's place in that photo; () where they are not in one line.
    box: the stretch of that photo to look at, px.
    is_by_shape: the box was found by the card's shape, for want of a barcode on the card.
    has_bars: a strip's bars were read in this box too.
    is_over_edge: the writing goes over the box's rules, which may have spoiled a digit.
    spoiled: characters of `evidence.best`, from 1, that look written over or struck out: what
        counts there a person says.
    """

    source: str
    how: How
    evidence: Evidence | None
    reason: Unread | None
    digit_probabilities: tuple[float, ...]
    digit_quads: tuple[Quad, ...]
    box: Quad
    is_by_shape: bool = False
    has_bars: bool = False
    is_over_edge: bool = False
    spoiled: tuple[int, ...] = ()
