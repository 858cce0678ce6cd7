"""Boxes that were altered, and must not be sealed.

`python -m tests.benchmarks.altered [--count N] [--designs NAME ...] [--unknown] [KIND ...]`:
each kind of `alterations` on cards of `designs`, photos of level phone, each design's form taught
from one photo; with `--unknown` none is. "agrees" is the figure that matters. How people
spoil a number is invented, so this is no rate.
"""

from __future__ import annotations

import argparse
import tempfile
from collections import Counter
from pathlib import Path

from pairing.model import Verdict
from tests.benchmarks.alterations import KINDS, TWO_LINES, altered_card
from tests.benchmarks.card_photos import photographed
from tests.benchmarks.designs import DESIGNS, TUNED
from tests.benchmarks.taught import outcome, teach


def main() -> None:
    """Print how each kind comes out."""
    parser = argparse.ArgumentParser(prog="altered", description=__doc__)
    parser.add_argument("kinds", nargs="*", choices=[*KINDS, []])
    parser.add_argument("--count", type=int, default=8, help="cards of each kind")
    parser.add_argument("--first", type=int, default=0, help="the first card's seed")
    parser.add_argument("--designs", nargs="+", default=[design.name for design in TUNED])
    parser.add_argument("--unknown", action="store_true", help="teach no form")
    given = parser.parse_args()
    total: Counter[Verdict] = Counter()
    with tempfile.TemporaryDirectory(prefix="counterfoil-") as place:
        teach([] if given.unknown else [DESIGNS[name] for name in given.designs], Path(place))
        for kind in given.kinds or KINDS:
            counts: Counter[Verdict] = Counter()
            agree = []
            for seed in range(given.first, given.first + given.count):
                names = [n for n in given.designs if "comb" not in n or kind not in TWO_LINES]
                name = names[seed % len(names)]
                card = altered_card(kind, name, seed)
                jpeg, _ = photographed(card.sheet, "phone", card.rng)
                verdict = outcome(jpeg, card.article, card.card, Path(place)).verdict
                counts[verdict] += 1
                agree += [f"{name} {seed}"] if verdict is Verdict.AGREES else []
            total += counts
            shown = ", ".join(f"{counts[one]} {one.value}" for one in Verdict)
            print(f"{kind:24} {shown}" + (f"; agree: {agree}" if agree else ""), flush=True)
    print(f"{'all':24} " + ", ".join(f"{total[one]} {one.value}" for one in Verdict))


if __name__ == "__main__":
    main()
