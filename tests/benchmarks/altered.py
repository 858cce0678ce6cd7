"""Boxes that were altered, and must not be sealed.

`python -m tests.benchmarks.altered [--count N] [--designs NAME ... | --drawn N] [--unknown]
[--jobs N] [--values FILE] [KIND ...]`: each kind of `alterations` on cards of `designs`, or of N
designs that are drawn by parameters (`--first` is the first one's seed) and filled in by people
whose digits lie in `shared`; photos of level phone, each design's form taught from one photo; with
`--unknown` none is. "agrees" is the figure that matters. How people spoil a number is invented, so
this is no rate.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import os
import tempfile
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import cv2

from pairing.model import Verdict
from tests.benchmarks.alterations import KINDS, TWO_LINES, altered_on
from tests.benchmarks.card_photos import photographed
from tests.benchmarks.designs import DESIGNS, TUNED, Design
from tests.benchmarks.drawn_designs import drawn
from tests.benchmarks.lost import Drawn, why_lost
from tests.benchmarks.lost_causes import Against
from tests.benchmarks.taught import outcome, teach

_ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
_AT_A_TIME = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """Cards of one design, each a kind and a seed."""

    design: Design
    cards: tuple[tuple[str, int], ...]


def tasks(given: argparse.Namespace) -> list[Task]:
    """One for each design."""
    kinds = given.kinds or list(KINDS)
    if given.drawn:
        seeds = range(given.first, given.first + given.drawn)
        made = [(drawn(seed), [(kind, seed) for kind in kinds]) for seed in seeds]
    else:
        cards: dict[str, list[tuple[str, int]]] = defaultdict(list)
        for kind in kinds:
            names = [n for n in given.designs if "comb" not in n or kind not in TWO_LINES]
            for seed in range(given.first, given.first + given.count):
                cards[names[seed % len(names)]].append((kind, seed))
        made = [(DESIGNS[name], some) for name, some in cards.items()]
    return [
        Task(design=design, cards=tuple(some[at : at + _AT_A_TIME]))
        for design, every in made
        for some in [[o for o in every if design.box_kind != "comb" or o[0] not in TWO_LINES]]
        for at in range(0, len(some), _AT_A_TIME)
    ]


Came = tuple[str, int, Verdict, Against | None]
"""Kind, seed and verdict of a card, and what speaks against it."""


def verdicts(task: Task, *, is_unknown: bool, by_people: bool, asks: bool) -> list[Came]:
    """What comes of each card. asks: whether each check is asked by itself."""
    found = []
    with tempfile.TemporaryDirectory(prefix="counterfoil-") as place:
        teach([] if is_unknown else [task.design], Path(place))
        for kind, seed in task.cards:
            card = altered_on(kind, task.design, seed, by_people=by_people)
            jpeg, to_photo = photographed(card.sheet, "phone", card.rng)
            what = outcome(jpeg, card.article, card.card, Path(place))
            shown = Drawn(jpeg=jpeg, article=card.article, card=card.card, to_photo=to_photo)
            against = why_lost(task.design, shown, is_unknown=is_unknown) if asks else None
            found.append((kind, seed, what.verdict, against))
    return found


def _all(given: argparse.Namespace) -> Iterator[tuple[Task, list[Came]]]:
    every = tasks(given)
    one = partial(
        verdicts, is_unknown=given.unknown, by_people=bool(given.drawn), asks=bool(given.values)
    )
    if given.jobs <= 1:
        yield from ((task, one(task)) for task in every)
        return
    # Children are new interpreters: they import numpy with these set.
    os.environ.update(dict.fromkeys(_ONE_THREAD, "1"))
    with multiprocessing.get_context("spawn").Pool(given.jobs, cv2.setNumThreads, (1,)) as pool:
        yield from zip(every, pool.imap(one, every), strict=True)


def main() -> None:
    """Print how each kind comes out."""
    parser = argparse.ArgumentParser(prog="altered", description=__doc__)
    parser.add_argument("kinds", nargs="*", choices=[*KINDS, []])
    parser.add_argument("--count", type=int, default=8, help="cards of each kind")
    parser.add_argument("--first", type=int, default=0, help="the first card's seed")
    parser.add_argument("--designs", nargs="+", default=[design.name for design in TUNED])
    parser.add_argument("--drawn", type=int, default=0, help="designs drawn by parameters")
    parser.add_argument("--unknown", action="store_true", help="teach no form")
    parser.add_argument("--values", type=Path, help="write what was measured of each line here")
    parser.add_argument("--jobs", type=int, default=1, help="processes")
    given = parser.parse_args()
    counts: dict[str, Counter[Verdict]] = defaultdict(Counter)
    for task, found in _all(given):
        for kind, seed, verdict, against in found:
            counts[kind][verdict] += 1
            if against is not None:
                told = {"seed": seed, "what": kind, "verdict": verdict.value}
                told |= {"checks": against.checks, "values": against.values}
                with given.values.open("a") as file:
                    file.write(json.dumps(told) + "\n")
            if verdict is Verdict.AGREES:
                print(f"AGREES: {kind} {task.design.name} {seed}", flush=True)
        done = sum(map(Counter.total, counts.values()))
        agree = sum(one[Verdict.AGREES] for one in counts.values())
        print(f"{task.design.name}: {done} cards so far, {agree} agree", flush=True)
    for kind, one in sorted(counts.items()):
        print(f"{kind:24} " + ", ".join(f"{one[v]} {v.value}" for v in Verdict))
    total = sum(counts.values(), Counter[Verdict]())
    print(f"{'all':24} " + ", ".join(f"{total[v]} {v.value}" for v in Verdict))


if __name__ == "__main__":
    main()
