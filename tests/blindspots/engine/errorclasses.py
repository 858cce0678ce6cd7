"""Exact counts for each class of copying error under one additive scheme.

Every place, every new digit and every valid original counts alike, given that the number
changed. Places are those of the digits that the scheme covers.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache
from itertools import combinations

from pairing.compare.kinds import MIN_DIGITS_OFF
from pairing.numbers.grouping import bounds
from tests.blindspots.engine.edits import NOTHING, Count, Terms, changed, count
from tests.blindspots.engine.schemes import Scheme

_LETTERS = 26
"""Letters that can be in a letter's place (A to Z)."""


def total(counts: Iterable[Count]) -> Count:
    """The sum of counts."""
    return sum(counts, NOTHING)


def single(scheme: Scheme) -> Count:
    """One digit wrong."""
    terms = _terms(scheme)
    return total(changed(scheme, terms, _with(terms, {i: len(terms)})) for i in terms)


def swap(scheme: Scheme, gap: int) -> Count:
    """Two digits `gap` places apart have changed places."""
    terms = _terms(scheme)
    return total(changed(scheme, terms, _with(terms, {i: j, j: i})) for i, j in _apart(scheme, gap))


def twin(scheme: Scheme, gap: int) -> Count:
    """Two equal digits `gap` places apart, both written as another, equal digit."""
    terms = _terms(scheme)
    new = len(terms)
    return total(
        changed(scheme, _with(terms, {j: i}), _with(terms, {i: new, j: new}))
        for i, j in _apart(scheme, gap)
    )


def phonetic(scheme: Scheme) -> Count:
    """a0 <-> 1a, a = 2..9."""
    terms = _terms(scheme)
    found = NOTHING
    for (i, j), a in ((place, a) for place in _apart(scheme, 1) for a in range(2, 10)):
        tens, teens = _with(terms, {i: ~a, j: ~0}), _with(terms, {i: ~1, j: ~a})
        found += changed(scheme, tens, teens) + changed(scheme, teens, tens)
    return found


def both_wrong(scheme: Scheme, gap: int) -> Count:
    """Two digits `gap` places apart, both wrong in whatever way."""
    terms = _terms(scheme)
    new = len(terms)
    found = NOTHING
    for i, j in _apart(scheme, gap):
        # Inclusion and exclusion over "this digit happened to stay".
        found += count(scheme, terms, _with(terms, {i: new, j: new + 1}), scheme)
        found -= count(scheme, terms, _with(terms, {i: new}), scheme)
        found -= count(scheme, terms, _with(terms, {j: new}), scheme)
        found += count(scheme, terms, terms, scheme)
    return found


def other_adjacent(scheme: Scheme) -> Count:
    """Two adjacent digits wrong: no swap, twin or phonetic error (these exclude each other)."""
    return both_wrong(scheme, 1) - swap(scheme, 1) - twin(scheme, 1) - phonetic(scheme)


def other_jump(scheme: Scheme) -> Count:
    """Two digits around a third wrong: no jump swap, no jump twin."""
    return both_wrong(scheme, 2) - swap(scheme, 2) - twin(scheme, 2)


def two_far(scheme: Scheme) -> Count:
    """Two wrong digits, three or more places apart."""
    return wrong_digits(scheme)[2] - both_wrong(scheme, 1) - both_wrong(scheme, 2)


def shifted(scheme: Scheme) -> Count:
    """One digit lost, one put in elsewhere, MIN_DIGITS_OFF or more between them one off."""
    terms = _terms(scheme)
    new, found = len(terms), NOTHING
    for i in terms:
        left = (*terms[:i], *terms[i + 1 :])
        for j in terms:
            if abs(i - j) >= MIN_DIGITS_OFF:
                found += changed(scheme, terms, (*left[:j], new, *left[j:]))
    return found


def dropped(scheme: Scheme, shorter: Scheme) -> Count:
    """One digit missing, held against the scheme of the shorter length."""
    terms = _terms(scheme)
    return total(changed(scheme, terms, (*terms[:i], *terms[i + 1 :]), shorter) for i in terms)


def extra(scheme: Scheme, longer: Scheme) -> Count:
    """One digit too many, held against the scheme of the longer length."""
    terms = _terms(scheme)
    return total(
        changed(scheme, terms, (*terms[:i], len(terms), *terms[i:]), longer)
        for i in range(len(terms) + 1)
    )


def truncated(scheme: Scheme, shorter: Scheme) -> Count:
    """The end or the beginning missing, held against the scheme of what is left."""
    terms, kept = _terms(scheme), shorter.digits
    return total(changed(scheme, terms, part, shorter) for part in (terms[:kept], terms[-kept:]))


def group_swap(scheme: Scheme, group_sizes: Sequence[int], size: int | None = None) -> Count:
    """Two printed groups have changed places; with `size`, two groups of that many digits.

    Letters around the covered digits count as uniformly random too. A swap that puts a
    letter in a digit's place never passes; swapped letters always do.
    """
    found = NOTHING
    inside = range(scheme.start, scheme.start + scheme.digits)
    cut = bounds(scheme.length, group_sizes)
    for (a, b), (c, d) in combinations(cut, 2):
        order = [*range(a), *range(c, d), *range(b, c), *range(a, b), *range(d, scheme.length)]
        lettered = [i for i, source in enumerate(order) if i not in inside and i != source]
        if size is not None and (b - a != size or d - c != size or lettered):
            continue
        terms = _terms(scheme)
        moved = any((i in inside) != (source in inside) for i, source in enumerate(order))
        if moved or lettered:
            # Two letters swapped in pairs: unchanged where each equals its partner.
            stay = 0 if moved else _LETTERS ** (len(lettered) // 2)
            plain = count(scheme, terms, terms, scheme).all
            kept = plain * (_LETTERS ** len(lettered) - stay)
            here = Count(all=kept, passed=0 if moved else kept)
            found += here * _LETTERS ** (scheme.length - scheme.digits - len(lettered))
        else:
            after = tuple(order[i] - scheme.start for i in inside)
            letters = _LETTERS ** (scheme.length - scheme.digits)
            found += changed(scheme, terms, after) * letters
    return found


MOST_WRONG = 6
"""Verhoeff's numbers had six digits, so his classes end with six wrong ones."""


@lru_cache(maxsize=64)
def wrong_digits(scheme: Scheme) -> tuple[Count, ...]:
    """Counts for exactly 0, 1, ..., MOST_WRONG wrong digits anywhere.

    layers[k][r][s]: ways to choose the data digits read so far, k of them wrong, whose
    sums leave r (original) and s (altered).
    """
    m = scheme.modulus
    empty = [[0] * m for _ in range(m)]
    layers = [[row[:] for row in empty] for _ in range(MOST_WRONG + 1)]
    layers[0][scheme.offset % m][scheme.offset % m] = 1
    for weight in scheme.weights:
        steps = [weight * digit % m for digit in range(10)]
        kept = [_moved_together(layer, steps) for layer in layers]
        any_digit = [_moved_apart(layer, steps) for layer in layers[:-1]]
        layers = kept[:1] + [
            _sum(kept[k], any_digit[k - 1], kept[k - 1]) for k in range(1, MOST_WRONG + 1)
        ]
    return tuple(_with_check_digit(scheme, layers))


_Layer = list[list[int]]


def _moved_together(layer: _Layer, steps: list[int]) -> _Layer:
    """One more digit that is the same on both sides."""
    m = len(layer)
    return [[sum(layer[r - x][s - x] for x in steps) for s in range(m)] for r in range(m)]


def _moved_apart(layer: _Layer, steps: list[int]) -> _Layer:
    """One more digit, any on one side and any on the other."""
    m = len(layer)
    rows = [[sum(layer[r - x][s] for x in steps) for s in range(m)] for r in range(m)]
    return [[sum(row[s - x] for x in steps) for s in range(m)] for row in rows]


def _sum(stayed: _Layer, any_digit: _Layer, equal: _Layer) -> _Layer:
    """A digit that stayed right, or went wrong: any pair of digits less the equal pairs.

    Moving is linear and does not look at k, so the equal pairs on top of k - 1 wrong
    digits are just that layer moved together.
    """
    return [
        [a + b - c for a, b, c in zip(x, y, z, strict=True)]
        for x, y, z in zip(stayed, any_digit, equal, strict=True)
    ]


def _with_check_digit(scheme: Scheme, layers: list[_Layer]) -> Iterator[Count]:
    """The check digit is right, or one of the nine others (then k grows by one)."""
    right: list[Count] = []
    for layer in layers:
        cells = [(r, s, n) for r, row in enumerate(layer) for s, n in enumerate(row)]
        same = sum(n for r, s, n in cells if scheme.folds[r] == scheme.folds[s])
        right.append(Count(all=sum(n for _, _, n in cells), passed=same))
    yield right[0]
    for k in range(1, MOST_WRONG + 1):
        fewer = right[k - 1]
        wrong = Count(all=9 * fewer.all, passed=fewer.all - fewer.passed)
        yield right[k] + wrong


def _terms(scheme: Scheme) -> Terms:
    return tuple(range(scheme.digits))


def _with(terms: Terms, new: dict[int, int]) -> Terms:
    return tuple(new.get(index, term) for index, term in enumerate(terms))


def _apart(scheme: Scheme, gap: int) -> list[tuple[int, int]]:
    return [(i, i + gap) for i in range(scheme.digits - gap)]
