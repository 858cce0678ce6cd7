"""Cards of designs that the program's makers did not tune it on, read.

`python -m tests.benchmarks.forms [--count N] [--first SEED] [--kept] [--unknown]`: cards of the
tuned or, with `--kept`, the kept designs, right ones and ones with a copying error, three levels;
each form taught from one phone photo, with `--unknown` none. Prints what of the right ones agrees,
by how the number was written, what is called different, and wrong "agrees".
`--untaught [--drawn SEED COUNT] [--jobs N]`: photos of designs whose form is not among those
taught: which are taken for one.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import tempfile
import time
from collections import Counter, defaultdict
from functools import partial
from pathlib import Path

import cv2
import numpy as np

from pairing.judge.box import rivals
from pairing.model import Verdict
from pairing.photos.forms import folder
from pairing.photos.forms.registration import registered
from tests.benchmarks.card_photos import photographed
from tests.benchmarks.designs import KEPT, LEVELS, MODES, TUNED, Design
from tests.benchmarks.drawn_cards import Filled, card_to_fill, fill_in
from tests.benchmarks.drawn_designs import drawn
from tests.benchmarks.taught import outcome, teach

_ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
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


def _forms_named(design: Design, count: int, is_taught: bool) -> tuple[Counter[str], float]:
    """What the photos of a design are told to be, and the CPU of it. The forms lie where the
    variable names."""
    found: Counter[str] = Counter()
    spent = 0.0
    for seed in range(count):
        card, _, _ = card_of(design, LEVELS[seed % 3], seed)
        jpeg, _ = photographed(card.sheet, LEVELS[seed % 3], card.rng)
        photo = cv2.imdecode(np.frombuffer(jpeg, np.uint8), cv2.IMREAD_GRAYSCALE)
        index = folder.index()
        start = time.process_time()
        match = registered(np.asarray(photo, np.uint8), index)
        spent += time.process_time() - start
        if not is_taught:
            found["untaught, taken" if match else "untaught, not taken"] += 1
        elif match is None:
            found["none"] += 1
        else:
            found["right" if match.form.name == design.name else "wrong"] += 1
    return found, spent


def _teach_one(design: Design, place: Path) -> None:
    teach((design,), place)


def print_forms_named(given: argparse.Namespace) -> None:
    """Print how often the right form is told, and an untaught card taken for a taught one."""
    first, many = given.drawn
    taught = (*TUNED, *map(drawn, range(first, first + many)))
    untaught = (*KEPT, *map(drawn, range(first + many, first + 2 * many)))
    found: Counter[str] = Counter()
    with tempfile.TemporaryDirectory(prefix="counterfoil-") as place:
        os.environ[folder.VARIABLE] = place
        os.environ.update(dict.fromkeys(_ONE_THREAD, "1"))
        context = multiprocessing.get_context("spawn")
        with context.Pool(given.jobs, cv2.setNumThreads, (1,)) as pool:
            pool.map(partial(_teach_one, place=Path(place)), taught, 1)
            jobs = [(one, given.count, is_taught)
                    for group, is_taught in ((taught, True), (untaught, False))
                    for one in group]  # fmt: skip
            spent = 0.0
            for counts, seconds in pool.starmap(_forms_named, jobs, 1):
                found.update(counts)
                spent += seconds
    print(f"{len(taught)} forms; taught: {found['right']} told right, {found['wrong']} wrong, "
          f"{found['none']} none; untaught: {found['untaught, taken']} of "
          f"{found['untaught, taken'] + found['untaught, not taken']} taken for a taught form; "
          f"{spent / found.total():.3f} s of CPU a photo")  # fmt: skip


def main() -> None:
    """One of the two tables."""
    parser = argparse.ArgumentParser(prog="forms", description=__doc__)
    parser.add_argument("--count", type=int, default=9, help="cards of each design and level")
    parser.add_argument("--first", type=int, default=1000, help="the first card's seed")
    parser.add_argument("--kept", action="store_true", help="the designs for measuring only")
    parser.add_argument("--unknown", action="store_true", help="teach no form")
    parser.add_argument("--untaught", action="store_true", help="which form is told")
    parser.add_argument("--drawn", type=int, nargs=2, default=(0, 0), metavar=("SEED", "COUNT"),
                        help="so many designs drawn by parameters are taught too, and as many "
                        "more are not")  # fmt: skip
    parser.add_argument("--jobs", type=int, default=1, help="processes, for --untaught")
    given = parser.parse_args()
    if given.untaught:
        print_forms_named(given)
    else:
        table(KEPT if given.kept else TUNED, given)


if __name__ == "__main__":
    main()
