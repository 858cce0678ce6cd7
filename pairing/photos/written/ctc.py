"""Exact string probabilities under connectionist temporal classification.

Graves et al. 2006 (ICML, "Connectionist Temporal Classification"), sections 3.2 and 4.1;
class 0 is the blank.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

CHARACTERS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_CLASS = {char: index for index, char in enumerate(CHARACTERS, 1)}
_BARE = 1 - 1e-5
Floats = NDArray[np.float64]
_RESCALE_EVERY = 4
_SURE_BLANK = 0.9999
"""Such a step adds no character that could matter to the search."""


def log_likelihoods(chances: Floats, texts: Sequence[str]) -> Floats:
    """log P(text | picture) for each text, exact up to rounding; -inf where impossible.

    chances: (steps, classes) probabilities, each row adding up to 1.
    """
    chances = _condensed(chances)
    found = np.full(len(texts), -np.inf)
    by_length: dict[int, list[int]] = {}
    for index, text in enumerate(texts):
        by_length.setdefault(len(text), []).append(index)
    for length, places in by_length.items():
        if not length:
            found[places] = float(np.log(np.maximum(chances[:, 0], 1e-300)).sum())
            continue
        classes = chances.shape[1]
        known = [p for p in places if all(_CLASS.get(c, classes) < classes for c in texts[p])]
        if known:
            rows = np.array([[_CLASS[char] for char in texts[p]] for p in known])
            found[known] = _forward(chances, rows)
    return found


def _condensed(chances: Floats) -> Floats:
    """Without the steps that only prolong bare paper: each changes no text's probability by
    more than a hundred-thousandth of it."""
    bare = chances[:, 0] > _BARE
    again = np.concatenate(([False], bare[1:] & bare[:-1]))
    return chances[~again]


def _forward(chances: Floats, classes: NDArray[np.int64]) -> Floats:
    """The forward variable for texts (n, length) of one length."""
    n, length = classes.shape
    states = np.zeros((2 * length + 1, n), np.int64)
    states[1::2] = classes.T
    skips = np.zeros(states.shape)
    skips[3::2] = states[3::2] != states[1:-2:2]
    alpha = np.zeros(states.shape)
    alpha[:2] = chances[0][states[:2]]
    log_scale = np.zeros(n)
    for step in range(1, len(chances)):
        moved = alpha.copy()
        moved[1:] += alpha[:-1]
        moved[2:] += alpha[:-2] * skips[2:]
        alpha = moved * chances[step][states]
        if step % _RESCALE_EVERY == 0:
            top = np.maximum(alpha.max(0), 1e-300)
            alpha /= top
            log_scale += np.log(top)
    with np.errstate(divide="ignore"):
        return np.asarray(np.log(alpha[-1] + alpha[-2]) + log_scale)


def beam(chances: Floats, width: int = 12) -> list[tuple[str, float]]:
    """The likeliest texts by prefix search, best first, with log probabilities summed over
    the paths that the beam kept (`log_likelihoods` gives the exact ones)."""
    beams: dict[tuple[int, ...], tuple[float, float]] = {(): (1.0, 0.0)}
    for row in chances:
        if row[0] > _SURE_BLANK:
            beams = {prefix: (sum(both), 0.0) for prefix, both in beams.items()}
            continue
        likely = [int(c) for c in np.flatnonzero(row > 1e-4) if c]
        new: dict[tuple[int, ...], tuple[float, float]] = {}
        for prefix, (blank, char) in beams.items():
            total = blank + char
            last = prefix[-1] if prefix else -1
            b, c = new.get(prefix, (0.0, 0.0))
            stay = char * float(row[last]) if prefix else 0.0
            new[prefix] = (b + total * float(row[0]), c + stay)
            for klass in likely:
                longer = (*prefix, klass)
                b, c = new.get(longer, (0.0, 0.0))
                new[longer] = (b, c + float(row[klass]) * (blank if klass == last else total))
        kept = sorted(new.items(), key=lambda item: -(item[1][0] + item[1][1]))[:width]
        most = max(sum(kept[0][1]), 1e-300)
        beams = {prefix: (b / most, c / most) for prefix, (b, c) in kept}
    texts = ["".join(CHARACTERS[c - 1] for c in prefix) for prefix in beams]
    exact = log_likelihoods(chances, texts)
    order = np.argsort(-exact, kind="stable")
    return [(texts[i], float(exact[i])) for i in order]


def places(chances: Floats, text: str) -> tuple[tuple[int, int], ...]:
    """Steps (first, last) that each character of `text` takes on its likeliest path."""
    states = np.zeros(2 * len(text) + 1, np.int64)
    states[1::2] = [_CLASS[char] for char in text]
    may_skip = np.zeros(len(states), bool)
    may_skip[3::2] = states[3::2] != states[1:-2:2]
    logs = np.log(np.maximum(chances, 1e-30))[:, states]
    score = np.full(len(states), -np.inf)
    score[:2] = logs[0, :2]
    back = np.zeros((len(chances), len(states)), np.int64)
    at = np.arange(len(states))
    for step in range(1, len(chances)):
        ways = np.full((3, len(states)), -np.inf)
        ways[0] = score
        ways[1, 1:] = score[:-1]
        ways[2, 2:] = np.where(may_skip[2:], score[:-2], -np.inf)
        choice = ways.argmax(0)
        back[step] = at - choice
        score = ways[choice, at] + logs[step]
    state = len(states) - 1
    if len(states) > 1 and score[-2] > score[-1]:
        state -= 1
    path = [state]
    for step in range(len(chances) - 1, 0, -1):
        path.append(int(back[step, path[-1]]))
    order = np.array(path[::-1])
    spans = []
    for index in range(len(text)):
        steps = np.flatnonzero(order == 2 * index + 1)
        spans.append((int(steps[0]), int(steps[-1])) if len(steps) else (0, 0))
    return tuple(spans)
