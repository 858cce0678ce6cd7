"""The rows of a blind spot table, built class by class."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import partial

from pairing.blindspots import BlindSpot
from pairing.compare.kinds import CopyError
from pairing.model import Family
from pairing.numbers.grouping import bounds
from tests.blindspots.engine import errorclasses as classes
from tests.blindspots.engine import examples
from tests.blindspots.engine.edits import Count
from tests.blindspots.engine.schemes import Scheme, scheme_for


@dataclass(frozen=True, slots=True, kw_only=True)
class _Class:
    """An error class: what to call it, Verhoeff's count, and how to count it here."""

    code: str
    title: str
    error: CopyError | None
    seen: int | None
    counter: Callable[[Scheme], Count]


def _wrong(k: int) -> Callable[[Scheme], Count]:
    return lambda scheme: classes.wrong_digits(scheme)[k]


_SEVERAL = CopyError.SEVERAL_DIGITS
_CLASSES = tuple(
    _Class(code=code, title=title, error=error, seen=seen, counter=counter)
    for code, title, error, seen, counter in (
        ("one-digit", "one digit", CopyError.ONE_DIGIT, 9574, classes.single),
        (
            "adjacent-swap",
            "two adjacent digits swapped (ab, ba)",
            CopyError.ADJACENT_SWAP,
            1237,
            partial(classes.swap, gap=1),
        ),
        (
            "jump-swap",
            "two digits swapped across one (abc, cba)",
            CopyError.JUMP_SWAP,
            99,
            partial(classes.swap, gap=2),
        ),
        ("twin", "twin (aa, bb)", CopyError.TWIN, 67, partial(classes.twin, gap=1)),
        ("phonetic", "phonetic (a0, 1a)", CopyError.PHONETIC, 59, classes.phonetic),
        (
            "jump-twin",
            "jump twin (aca, bcb)",
            CopyError.JUMP_TWIN,
            35,
            partial(classes.twin, gap=2),
        ),
        ("other-adjacent", "two adjacent digits, otherwise", None, 232, classes.other_adjacent),
        ("other-jump", "two digits around one, otherwise", None, 43, classes.other_jump),
        ("two-far", "two digits further apart", _SEVERAL, 98, classes.two_far),
        ("three", "three digits", _SEVERAL, 169, _wrong(3)),
        ("four", "four digits", _SEVERAL, 118, _wrong(4)),
        ("five", "five digits", _SEVERAL, 219, _wrong(5)),
        ("six", "six digits", _SEVERAL, 162, _wrong(6)),
        ("two-any", "any two wrong digits", None, None, _wrong(2)),
        (
            "shifted",
            "one digit lost, another put in elsewhere",
            CopyError.SHIFTED,
            None,
            classes.shifted,
        ),
    )
)


def table_rows(
    family: Family, scheme: Scheme | None, length: int, example: str | None
) -> tuple[BlindSpot, ...]:
    """All rows for one length of a family; without a scheme every share of 1 is by form."""
    rows = [_counted(one, scheme) for one in (*_CLASSES, *_group_classes(family, scheme))]
    rows += _length_rows(family, scheme, length)
    if scheme is None:
        return (*rows, *_whole_rows())
    if scheme.digits < length:
        rows += _letter_rows()
    numbers = examples.starts(scheme, example)
    shown = [
        replace(row, example=examples.find(row.code, scheme, numbers, family.group_sizes))
        if row.share and row.code not in {"dropped", "extra", "truncated"}
        else row
        for row in rows
    ]
    return (*shown, *_whole_rows(examples.whole_numbers(scheme, numbers)))


def _counted(one: _Class, scheme: Scheme | None) -> BlindSpot:
    count = one.counter(scheme) if scheme else Count(all=1, passed=1)
    return BlindSpot(
        code=one.code,
        title=one.title,
        # A class without a single case (no two groups of one size) misses nothing.
        share=Fraction(count.passed, count.all or 1),
        error=one.error,
        verhoeff_count=one.seen,
        why="" if scheme else "no check digit",
    )


def _group_classes(family: Family, scheme: Scheme | None) -> Iterable[_Class]:
    swapped = partial(classes.group_swap, group_sizes=family.group_sizes)
    yield _Class(
        code="groups",
        title="two printed groups swapped (any two)",
        error=CopyError.GROUP_SWAP,
        seen=None,
        counter=swapped,
    )
    if scheme is None:
        return
    inside = [
        end - start
        for start, end in bounds(scheme.length, family.group_sizes)
        if scheme.start <= start and end <= scheme.start + scheme.digits
    ]
    size = max(inside, key=inside.count, default=0)
    if inside.count(size) > 1:
        yield _Class(
            code="groups-full",
            title=f"two printed {size}-digit groups swapped",
            error=CopyError.GROUP_SWAP,
            seen=None,
            counter=partial(swapped, size=size),
        )


def _length_rows(family: Family, scheme: Scheme | None, length: int) -> Iterable[BlindSpot]:
    """Errors that change the length: caught by it, unless the family knows the new one."""

    def share(other: int, counter: Callable[[Scheme, Scheme], Count]) -> Fraction:
        target = scheme_for(family.check_rule, other) if other in family.lengths else None
        if scheme is None or target is None:
            return Fraction(int(other in family.lengths))
        count = counter(scheme, target)
        return Fraction(count.passed, count.all)

    shorter = [share(kept, classes.truncated) for kept in range(1, length - 1)]
    figures = (
        ("dropped", "one digit missing", CopyError.DROPPED, share(length - 1, classes.dropped)),
        ("extra", "one digit too many", CopyError.EXTRA, share(length + 1, classes.extra)),
        (
            "truncated",
            "two or more digits missing at one end",
            CopyError.TRUNCATED,
            sum(shorter, Fraction()) / len(shorter),
        ),
    )
    for code, title, error, missed in figures:
        why = "the new length is one of this family too" if missed else "the length gives it away"
        yield BlindSpot(code=code, title=title, error=error, share=missed, why=why)


def _letter_rows() -> list[BlindSpot]:
    why = "the check digit does not cover the letters"
    return [
        BlindSpot(code="letter", title="one letter", share=Fraction(1), why=why,
                  error=CopyError.ONE_DIGIT),
        BlindSpot(code="letters-swapped", title="two adjacent letters swapped",
                  share=Fraction(1), why=why, error=CopyError.ADJACENT_SWAP),
    ]  # fmt: skip


_WHOLE_TITLES = {
    CopyError.CARD_OWN: ("card-own", "the card's own number"),
    CopyError.OTHER_PIECE: ("other-piece", "another piece's number"),
    CopyError.PAD_NEIGHBOR: ("pad-neighbour", "a neighbor on the same pad"),
}


def _whole_rows(
    shown: dict[CopyError, tuple[str, str]] | None = None,
) -> list[BlindSpot]:
    return [
        BlindSpot(
            code=code,
            title=title,
            error=error,
            share=Fraction(1),
            example=(shown or {}).get(error),
            why="it is a valid number",
        )
        for error, (code, title) in _WHOLE_TITLES.items()
    ]
