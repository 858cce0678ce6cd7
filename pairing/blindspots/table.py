"""How often a family's check digit misses each copying error: exact shares.

A share is over all valid numbers of the length, all places and all new digits, each
counted alike, given that the number changed. Nothing is simulated: `figures` was counted by
`tests/blindspots/engine`, and the tests count it again.

Real numbers are not uniformly random: a family's fixed first digits (9590 94..., 9407...)
are known, and checking them catches errors there that the check digit misses. The shares
are those of the check digit together with the form (length; letters and digits in their
places), and of nothing else.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

from pairing.blindspots.figures import FIGURES
from pairing.compare import CopyError
from pairing.compare.error_shares import VERHOEFF_COUNTS, VERHOEFF_TOTAL
from pairing.errors import CounterfoilError
from pairing.model import CheckRule, Family


@dataclass(frozen=True, slots=True, kw_only=True)
class BlindSpot:
    """One class of copying error.

    code: stable, lower case with hyphens.
    share: of the errors of this class, how many pass the form and the check digit.
    error: the kind that `compare` would name, None where the class has no name there.
    verhoeff_count: how many of VERHOEFF_TOTAL errors were of this class (from memory);
        None where his data have no such class.
    example: (valid number, altered number that passes), None where there is none to show.
    why: a remark where the share needs no counting, else "".
    """

    code: str
    title: str
    share: Fraction
    error: CopyError | None = None
    verhoeff_count: int | None = None
    example: tuple[str, str] | None = None
    why: str = ""

    @property
    def verhoeff_share(self) -> Fraction | None:
        """The class's share of Verhoeff's errors."""
        count = self.verhoeff_count
        return None if count is None else Fraction(count, VERHOEFF_TOTAL)


@dataclass(frozen=True, slots=True, kw_only=True)
class BlindspotTable:
    """What the check digit of one family misses, for one length.

    weighted: the share of numbers with one error that pass, the classes weighted by
        Verhoeff's counts (`compare.error_shares`).
    notes: what the figures do not say, one sentence each.
    """

    family: str
    check_rule: CheckRule
    length: int
    rows: tuple[BlindSpot, ...]
    weighted: Fraction
    notes: tuple[str, ...]

    def row(self, code: str) -> BlindSpot:
        """The row of that code; an unknown code is an error."""
        for row in self.rows:
            if row.code == code:
                return row
        raise CounterfoilError(
            "The table has no such row",
            where=code,
            remedy=f"Ask for one of {', '.join(row.code for row in self.rows)}.",
        )


KINDS: dict[str, tuple[str, CopyError | None, int | None]] = {
    "one-digit": ("one digit", CopyError.ONE_DIGIT, VERHOEFF_COUNTS[CopyError.ONE_DIGIT]),
    "adjacent-swap": (
        "two adjacent digits swapped (ab, ba)",
        CopyError.ADJACENT_SWAP,
        VERHOEFF_COUNTS[CopyError.ADJACENT_SWAP],
    ),
    "jump-swap": (
        "two digits swapped across one (abc, cba)",
        CopyError.JUMP_SWAP,
        VERHOEFF_COUNTS[CopyError.JUMP_SWAP],
    ),
    "twin": ("twin (aa, bb)", CopyError.TWIN, VERHOEFF_COUNTS[CopyError.TWIN]),
    "phonetic": ("phonetic (a0, 1a)", CopyError.PHONETIC, VERHOEFF_COUNTS[CopyError.PHONETIC]),
    "jump-twin": (
        "jump twin (aca, bcb)",
        CopyError.JUMP_TWIN,
        VERHOEFF_COUNTS[CopyError.JUMP_TWIN],
    ),
    "other-adjacent": ("two adjacent digits, otherwise", None, 232),
    "other-jump": ("two digits around one, otherwise", None, 43),
    "two-far": ("two digits further apart", CopyError.SEVERAL_DIGITS, 98),
    "three": ("three digits", CopyError.SEVERAL_DIGITS, 169),
    "four": ("four digits", CopyError.SEVERAL_DIGITS, 118),
    "five": ("five digits", CopyError.SEVERAL_DIGITS, 219),
    "six": ("six digits", CopyError.SEVERAL_DIGITS, 162),
    "two-any": ("any two wrong digits", None, None),
    "shifted": ("one digit lost, another put in elsewhere", CopyError.SHIFTED, None),
    "groups": ("two printed groups swapped (any two)", CopyError.GROUP_SWAP, None),
    "groups-full": ("two printed {size}-digit groups swapped", CopyError.GROUP_SWAP, None),
    "dropped": ("one digit missing", CopyError.DROPPED, None),
    "extra": ("one digit too many", CopyError.EXTRA, None),
    "truncated": ("two or more digits missing at one end", CopyError.TRUNCATED, None),
    "letter": ("one letter", CopyError.ONE_DIGIT, None),
    "letters-swapped": ("two adjacent letters swapped", CopyError.ADJACENT_SWAP, None),
    "card-own": ("the card's own number", CopyError.CARD_OWN, None),
    "other-piece": ("another piece's number", CopyError.OTHER_PIECE, None),
    "pad-neighbour": ("a neighbor on the same pad", CopyError.PAD_NEIGHBOR, None),
}
"""The classes in the table's order: title, the kind that `compare` names, and Verhoeff's count
(from memory) of those that are not one of ours alone."""


def weighted(rows: Iterable[BlindSpot]) -> Fraction:
    """The share that passes when errors come as often as in Verhoeff's data."""
    return sum((row.share * (row.verhoeff_share or 0) for row in rows), Fraction())


def blindspots(family: Family, *, length: int | None = None) -> BlindspotTable:
    """The table for a family's numbers of one length (by default its first).

    Raises CounterfoilError for a length that the family does not have, and for a family that
    nothing was counted for.
    """
    length = family.lengths[0] if length is None else length
    if length not in family.lengths or (family.name, length) not in FIGURES:
        raise CounterfoilError(
            f"The family {family.name} has no numbers of this length",
            where=length,
            remedy=f"Give one of {', '.join(map(str, family.lengths))}.",
        )
    figures = FIGURES[family.name, length]
    rows = tuple(_row(code, figures.group_digits, *values) for code, values in figures.rows.items())
    return BlindspotTable(
        family=family.name,
        check_rule=family.check_rule,
        length=length,
        rows=rows,
        weighted=weighted(rows),
        notes=notes(family),
    )


def _row(
    code: str, group_digits: int, share: str, example: tuple[str, str] | None, why: str
) -> BlindSpot:
    title, error, count = KINDS[code]
    return BlindSpot(
        code=code,
        title=title.format(size=group_digits),
        share=Fraction(share),
        error=error,
        verhoeff_count=count,
        example=example,
        why=why,
    )


def notes(family: Family) -> tuple[str, ...]:
    """What a family's figures do not say."""
    found = [
        "The weights are Verhoeff's counts of 1969 from six-digit numbers, as remembered; "
        "missing and added digits are not among them.",
        "Letters, fixed first digits and whole other numbers are not weighed in.",
    ]
    if family.check_rule is CheckRule.NONE:
        return ("These numbers have no check digit.", *found)
    if family.check_rule is CheckRule.S10_MOD11:
        found.append(
            "The check digit does not cover the letters: an error in them is never caught by it."
        )
    if family.lengths == (20,):
        found.append(
            "Where both mod-10 conventions (with and without 91 in front) are accepted, "
            "the check is weaker than these figures."
        )
    return tuple(found)
