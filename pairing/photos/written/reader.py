"""The network run over a line, and what it says about any text."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cache, cached_property
from pathlib import Path
from threading import Lock
from typing import Any, NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.errors import CounterfoilError
from pairing.photos.written import ctc

HIGH_PX, WIDE_PX = 32, 640
"""The network's input (`training.phone_photo.OUT_HIGH`, `OUT_WIDE`)."""
STEP_PX = 4
"""Columns of the input for one of the network's steps."""
_S10 = re.compile(r"[A-Z]{2}[0-9]{9}[A-Z]{2}")
_OUTPUTS = ("chances", "blots", "kinds")
_RECENT = 4  # lines of one box and a strip's print
_MODEL = Path(__file__).with_name("reader.onnx")
LINE_KINDS = ("number", "print", "writing", "altered")
"""What a line is (`training.sorts.LINE_KINDS`): a number, whoever's it is; the form's print, or
nothing but rules and bars; words, names, dates; a number struck out or altered."""
LEAST_NUMBER = 0.3
"""A line less likely than this to be a number is not read. Chosen on 2,500 lines by held-out
hands, measured on 2,500 others (`MODEL.md`): 1 number in 170 is refused, 96 in 100 lines of print
and writing are, and 79 in 100 altered ones. A reason to refuse: what passes may still be altered.
"""
MOST_ALTERED = 0.1
"""A line likelier than this to be altered is not read. Chosen on cards drawn by
`tests.benchmarks.lost` (seeds 0 to 95, no form taught, all levels): of 398 right ones that agreed
without it none had more than 0.06; on such cards with a digit struck out or written over 0.19 and
0.69 had passed."""
SPOILED, SPOILED_PRINT = 0.6, 0.985
"""A step is taken for a spoiled character's from this probability on. Measured on held-out lines
(`MODEL.md`): in 2 of 100 whole ones by hand and in 1 of 200 printed ones a character is taken for
spoiled."""
_BESIDE_STEPS = 6.0
"""About one and a half digits' widths: what is scribbled over may not be read at all, and then
its neighbor is taken for spoiled; what is farther from every character is none of the line's."""
_LETTER = 0.02
"""No letter anywhere is likelier than this: the text has none."""
_SURE, _POOR, _AGAINST = 0.9, 0.5, 10.0
"""Beside a picture read with more than the first, one read with less than the second does not
count unless its own best text beats the other's by the third."""


class WrittenLine:
    """What was read in one line (or in several pictures of it), as a distribution over texts.

    Letters are only in an S10 number, in its first and last two places (UPU S10): unless
    the free best has that form, texts of digits alone are considered. That is a rule of
    form; the check digit has no part in it.

    Several pictures of one line are weighed by the normalized geometric mean of their
    probabilities: doubts in different places cancel out, while a doubt that all of them share,
    as one shot taken twice or a digit written unclearly, stays what it is.

    best: the likeliest text. log_any: the logarithm of the best text's probability among texts of
    any form, digits and letters: low where the line is a word.
    """

    def __init__(
        self,
        chances: Sequence[NDArray[np.floating[Any]]],
        blots: Sequence[NDArray[np.floating[Any]]] = (),
    ):
        """chances: one (steps, classes) array of probabilities for each picture. blots: for each
        (steps,) probabilities that a spoiled character is there; none where () is given."""
        self._pictures = [np.asarray(one, np.float32) for one in chances]
        self._blots = [np.asarray(one, np.float32) for one in blots]
        self._blots = self._blots or [np.zeros(len(one), np.float32) for one in chances]
        has_letters = any(float(one[:, 11:].sum(1).max()) > _LETTER for one in chances)
        free = self._first() if has_letters else ""
        before = self._pictures
        if not _S10.fullmatch(free):
            self._pictures = [_digits_alone(one) for one in before]
            free = self._first()
        self.best = free
        self.log_any = float(_mean_logs(before, [free])[0])
        self._log_total = 0.0
        if len(self._pictures) > 1:
            kept = _speaking(self._pictures)
            self._pictures, self._blots = ([every[at] for at in kept] for every in (
                self._pictures, self._blots
            ))  # fmt: skip
            self._log_total = _log_total(self._pictures)

    @property
    def pictures(self) -> tuple[NDArray[np.float32], ...]:
        """The probabilities that it was made from, (steps, classes) each; classes after the
        last are 0. To read the line from more pictures together, make a new one of all."""
        return tuple(self._pictures)

    @property
    def blots(self) -> tuple[NDArray[np.float32], ...]:
        """For each of these pictures (steps,) probabilities that a spoiled character is there."""
        return tuple(self._blots)

    def spoiled(self, *, is_print: bool = False) -> tuple[int, ...]:
        """The characters of the best text, from 1, that look written over, struck out or
        scribbled over in one of the pictures."""
        least = SPOILED_PRINT if is_print else SPOILED
        found: set[int] = set()
        for picture, blots in zip(self._pictures, self._blots, strict=True):
            if not self.best or blots.max() < least:
                continue
            spans = np.array(ctc.places(picture.astype(np.float64), self.best), np.float64)
            middles = spans.mean(1)
            for step in np.flatnonzero(blots >= least):
                nearest = int(np.abs(middles - step).argmin())
                if abs(middles[nearest] - step) <= _BESIDE_STEPS:
                    found.add(nearest + 1)
        return tuple(sorted(found))

    def _first(self) -> str:
        ordered = sorted({text for one in self._pictures for text, _ in _beam(one)[:4]})
        scores = _mean_logs(self._pictures, ordered)
        return ordered[max(range(len(ordered)), key=lambda index: scores[index])]

    def log_likelihoods(self, texts: Sequence[str]) -> list[float]:
        """Natural logarithms of P(text | pictures)."""
        scores = _mean_logs(self._pictures, texts)
        # What is no number must not come out as certainty: min(0, nan) is 0.
        return [
            -math.inf if math.isnan(score) else min(0.0, float(score) - self._log_total)
            for score in scores
        ]

    def log_likelihood(self, text: str) -> float:
        """The same for one text."""
        return self.log_likelihoods([text])[0]

    @cached_property
    def digit_probabilities(self) -> tuple[float, ...]:
        """For each character of the best text its probability, all others being as read."""
        best, texts = self.best, [self.best]
        ends = []
        for i, old in enumerate(best):
            alphabet = ctc.CHARACTERS[:10] if old in ctc.CHARACTERS[:10] else ctc.CHARACTERS[10:]
            texts += [best[:i] + new + best[i + 1 :] for new in alphabet if new != old]
            texts.append(best[:i] + best[i + 1 :])
            ends.append(len(texts))
        scores = np.array(self.log_likelihoods(texts))
        scores = np.exp(np.minimum(60.0, scores - scores[0]))
        starts = [1, *ends[:-1]]
        return tuple(
            float(1 / (1 + scores[start:end].sum()))
            for start, end in zip(starts, ends, strict=True)
        )

    @cached_property
    def spans_px(self) -> tuple[tuple[float, float], ...]:
        """For each character of the best text the first and last column that it takes in the
        normalized line of the first picture, px."""
        spans = ctc.places(self._pictures[0].astype(np.float64), self.best)
        return tuple(((a - 1.0) * STEP_PX, (b + 2.0) * STEP_PX) for a, b in spans)


class Look(NamedTuple):
    """What the network says of one picture of a line. chances: (steps, classes) probabilities of
    what is written there. blots: (steps,) that a spoiled character is. kinds: (len(LINE_KINDS),) of
    what the line is."""

    chances: NDArray[np.float64]
    blots: NDArray[np.float64]
    kinds: NDArray[np.float64]

    @property
    def is_number(self) -> bool:
        """Whether the line may be a number. False is a reason to refuse; True is none to trust."""
        return bool(self.kinds[0] >= LEAST_NUMBER) and not self.is_altered

    @property
    def is_altered(self) -> bool:
        """Whether the line may be a number that was altered."""
        altered = float(self.kinds[LINE_KINDS.index("altered")])
        return altered > MOST_ALTERED and self.kind in ("number", "altered")

    @property
    def kind(self) -> str:
        """The likeliest of `LINE_KINDS`."""
        return LINE_KINDS[int(self.kinds.argmax())]


@dataclass(slots=True)
class Reader:
    """The network; loads once, may be used from several threads."""

    net: cv2.dnn.Net
    lock: Lock
    recent: dict[bytes, Look] = field(default_factory=dict)
    """What was said of the last pictures: a line is looked at to read it, and as to alterations."""

    @classmethod
    def load(cls, model: Path = _MODEL) -> Reader:
        """Raises CounterfoilError where the model file is missing or unreadable."""
        try:
            net = cv2.dnn.readNetFromONNX(str(model))
        except cv2.error as error:
            raise CounterfoilError(
                "The reader's network could not be loaded",
                where=str(model),
                remedy="Install Counterfoil again.",
            ) from error
        return cls(net, Lock())

    def look(self, line: NDArray[np.uint8]) -> Look:
        """What a gray line (HIGH_PX, WIDE_PX) uint8 shows."""
        picture = line.tobytes()
        with self.lock:
            found = self.recent.pop(picture, None) or self._seen(line)
            self.recent[picture] = found  # the last one in
            if len(self.recent) > _RECENT:
                del self.recent[next(iter(self.recent))]
        return found

    def _seen(self, line: NDArray[np.uint8]) -> Look:
        self.net.setInput(normalized(line)[None, None])
        logs, blots, kinds = (np.asarray(one[0], np.float64) for one in self.net.forward(_OUTPUTS))
        chances, told = np.exp(logs), np.exp(kinds - kinds.max())
        shares, spoiled = chances / chances.sum(1, keepdims=True), 1 / (1 + np.exp(-blots))
        found = Look(chances=shares, blots=spoiled, kinds=told / told.sum())
        for one in found:
            one.setflags(write=False)
        return found


def normalized(line: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Mean 0, standard deviation 1 (a floor keeps an empty line flat), as in training."""
    gray = line.astype(np.float32) / 255
    return np.asarray((gray - gray.mean()) / (gray.std() + 0.02), np.float32)


def read(lines: Sequence[NDArray[np.uint8]], reader: Reader) -> WrittenLine:
    """Read one line from its pictures (each HIGH_PX by WIDE_PX, gray)."""
    looks = [reader.look(line) for line in lines]
    return WrittenLine([look.chances for look in looks], [look.blots for look in looks])


def _digits_alone(chances: NDArray[np.float32]) -> NDArray[np.float32]:
    kept = chances[:, :11].astype(np.float64)
    return np.asarray(kept / np.maximum(kept.sum(1, keepdims=True), 1e-12), np.float32)


def _beam(chances: NDArray[np.float32]) -> list[tuple[str, float]]:
    return ctc.beam(chances.astype(np.float64))


def _mean_logs(pictures: Sequence[NDArray[np.float32]], texts: Sequence[str]) -> NDArray[Any]:
    each = [ctc.log_likelihoods(one.astype(np.float64), texts) for one in pictures]
    with np.errstate(invalid="ignore"):
        return np.asarray(np.mean(each, axis=0))


def _speaking(pictures: list[NDArray[np.float32]]) -> list[int]:
    """Which pictures count: none too poor to say anything, unsure itself and with nothing to say
    against what a far surer one shows."""
    bests = [_beam(one)[0] for one in pictures]
    surest = max(range(len(bests)), key=lambda index: bests[index][1])
    text, sure = bests[surest]
    kept = []
    for index, (one, (_, own)) in enumerate(zip(pictures, bests, strict=True)):
        is_poor = own < math.log(_POOR) and sure > math.log(_SURE)
        against = own - float(ctc.log_likelihoods(one.astype(np.float64), [text])[0])
        if index == surest or not (is_poor and against < math.log(_AGAINST)):
            kept.append(index)
    # The surest first: its places are those that `spans_px` tells.
    return sorted(kept, key=lambda index: index != surest)


def _log_total(pictures: Sequence[NDArray[np.float32]]) -> float:
    """An upper bound of the logarithm of what the geometric means of all texts add up to: the
    likely texts counted out, all others bounded by Hoelder's inequality."""
    exact = [one.astype(np.float64) for one in pictures]
    texts = {text for one in exact for text, _ in ctc.beam(one)}
    for best in list(texts):
        for place, old in enumerate(best):
            alphabet = ctc.CHARACTERS[:10] if old in ctc.CHARACTERS[:10] else old
            texts |= {best[:place] + new + best[place + 1 :] for new in alphabet}
    ordered = sorted(texts)
    logs = np.stack([ctc.log_likelihoods(one, ordered) for one in exact])
    counted = float(np.exp(logs.mean(0)).sum())
    left = np.maximum(0.0, 1.0 - np.exp(logs).sum(1))
    return math.log(max(counted + float(np.prod(left ** (1 / len(exact)))), 1e-300))


@cache
def shared_reader() -> Reader:
    """One reader for the whole process, loaded when first asked for. Raises CounterfoilError."""
    return Reader.load()
