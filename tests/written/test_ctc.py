"""String probabilities against brute force over all paths (the definition in Graves et al.
2006, section 3.1: a text's probability is the sum over the paths that collapse to it)."""

from __future__ import annotations

import math
from collections import defaultdict
from itertools import product

import numpy as np
import pytest

from pairing.photos.written import ctc


def _all_texts(chances: np.ndarray, classes: int) -> dict[str, float]:
    found: dict[str, float] = defaultdict(float)
    for path in product(range(classes), repeat=len(chances)):
        chance = math.prod(chances[step, c] for step, c in enumerate(path))
        text = "".join(
            ctc.CHARACTERS[c - 1] for c, before in zip(path, (0, *path), strict=False)
            if c and c != before
        )  # fmt: skip
        found[text] += chance
    return found


def _chances(seed: int, steps: int = 6, classes: int = 4) -> np.ndarray:
    drawn = np.random.default_rng(seed).dirichlet(np.full(classes, 0.6), steps)
    return np.hstack([drawn, np.zeros((steps, 37 - classes))])


@pytest.mark.parametrize("seed", range(5))
def test_every_text_has_the_probability_of_its_paths(seed: int) -> None:
    chances = _chances(seed)
    wanted = _all_texts(chances, 4)
    texts = list(wanted)
    seen = np.exp(ctc.log_likelihoods(chances, texts))
    assert seen == pytest.approx([wanted[text] for text in texts], rel=1e-9)
    assert seen.sum() == pytest.approx(1.0)


@pytest.mark.parametrize("seed", range(5))
def test_the_beam_finds_the_likeliest_text(seed: int) -> None:
    wanted = _all_texts(_chances(seed), 4)
    text, score = ctc.beam(_chances(seed), width=60)[0]
    assert text == max(wanted, key=lambda key: wanted[key])
    assert math.exp(score) == pytest.approx(wanted[text])


def test_impossible_texts_have_no_probability() -> None:
    chances = _chances(1)
    assert ctc.log_likelihoods(chances, ["0000000", "9", "x"]).tolist() == [-math.inf] * 3


def test_places_run_in_order() -> None:
    chances = np.full((9, 37), 1e-6)
    for step, klass in enumerate((0, 3, 3, 0, 3, 0, 5, 5, 0)):
        chances[step, klass] = 1.0
    assert ctc.places(chances, "224") == ((1, 2), (4, 4), (6, 7))
