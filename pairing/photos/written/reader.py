"""The network run over a line, and what it says about any text."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from threading import Lock

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.errors import CounterfoilError
from pairing.photos.written import ctc

HIGH_PX, WIDE_PX = 32, 640
"""The network's input (`training.camera.OUT_HIGH`, `OUT_WIDE`)."""
STEP_PX = 4
"""Columns of the input for one of the network's steps."""
_S10 = re.compile(r"[A-Z]{2}[0-9]{9}[A-Z]{2}")
_MODEL = Path(__file__).with_name("reader.onnx")


class WrittenLine:
    """What was read in one line (or in several pictures of it), as a distribution over texts.

    Letters stand only in an S10 number, in its first and last two places (UPU S10): unless
    the free best has that form, texts of digits alone are considered. That is a rule of
    form; the check digit has no part in it.
    """

    def __init__(self, chances: Sequence[NDArray[np.float64]]):
        """chances: one (steps, classes) array of probabilities for each picture."""
        self._pictures = [np.asarray(one, np.float64) for one in chances]
        candidates = {text for one in self._pictures for text, _ in ctc.beam(one)[:4]}
        free = self._first(candidates)
        if free and not _S10.fullmatch(free):
            self._pictures = [_digits_alone(one) for one in self._pictures]
            candidates = {text for one in self._pictures for text, _ in ctc.beam(one)[:4]}
            free = self._first(candidates)
        self.best = free

    def _first(self, texts: set[str]) -> str:
        ordered = sorted(texts)
        scores = self.log_likelihoods(ordered)
        return ordered[max(range(len(ordered)), key=lambda index: scores[index])]

    def log_likelihoods(self, texts: Sequence[str]) -> list[float]:
        """Natural logarithms of P(text | picture); several pictures are taken for independent
        and averaged, which is cautious: their errors are not independent."""
        each = [ctc.log_likelihoods(one, texts) for one in self._pictures]
        with np.errstate(invalid="ignore"):
            return [float(score) for score in np.mean(each, axis=0)]

    def log_likelihood(self, text: str) -> float:
        """The same for one text."""
        return self.log_likelihoods([text])[0]

    @cached_property
    def digit_probabilities(self) -> tuple[float, ...]:
        """For each character of the best text its probability, all others being as read."""
        best = self.best
        found = []
        for i, old in enumerate(best):
            alphabet = ctc.CHARACTERS[:10] if old in ctc.CHARACTERS[:10] else ctc.CHARACTERS[10:]
            texts = [best, *(best[:i] + new + best[i + 1 :] for new in alphabet if new != old)]
            scores = self.log_likelihoods([*texts, best[:i] + best[i + 1 :]])
            found.append(1 / sum(math.exp(min(60.0, score - scores[0])) for score in scores))
        return tuple(found)

    @cached_property
    def spans_px(self) -> tuple[tuple[float, float], ...]:
        """For each character of the best text the first and last column that it takes in the
        normalised line of the first picture, px."""
        spans = ctc.places(self._pictures[0], self.best)
        return tuple(((a - 1.0) * STEP_PX, (b + 2.0) * STEP_PX) for a, b in spans)


@dataclass(slots=True)
class Reader:
    """The network; loads once, may be used from several threads."""

    net: cv2.dnn.Net
    lock: Lock

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

    def chances(self, line: NDArray[np.uint8]) -> NDArray[np.float64]:
        """(steps, classes) probabilities for a grey line (HIGH_PX, WIDE_PX) uint8."""
        blob = normalised(line)[None, None]
        with self.lock:
            self.net.setInput(blob)
            logs = np.asarray(self.net.forward()[0], np.float64)
        chances = np.exp(logs)
        return np.asarray(chances / chances.sum(1, keepdims=True))


def normalised(line: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Mean 0, standard deviation 1 (a floor keeps an empty line flat), as in training."""
    grey = line.astype(np.float32) / 255
    return np.asarray((grey - grey.mean()) / (grey.std() + 0.02), np.float32)


def read(lines: Sequence[NDArray[np.uint8]], reader: Reader) -> WrittenLine:
    """Read one line from its pictures (each HIGH_PX by WIDE_PX, grey)."""
    return WrittenLine([reader.chances(line) for line in lines])


def _digits_alone(chances: NDArray[np.float64]) -> NDArray[np.float64]:
    kept = chances.copy()
    kept[:, 11:] = 0.0
    return np.asarray(kept / np.maximum(kept.sum(1, keepdims=True), 1e-12))
