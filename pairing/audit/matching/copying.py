"""How likely a box holds a text, given the label that its card belongs to: the copying errors
with their odds. Used to put photos together, never to read and never to decide."""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Collection, Iterable
from functools import lru_cache

from pairing.compare import CopyError
from pairing.compare.error_shares import SHARES, several_share
from pairing.compare.kinds import Pair
from pairing.compare.slips import explanations
from pairing.numbers import group_sizes, is_number
from pairing.numbers.text import is_digits

ERROR_RATE = 0.01
"""Share of boxes with a wrong number. Single entry by people errs in 0.55 to 3.6 % of entries
(Barchard et al. 2008 and 2019, Behav. Res. Methods, 10.3758/s13428-019-01207-3)."""

_SERIAL = 8
"""Last places of a number that its pad counts in: seven digits and the check digit."""
_FAR = 8
"""More digits than this are changed by swapped groups alone, which keep the digits, or by a
shift of the tail, which is seldom that long."""

_PAD = 100
"""Numbers of the same pads lie so near those in the lot. Common practice, no source."""


class Copying:
    """The odds for one lot of labels."""

    def __init__(self, labels: Iterable[str]) -> None:
        """labels: canonical article numbers of the lot."""
        self.labels = frozenset(labels)
        self._series = _series_of(self.labels)
        self._total = max(1, len(self.labels))
        self._sizes: dict[str, tuple[int, ...]] = {}
        self._is_number = lru_cache(maxsize=1024)(is_number)

    def of_box(self, text: str, label: str, *, card: str | None) -> float:
        """P(the box holds `text` | its card belongs to `label`)."""
        if text == label:
            return 1 - ERROR_RATE
        return sum(self._by_kind(text, label, card).values())

    def of_same_slip(self, text: str, label: str, *, card: str | None) -> float:
        """P(the box holds `text` | its card belongs to a stranger's label from which the same
        slip leads there as from `label`): strangers have numbers like those of the lot."""
        near = self.density_near(label)
        found = 0.0
        for kind, chance in self._by_kind(text, label, card).items():
            # One number in ten near it is one (the check digit).
            sources = max(1.0, _sources(kind, text, label) / 10)
            found += chance * min(1.0, sources * near)
        return found

    def _by_kind(self, text: str, label: str, card: str | None) -> dict[CopyError, float]:
        kinds = self._explanations(text, label, card)
        if kinds == [CopyError.SEVERAL_DIGITS]:
            return {kinds[0]: ERROR_RATE * _several(text, label)}
        return {
            kind: ERROR_RATE * SHARES.get(kind, 0.0) / self._ways(kind, label) for kind in kinds
        }

    def _explanations(self, text: str, label: str, card: str | None) -> list[CopyError]:
        diffs: tuple[int, ...] = ()
        if len(text) == len(label):
            diffs = tuple(n for n, (a, b) in enumerate(zip(label, text, strict=True)) if a != b)
            is_far = len(diffs) > _FAR and Counter(text) != Counter(label)
            if is_far and text != card and text not in self.labels:
                return [CopyError.SEVERAL_DIGITS]
        pair = Pair(
            label=label,
            box=text,
            group_sizes=self._sizes_of(label),
            card=card,
            # Whether it is another piece's is asked here: a lot is no small set.
            others=(text,) if text in self.labels else (),
            box_valid=self._is_number(text),
            diffs=diffs,
        )
        return [kind for kind, _ in explanations(pair)]

    def _sizes_of(self, label: str) -> tuple[int, ...]:
        """A label of the lot is asked about for some twenty boxes."""
        found = self._sizes.get(label)
        if found is None:
            found = self._sizes[label] = tuple(group_sizes(label))
        return found

    def of_stranger(self, text: str) -> float:
        """P(the box holds `text` | its card belongs to a label that is not in the lot, or to
        any label of the lot whatever: then the text is another piece's number).

        A label beside the lot has no number of the lot (numbers are given out once), but very
        likely one of the same pads.
        """
        near = self.density_near(text)
        other = SHARES[CopyError.OTHER_PIECE] if text in self.labels else 0.0
        by_error = ERROR_RATE * (near / 10 + other)
        if text in self.labels or not self._is_number(text):
            return max(by_error, 1e-30)
        return (1 - ERROR_RATE) * near

    def density_near(self, text: str) -> float:
        """The share of strangers' labels for each number near this one."""
        serials = self._series.get(text[:-_SERIAL], ())
        serial = _serial(text)
        if not serials or serial is None:
            return 1e-12
        near = bisect_right(serials, serial + _PAD) - bisect_left(serials, serial - _PAD)
        # A tenth of them anywhere among the ten million serials that begin alike.
        return (near / (2 * _PAD) + len(serials) * 1e-8) / self._total

    def _ways(self, kind: CopyError, label: str) -> float:
        """How many texts an error of this kind can make of a number (`decide.rivals`)."""
        n = len(label)
        runs = max(1.0, n / 10)
        return {
            CopyError.ONE_DIGIT: 9.0 * n,
            CopyError.ADJACENT_SWAP: n - 1.0,
            CopyError.JUMP_SWAP: n - 2.0,
            CopyError.TWIN: 9 * runs,
            CopyError.PHONETIC: runs,
            CopyError.JUMP_TWIN: 9 * runs,
            CopyError.DROPPED: float(n),
            CopyError.EXTRA: 10.0 * (n + 1),
            CopyError.TRUNCATED: 2.0 * (n - 2),
            CopyError.GROUP_SWAP: 15.0,
            CopyError.SHIFTED: float(n * n),
            CopyError.CARD_OWN: 1.0,
            CopyError.OTHER_PIECE: float(self._total),
            CopyError.PAD_NEIGHBOR: 20.0,
        }.get(kind, 1e12)


def _sources(kind: CopyError, text: str, label: str) -> float:
    """From how many texts a slip of this kind leads to `text`, about."""
    n = len(label)
    lost = max(0, n - len(text))
    return {
        CopyError.ONE_DIGIT: 9.0 * n,
        CopyError.ADJACENT_SWAP: n - 1.0,
        CopyError.JUMP_SWAP: n - 2.0,
        CopyError.TWIN: 0.9 * n,
        CopyError.JUMP_TWIN: 0.9 * n,
        CopyError.PHONETIC: 2.0,
        CopyError.DROPPED: 10.0 * n,
        CopyError.EXTRA: float(n + 1),
        CopyError.TRUNCATED: 10.0**lost,
        CopyError.GROUP_SWAP: 15.0,
        CopyError.SHIFTED: 10.0 * n * n,
        CopyError.PAD_NEIGHBOR: 200.0,  # of which one in ten is a number
        CopyError.SEVERAL_DIGITS: 1e6,
    }.get(kind, 1.0)


def _several(text: str, label: str) -> float:
    wrong = sum(a != b for a, b in zip(label, text, strict=True))
    ways = math.comb(len(label), wrong) * 9.0**wrong
    return several_share(wrong) / ways


def _series_of(labels: Collection[str]) -> dict[str, list[int]]:
    """The serials, in order, of labels that begin alike."""
    found: dict[str, list[int]] = {}
    for label in labels:
        serial = _serial(label)
        if serial is not None:
            found.setdefault(label[:-_SERIAL], []).append(serial)
    for serials in found.values():
        serials.sort()
    return found


def _serial(text: str) -> int | None:
    """The serial, without check digit; S10 numbers end in letters and count before them."""
    digits = text[-_SERIAL:-1]
    if is_digits(digits):
        return int(digits)
    kept = "".join(char for char in digits if is_digits(char))
    return int(kept) if kept else None
