"""Bags of made-up readings: labels and cards that came apart, put together by what the boxes say.

A part of `tests.benchmarks.audit`. Nothing is photographed; one box in five is read with doubts,
the others as clearly as most of a drawn bag (another text has 1 in 100 to 1 in 10,000), a
share of the photos is missing on either side, and for a share of the pieces a list names the pair,
as it was printed. Beside what is said stands what is the case.
"""

from __future__ import annotations

import math
import random
import time
from collections import Counter
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from functools import partial

from pairing.audit.matching import cards_to_labels
from pairing.audit.matching.cards_to_labels import Box, Match
from pairing.audit.statistics.bounds import bounds
from tests.benchmarks.audit_lot import Truth, pieces

_CLEAR = 0.9
SAMPLES, SAMPLE, CONFIDENCE = 20, 300, 0.95
"""Samples drawn of each bag, their size, and what their bounds promise."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bag:
    """What became of one bag. counts: by what is said and what is the case. bound_held: of how
    many samples the upper bound was not below the bag's share of wrong boxes."""

    counts: Counter[str]
    bound_held: int
    cpu_s: float


def one_bag(count: int, missing: float, listed: float, reach: float, seed: int) -> Bag:
    """A bag of so many pieces, matched and judged. reach: as `out_of_order`."""
    least = cards_to_labels.least_margin_to_agree("1e-4")
    start = time.process_time()
    rng = random.Random(seed)
    lot_of = out_of_order([truth for _, truth in pieces(count, 11 + seed)], reach, rng)
    labels = [one.article for one in lot_of if rng.random() >= missing]
    cards = [one for one in lot_of if rng.random() >= missing]
    boxes = [_simulated_box(one, rng, listed) for one in cards]
    found = cards_to_labels.match(labels, boxes)
    counts: Counter[str] = Counter()
    agreeing = []
    there = set(labels)
    for truth, box, one in zip(cards, boxes, found, strict=True):
        is_here = truth.article in there
        counts["both photos there, box right"] += is_here and not truth.error
        counts["both photos there, box wrong"] += is_here and bool(truth.error)
        # What is read with doubts is no difference, whatever it is nearest to.
        is_named = one.is_probable and box.best != one.label and _chance(box) > _CLEAR
        counts["box wrong, named (differs, or probably)"] += (
            is_here and is_named and bool(truth.error)
        )
        counts["box wrong, clearly read"] += is_here and _chance(box) > _CLEAR and bool(truth.error)
        counts["box right, but named so"] += is_named and not truth.error
        agreeing += [truth] if _counted(counts, truth, box, one, least) else []
    return Bag(
        counts=counts,
        bound_held=_bounds_that_hold(lot_of, agreeing, rng),
        cpu_s=time.process_time() - start,
    )


def out_of_order(lot: Sequence[Truth], reach: float, rng: random.Random) -> list[Truth]:
    """The same with cards taken up to so many places too early or too late; 0 for none."""
    taken = sorted(range(len(lot)), key=lambda n: n + rng.uniform(-reach, reach))
    cards = sorted(one.card for one in lot)
    found = list(lot)
    for card, n in zip(cards, taken, strict=True):
        box = card if lot[n].box == lot[n].card else lot[n].box
        found[n] = replace(lot[n], card=card, box=box)
    return found


def _counted(counts: Counter[str], truth: Truth, box: Box, one: Match, least: float) -> bool:
    """Count one card in; whether its piece agrees."""
    is_right = one.label == truth.article
    says_so = one.is_sure and box.best == one.label
    is_proven = says_so and box.known == one.label and one.margin >= least
    is_probable = says_so and box.known != one.label
    for name, holds in (("agree", is_proven), ("probably agree", is_probable)):
        counts[f"{name}, right partner"] += holds and is_right and not truth.error
        counts[f"{name}, WRONG PARTNER OR BOX"] += holds and not (is_right and not truth.error)
    differs = one.is_sure and box.best != one.label
    counts["differ or probably differ, right partner"] += differs and is_right
    counts["differ or probably differ, wrong partner"] += differs and not is_right
    return is_proven


def _bounds_that_hold(lot: Sequence[Truth], agreeing: Sequence[Truth], rng: random.Random) -> int:
    """Whatever does not agree counts as bad, as in the report."""
    names = {one.name for one in agreeing}
    share = sum(bool(one.error) for one in lot) / len(lot)
    held = 0
    for _ in range(SAMPLES):
        drawn = rng.sample(lot, min(SAMPLE, len(lot)))
        bad = sum(one.name not in names for one in drawn)
        upper = bounds(len(drawn), bad, confidence=CONFIDENCE, lot=len(lot)).upper
        held += upper >= share
    return held


def simulated(words: Sequence[str]) -> None:
    """COUNT [MISSING [LISTED [BAGS [PROCESSES [REACH]]]]]: match so many bags; two are shares."""
    count, missing, listed, bags, processes, reach = (
        *words, *("0.05", "0", "1", "1", "0")[len(words) - 1 :]
    )  # fmt: skip
    whole: Counter[str] = Counter()
    held, cpu_s = 0, 0.0
    with ProcessPoolExecutor(int(processes)) as pool:
        work = partial(one_bag, int(count), float(missing), float(listed), float(reach))
        for seed, bag in enumerate(pool.map(work, range(int(bags)))):
            whole.update(bag.counts)
            held, cpu_s = held + bag.bound_held, cpu_s + bag.cpu_s
            wrong = bag.counts["agree, WRONG PARTNER OR BOX"]
            print(f"bag {seed}: {bag.cpu_s:.0f} s of CPU, {wrong} agree wrongly", flush=True)
    for name, number in whole.items():
        print(f"{name:45}{number:10,}")
    print(f"{'samples whose bound holds':45}{held:10,} of {int(bags) * SAMPLES:,}")
    print(f"{cpu_s:.1f} s of CPU for {bags} bags of {int(count):,} pieces, {float(missing):.0%} of "
          f"the photos missing, {float(listed):.0%} on a list")  # fmt: skip


def _chance(box: Box) -> float:
    return math.exp(box.log_chances([box.best])[0])


def _simulated_box(one: Truth, rng: random.Random, listed: float) -> Box:
    text = one.box
    sure = rng.random() < 0.8
    chances = {text: 1 - 10 ** rng.uniform(-4, -2) if sure else rng.uniform(0.2, 0.45)}
    if not sure:
        at = rng.randrange(len(text))
        wrong = f"{text[:at]}{rng.choice('0123456789')}{text[at + 1 :]}"
        chances[wrong] = chances.get(wrong, 0) + 0.5
    return replace(_read(chances, one.card), known=one.article if rng.random() < listed else None)


def _read(chances: dict[str, float], card: str) -> Box:
    rest = max(1e-12, 1 - sum(chances.values()))

    def log_chances(texts: Sequence[str]) -> list[float]:
        return [math.log(chances.get(text, rest * 1e-5)) for text in texts]

    return Box(best=max(chances, key=lambda one: chances[one]), log_chances=log_chances, own=card)
