"""Labels that a box's text may have been copied from: few of many, found by what they share."""

from __future__ import annotations

from array import array
from bisect import bisect_left
from collections.abc import Iterator, Sequence
from itertools import combinations
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

MOST = 16
"""Labels that share most with a text, added to those that differ from it in one or two places.
Measured (tests/audit/test_cards_to_labels.py): the label is among them for every kind of copying
error in lots of 2,000 consecutive numbers."""

_NOWHERE = np.zeros(0, np.int64)
_GRAM = 4
_COMMON = 0.5
"""What more than this share of the labels have in common tells none from another."""


class Candidates:
    """An index over labels: digits at their places from either end, and runs of four digits
    anywhere; rare ones weigh more (inverse document frequency, Sparck Jones 1972)."""

    def __init__(self, labels: Sequence[str]) -> None:
        self._places = {label: place for place, label in enumerate(labels)}
        self._names: dict[str, int] = {}
        # Arrays and no lists of numbers: 100,000 labels have six million features.
        rows, columns = array("i"), array("i")
        for place, label in enumerate(labels):
            found = set(_features(label))
            rows.extend(self._names.setdefault(feature, len(self._names)) for feature in found)
            columns.extend([place] * len(found))
        shape = (max(1, len(self._names)), max(1, len(labels)))
        places = (np.frombuffer(one, np.intc) for one in (rows, columns))
        held = csr_array((np.ones(len(rows), np.float32), tuple(places)), shape=shape)
        counts = np.asarray(held.sum(axis=1)).ravel()
        weights = np.log(len(labels) / np.maximum(counts, 1) + 1).astype(np.float32)
        if len(labels) > 2:
            weights[counts > _COMMON * len(labels)] = 0
        self._held, self._weights = held, weights
        self._indptr, self._indices = held.indptr, held.indices
        self._scores = np.zeros(len(labels), np.float32)
        self._by_length = _by_length(labels)
        self._sorted = sorted(labels)
        self._reversed = sorted(label[::-1] for label in labels)
        # As hashes: the texts would take ten times the room. Equal ones by chance do no harm.
        codes, owners = array("q"), array("i")
        for place, label in enumerate(labels):
            parts = _less_one(label)
            codes.extend(map(hash, parts))
            owners.extend([place] * len(parts))
        order = np.argsort(np.frombuffer(codes, np.int64), kind="stable")
        self._parts = np.frombuffer(codes, np.int64)[order]
        self._part_of = np.frombuffer(owners, np.intc)[order]

    def place(self, label: str) -> int | None:
        """The label's place among the labels, None where it is none of them."""
        return self._places.get(label)

    def of(self, text: str, *, is_sure: bool = False) -> list[int]:
        """Places of labels that the text may be meant for, itself among them.

        is_sure: the text is read beyond doubt, so that a label that it repeats will do, with
        those that share most with it.
        """
        if not self._places:
            return []
        found = self._sharing(text)
        own = self._places.get(text)
        if own is None or not is_sure:
            found += [*self._near(text), *self._regrouped(text), *self._shifted(text)]
            found += self._cut(text)
        if own is not None:
            found.append(own)
        return list(dict.fromkeys(found))

    def _near(self, text: str) -> list[int]:
        """Labels of the same length that differ from it in one or two places."""
        places, characters = self._by_length.get(len(text), (_NOWHERE, _NOWHERE))
        if not len(places):
            return []
        own = np.frombuffer(text.encode("ascii", "replace"), np.uint8)
        near = (characters != own).sum(axis=1) <= 2
        return [int(place) for place in places[near]]

    def _shifted(self, text: str) -> list[int]:
        """Labels that become the text by losing one digit, gaining one, or both."""
        found: list[int] = []
        for part in (text, *_less_one(text)):
            code = hash(part)
            first = np.searchsorted(self._parts, code, side="left")
            last = np.searchsorted(self._parts, code, side="right")
            found += (int(place) for place in self._part_of[first:last])
        longer = (self._places.get(part) for part in _less_one(text))
        return [*found, *(place for place in longer if place is not None)]

    def _cut(self, text: str) -> list[int]:
        """Labels that begin or end with it, where that tells few from the rest."""
        begin = _beginning(self._sorted, text)
        end = [one[::-1] for one in _beginning(self._reversed, text[::-1])]
        return [self._places[one] for few in (begin, end) if len(few) <= MOST for one in few]

    def _regrouped(self, text: str) -> list[int]:
        """Labels of which two printed groups (of four, BCOCA) have changed places in it: short
        and long ones, so the text's own groups need not be the label's."""
        found = []
        starts = range(0, len(text), 4)
        for first, second in combinations(starts, 2):
            for a, b in {(4, 4), (4, len(text) - starts[-1]), (len(text) - starts[-1], 4)}:
                # The label had a group of `b` first; the text has the one of `a` there.
                last = second + a - b if a != b else second
                swapped = (
                    text[:first] + text[last : last + b] + text[first + a : last]
                    + text[first : first + a] + text[last + b :]
                )  # fmt: skip
                place = self._places.get(swapped)
                if place is not None:
                    found.append(place)
        return found

    def _sharing(self, text: str) -> list[int]:
        scores = self._scores
        scores[:] = 0
        for feature in set(_features(text)):
            name = self._names.get(feature)
            if name is not None and self._weights[name]:
                hits = self._indices[self._indptr[name] : self._indptr[name + 1]]
                scores[hits] += self._weights[name]
        many = min(MOST, len(scores))
        top = np.argpartition(-scores, many - 1)[:many]
        return [int(one) for one in top[np.argsort(-scores[top], kind="stable")]]


def _beginning(texts: Sequence[str], begin: str) -> Sequence[str]:
    """Those of sorted texts that begin so."""
    return texts[bisect_left(texts, begin) : bisect_left(texts, f"{begin}~")]


def _by_length(labels: Sequence[str]) -> dict[int, tuple[NDArray[Any], NDArray[Any]]]:
    """For each length of labels their places, and their characters as (labels, length)."""
    found: dict[int, list[int]] = {}
    for place, label in enumerate(labels):
        found.setdefault(len(label), []).append(place)
    return {
        length: (
            np.array(places),
            np.frombuffer(
                "".join(labels[place] for place in places).encode("ascii"), np.uint8
            ).reshape(-1, length),
        )
        for length, places in found.items()
        if length
    }


def _less_one(text: str) -> set[str]:
    return {text[:at] + text[at + 1 :] for at in range(len(text))}


def _features(text: str) -> Iterator[str]:
    for place, char in enumerate(text):
        yield f"<{place}{char}"
        yield f">{len(text) - place}{char}"
    for start in range(len(text) - _GRAM + 1):
        yield text[start : start + _GRAM]
