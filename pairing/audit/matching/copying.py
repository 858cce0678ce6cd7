"""How likely a box holds a text, given the label that its card belongs to: the copying errors
with their odds. Used to put photos together, never to read and never to decide."""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Collection, Iterable
from functools import lru_cache

from pairing.audit.matching.slip_sources import SERIAL, SlipSources
from pairing.compare import CopyError
from pairing.compare.error_shares import SHARES, several_share
from pairing.compare.kinds import Pair
from pairing.compare.slips import explanations
from pairing.judge.box import substituted
from pairing.numbers import group_sizes, is_number
from pairing.numbers.text import is_digits

ERROR_RATE = 0.01
"""Share of boxes with a wrong number. Single entry by people errs in 0.55 to 3.6 % of entries
(Barchard et al. 2008 and 2019, Behav. Res. Methods, 10.3758/s13428-019-01207-3)."""

_FAR = 8
"""More digits than this are changed by swapped groups alone, which keep the digits, or by a
shift of the tail, which is seldom that long."""

LONE = 0.05
"""Share of the lot's labels without a card, as long as nothing is known of it."""

_PAD = 100
"""Numbers of the same pads lie so near those in the lot. Common practice, no source."""

_TWO_WRONG = 25
"""About so many numbers of a pad differ from a text in two digits: of 200, one in eight."""
_NOWHERE = 1e-12
"""Strangers' share for numbers that begin as no label of the lot does."""
_LEAST_BY_SLIP = 1e-10
"""For slips that are none of the known kinds: far below what any known one leads to."""


class Copying:
    """The odds for one lot of labels."""

    def __init__(self, labels: Iterable[str]) -> None:
        """labels: canonical article numbers of the lot."""
        self.labels = frozenset(labels)
        self._series = _series_of(self.labels)
        self._sources = SlipSources(self._series)
        self._in_order = sorted(self.labels)
        self._total = max(1, len(self.labels))
        self._lone = max(1.0, LONE * self._total)
        self._sizes: dict[str, tuple[int, ...]] = {}
        self._is_number = lru_cache(maxsize=1024)(is_number)

    def of_box(self, text: str, label: str, *, card: str | None) -> float:
        """P(the box holds `text` | its card belongs to `label`)."""
        if text == label:
            return 1 - ERROR_RATE
        return sum(self._by_kind(text, label, card).values())

    def of_same_slip(self, text: str, label: str, *, card: str | None) -> float:
        """P(the box holds `text` | its card belongs to a stranger's label that several wrong digits
        lead from, as they do from `label`): those have no end, and `of_stranger` does not have
        them. Strangers have numbers like those of the lot."""
        kinds = self._by_kind(text, label, card)
        chance = kinds.get(CopyError.SEVERAL_DIGITS, 0.0)
        if not chance:
            return 0.0
        wrong = sum(a != b for a, b in zip(text, label, strict=True))
        sources = _TWO_WRONG if wrong == 2 else _PAD * 2
        return chance * min(1.0, sources * self.density_near(label))

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
        likely one of the same pads. Of the lot's labels those that have lost their card count, and
        of all numbers of the lot the box holds this very one: their share over their count.
        """
        near = self.density_near(text)
        if text in self.labels:
            return max(ERROR_RATE * (near / 10 + SHARES[CopyError.OTHER_PIECE] / self._lone), 1e-30)
        by_slip = self._of_slipped_stranger(text)
        return by_slip + (1 - ERROR_RATE) * near if self._is_number(text) else by_slip

    def strangers_near(self, text: str) -> dict[str, float]:
        """Numbers of the lot's pads, and not in it, that differ from the text in one digit, each
        with the share of strangers' labels that have it."""
        head, tail = text[:-SERIAL], text[-SERIAL:]
        others = [one + tail for one in substituted(head) if one in self._series]
        if head in self._series:
            others += [head + one for one in substituted(tail)]
        found = {}
        for one in others:
            near = self.density_near(one) if one not in self.labels else 0.0
            if near > _NOWHERE and self._is_number(one):
                found[one] = near
        return found

    def _of_slipped_stranger(self, text: str) -> float:
        """P(the box holds `text`, by a slip of the hand | its card belongs to a label that is not
        in the lot): from each number of the lot's pads, and not in it, that a slip leads from."""
        found: dict[str, float] = {}
        for kind, source in self._sources.of(text):
            if source in found or source in self.labels:
                continue
            near = self.density_near(source)
            is_one = near > _NOWHERE and self._is_number(source)
            found[source] = near * SHARES[kind] / self._ways(kind, source) if is_one else 0.0
        cut = self._share_that_ends_so(text) * SHARES[CopyError.TRUNCATED]
        cut /= self._ways(CopyError.TRUNCATED, text)
        return ERROR_RATE * (sum(found.values()) + cut + _LEAST_BY_SLIP)

    def _share_that_ends_so(self, text: str) -> float:
        """About which share of strangers' labels begin or end with this text."""
        first = bisect_left(self._in_order, text)
        last = bisect_left(self._in_order, f"{text}~")
        share = (last - first) / self._total
        if len(text) <= SERIAL:
            return share + 0.1 ** (len(text) - 1)  # its last digit is the check digit
        ends = {one for one in self._sources.cut(text) if one not in self.labels}
        return share + sum(self.density_near(one) for one in ends if self._is_number(one))

    def density_near(self, text: str) -> float:
        """The share of strangers' labels for each number near this one."""
        serials = self._series.get(text[:-SERIAL], ())
        serial = _serial(text)
        if not serials or serial is None:
            return _NOWHERE
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
            found.setdefault(label[:-SERIAL], []).append(serial)
    for serials in found.values():
        serials.sort()
    return found


def _serial(text: str) -> int | None:
    """The serial, without check digit; S10 numbers end in letters and count before them."""
    digits = text[-SERIAL:-1]
    if is_digits(digits):
        return int(digits)
    kept = "".join(char for char in digits if is_digits(char))
    return int(kept) if kept else None
