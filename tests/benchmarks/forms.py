"""Cards of designs that the program's makers did not tune it on, read.

`python -m tests.benchmarks.forms [--count N] [--first SEED] [--kept] [--unknown]`: cards of the
tuned or, with `--kept`, the kept designs, right ones and ones with a copying error, three levels;
each form taught from one phone photo, with `--unknown` none. Prints what of the right ones agrees,
by how the number was written, what is called different, and wrong "agrees".
`--untaught`: photos of designs whose form is not among those taught: which are taken for one.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from collections import Counter, defaultdict
from pathlib import Path

import cv2
import numpy as np

from pairing.judge.box import rivals
from pairing.model import Verdict
from pairing.photos.forms import folder
from pairing.photos.forms.registration import registered
from tests.benchmarks.card_photos import photographed
from tests.benchmarks.designs import DESIGNS, KEPT, LEVELS, MODES, TUNED, Design
from tests.benchmarks.drawn_cards import Filled, card_to_fill, fill_in
from tests.benchmarks.taught import outcome, teach

_WRONG_EVERY = 3
"""Of so many cards one is written with a copying error."""


def card_of(design: Design, level: str, seed: int) -> tuple[Filled, str, bool]:
    """A filled card, how its number was written, and whether it repeats the label's."""
    rng = np.random.default_rng([seed, *design.name.encode(), *level.encode(), 5])
    card = card_to_fill(design, rng)
    mode = MODES[seed % len(MODES)]
    is_right = seed % (len(MODES) * _WRONG_EVERY) < len(MODES) * (_WRONG_EVERY - 1)
    label = card.article
    if not is_right:
        wrong = rivals(label, group_sizes=(4,))
        card.article = wrong[int(rng.integers(len(wrong)))].text
    fill_in(card, mode)
    card.article = label
    return card, mode, is_right


def table(designs: tuple[Design, ...], given: argparse.Namespace) -> None:
    """Print what of each level and mode agrees."""
    counts: dict[tuple[str, str, bool], Counter[Verdict]] = defaultdict(Counter)
    codes: Counter[str] = Counter()
    bad, spent = [], 0.0
    with tempfile.TemporaryDirectory(prefix="counterfoil-") as place:
        teach(() if given.unknown else designs, Path(place))
        for level in LEVELS:
            for design in designs:
                for seed in range(given.first, given.first + given.count):
                    card, mode, is_right = card_of(design, level, seed)
                    jpeg, _ = photographed(card.sheet, level, card.rng)
                    start = time.process_time()
                    what = outcome(jpeg, card.article, card.card, Path(place))
                    spent += time.process_time() - start
                    counts[level, mode, is_right][what.verdict] += 1
                    codes.update(what.codes if what.verdict is Verdict.UNREAD else ())
                    is_bad = what.verdict is (Verdict.DIFFERS if is_right else Verdict.AGREES)
                    bad += [f"{design.name} {level} {seed} {what.read}"] if is_bad else []
    for (level, mode, is_right), found in sorted(counts.items(), key=lambda row: not row[0][2]):
        shown = ", ".join(f"{found[one]} {one.value}" for one in Verdict)
        print(f"{level:6} {mode:14} {'right' if is_right else 'wrong'}: {shown}")
    print("right ones that differ, wrong ones that agree:", bad or "none")
    print("why unread:", dict(codes.most_common()))
    cards = sum(found.total() for found in counts.values())
    print(f"CPU a photo, barcodes included: {spent / max(1, cards):.2f} s")


def told(count: int) -> None:
    """Print how often the right form is told, and an untaught card taken for a taught one."""
    right, none, wrong, taken, spent = 0, 0, 0, 0, 0.0
    with tempfile.TemporaryDirectory(prefix="counterfoil-") as place:
        teach(TUNED, Path(place))
        index = folder.index()
        for design in DESIGNS.values():
            for seed in range(count):
                card, _, _ = card_of(design, LEVELS[seed % 3], seed)
                jpeg, _ = photographed(card.sheet, LEVELS[seed % 3], card.rng)
                photo = cv2.imdecode(np.frombuffer(jpeg, np.uint8), cv2.IMREAD_GRAYSCALE)
                start = time.process_time()
                match = registered(np.asarray(photo, np.uint8), index)
                spent += time.process_time() - start
                if design not in TUNED:
                    taken += match is not None
                elif match is None:
                    none += 1
                else:
                    right, wrong = (
                        right + (match.form.name == design.name),
                        wrong + (match.form.name != design.name),
                    )
    print(f"taught: {right} told right, {wrong} wrong, {none} none; "
          f"untaught: {taken} of {count * len(KEPT)} taken for a taught form; "
          f"{spent / (count * len(DESIGNS)):.3f} s of CPU a photo, {len(TUNED)} forms")  # fmt: skip


def main() -> None:
    """One of the two tables."""
    parser = argparse.ArgumentParser(prog="forms", description=__doc__)
    parser.add_argument("--count", type=int, default=9, help="cards of each design and level")
    parser.add_argument("--first", type=int, default=1000, help="the first card's seed")
    parser.add_argument("--kept", action="store_true", help="the designs for measuring only")
    parser.add_argument("--unknown", action="store_true", help="teach no form")
    parser.add_argument("--untaught", action="store_true", help="which form is told")
    given = parser.parse_args()
    if given.untaught:
        told(given.count)
    else:
        table(KEPT if given.kept else TUNED, given)


if __name__ == "__main__":
    main()
