"""The other fields of a card, told filled or empty.

    python -m tests.benchmarks.fields [--count N] [--first SEED] [--kept] [--drawn N]
        [--skip N] [--jobs N] [--slipped]

Cards of the tuned or, with `--kept`, the kept designs, and of N of the designs that are drawn by
parameters (`drawn_designs`, `drawn_backs` for the other side), the first ones after `--skip`, each
form taught from one phone photo; `--count` cards of each design and level. Printed: of each field
the share told rightly, told wrongly and not told; of the services what is said, and which is
named; CPU a card besides the number. With `--slipped` each card's signature stands in another
field, and what is said of it on its return is counted.
"""

from __future__ import annotations

import argparse
import multiprocessing
import time
from collections import Counter, defaultdict
from collections.abc import Callable, Sequence
from functools import partial

import numpy as np
from numpy.typing import NDArray

from pairing.judge.fields import FieldSeen, State, before_mailing, on_return
from pairing.photos.forms.features import Index
from pairing.photos.forms.field_ink import seen_fields
from pairing.photos.forms.registration import registered
from tests.benchmarks import drawn_backs, drawn_designs
from tests.benchmarks.card_photos import photographed
from tests.benchmarks.designs import DESIGNS, KEPT, TUNED, Design
from tests.benchmarks.drawn_fields import KEYS, Drawn, drawn, gray_of, taught_with_fields

LEVELS = ("clean", "phone")
SAID = {
    "one": set(), "none": {"service-unmarked"}, "two": {"service-two"},
    "between": {"service-between"}, "corrected": {"service-corrected"},
}  # fmt: skip
Counts = dict[tuple[str, str], Counter[str]]


def is_apart(kind: str) -> bool:
    """Whether a signature that is beside its field is in no way in this one."""
    return kind in ("service box", "addressee")


class Table:
    """What was told, by level and kind of field."""

    def __init__(self) -> None:
        self.told: Counts = defaultdict(Counter)
        self.said: Counts = defaultdict(Counter)
        self.wrong: list[str] = []
        self.stopped: list[str] = []
        self.spent_s, self.cards, self.untold_forms = 0.0, 0, 0

    def add(self, other: Table) -> None:
        """Count what another one counted too."""
        for mine, theirs in ((self.told, other.told), (self.said, other.said)):
            for key, counts in theirs.items():
                mine[key].update(counts)
        self.wrong += other.wrong
        self.stopped += other.stopped
        self.spent_s += other.spent_s
        self.cards += other.cards
        self.untold_forms += other.untold_forms

    def seen(self, photo: NDArray[np.uint8], index: Index) -> tuple[FieldSeen, ...]:
        """What of each field is seen; () where the form is not told."""
        match = registered(photo, index)
        if match is None:
            self.untold_forms += 1
            return ()
        start = time.process_time()
        found = seen_fields(photo, match)
        self.spent_s += time.process_time() - start
        self.cards += 1
        return found

    def count_answer(
        self, level: str, kind: str, one: FieldSeen, which: str, *, is_filled: bool
    ) -> None:
        """Count whether a field was told rightly. which: the card, for the list of wrong ones."""
        right = State.FILLED if is_filled else State.EMPTY
        what = "right" if one.state is right else "wrong"
        what = "untold" if one.state is State.UNTOLD else what
        self.told[level, kind][what] += 1
        if what == "wrong":
            self.wrong.append(f"{which} {one.name} {one.state} {one.share}")

    def card(self, design: Design, level: str, seed: int, index: Index) -> None:
        """Draw a card, photograph it, and compare."""
        rng = np.random.default_rng([seed, *design.name.encode(), *level.encode(), 6])
        asked = any(key == "signature" for _, key in design.fields) and rng.random() < 0.1
        made = drawn(design, rng, sign_beside=asked)
        beside = made.has_sign_beside
        seen = self.seen(gray_of(photographed(made.card.sheet, level, rng)[0]), index)
        for one in seen:
            kind = "service box" if one.name.startswith("service") else one.name
            is_between = made.services == "between" and kind == "service box"
            if not is_between and (not beside or is_apart(kind)):
                which = f"{design.name} {level} {seed}"
                self.count_answer(level, kind, one, which, is_filled=made.truth[one.name])
        if seen and made.services:
            self.services(level, made, seen)
        if seen and "signature" in made.truth and not made.truth["signature"]:
            found = [str(one.code) for one in on_return(seen)[2]]
            what = "signature beside its field" if beside else "no signature"
            self.said[level, what][str(found)] += 1

    def services(self, level: str, made: Drawn, seen: Sequence[FieldSeen]) -> None:
        """Count what is said of the service boxes, and which service is named."""
        codes = {str(one.code) for one in before_mailing(seen) if one.code.startswith("service")}
        said = "right" if codes == SAID[made.services] else "|".join(codes) or "nothing"
        self.said[level, f"services: {made.services}"][said] += 1
        marked = [one.name for one in seen if one.name.startswith("service ")
                  and one.state is State.FILLED]  # fmt: skip
        if codes or len(marked) != 1:
            named = "asked about" if codes else "none named"
        else:
            is_right = made.services == "one" and made.truth[marked[0]]
            named = "right" if is_right else f"wrong ({made.services})"
        self.said[level, "one service named" if made.services == "one" else "others named"][
            named
        ] += 1

    def back(self, design: drawn_backs.Back, level: str, seed: int, index: Index) -> None:
        """The same for the other side of a card."""
        rng = np.random.default_rng([seed, *design.name.encode(), *level.encode(), 8])
        is_filled = bool(rng.random() < 0.5)
        sheet = drawn_backs.filled(design, rng) if is_filled else drawn_backs.empty(design)
        for one in self.seen(gray_of(photographed(sheet, level, rng)[0]), index):
            which = f"{design.name} {level} {seed} {design.marked}"
            self.count_answer(level, one.name, one, which, is_filled=is_filled)

    def slipped(self, design: Design, level: str, seed: int, index: Index) -> None:
        """Draw a card whose signature stands in another field, and ask whether it is signed."""
        others = [KEYS[key] for _, key in design.fields if key in KEYS and key != "signature"]
        if not any(key == "signature" for _, key in design.fields) or not others:
            return
        rng = np.random.default_rng([seed, *design.name.encode(), *level.encode(), 7])
        where = str(rng.choice(others))
        made = drawn(design, rng, sign_in=where)
        seen = self.seen(gray_of(photographed(made.card.sheet, level, rng)[0]), index)
        if not seen:
            return
        is_signed, _, found = on_return(seen)
        said = {True: "signed", False: "not signed", None: "not told"}[is_signed]
        self.said[level, f"signature in {where}"][
            " ".join((said, *(one.code for one in found)))
        ] += 1

    def show(self) -> None:
        """Print it."""
        for (level, kind), found in sorted(self.told.items()):
            many = found.total()
            rows = ", ".join(
                f"{what} {found[what]} ({100 * found[what] / many:.2f} %)"
                for what in ("right", "wrong", "untold")
            )
            print(f"{level:6} {kind:14} {many:5}: {rows}")
        for (level, kind), found in sorted(self.said.items()):
            print(f"{level:6} {kind}: {dict(found.most_common())}")
        print("designs that could not be drawn, taught or read to the end:", self.stopped or "none")
        print("told wrongly:", self.wrong[:60] or "none")
        each = 1000 * self.spent_s / max(1, self.cards)
        print(f"CPU a card besides the number: {each:.0f} ms; {self.cards} cards, "
              f"form not told {self.untold_forms}")  # fmt: skip


def of_design(design: str, seeds: range, *, is_slipped: bool) -> Table:
    """What was told of one design's cards. design: its name, or `drawn N` or `back N`."""
    table = Table()
    try:
        _count(table, design, seeds, is_slipped=is_slipped)
    except Exception as error:  # one design must not lose what was measured of the others
        table.stopped.append(f"{design}: {type(error).__name__}: {error}")
    return table


def _count(table: Table, design: str, seeds: range, *, is_slipped: bool) -> None:
    kind, _, number = design.partition(" ")
    draw: Callable[..., None] = table.slipped if is_slipped else table.card
    shape: Design | drawn_backs.Back
    if kind == "back":
        shape, draw = drawn_backs.back(int(number)), table.back
        index = Index.of([drawn_backs.taught_back(shape)])
    else:
        shape = drawn_designs.drawn(int(number)) if number else DESIGNS[design]
        index = Index.of([taught_with_fields(shape)])
    for level in LEVELS:
        for seed in seeds:
            draw(shape, level, seed, index)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(prog="fields", description=__doc__)
    parser.add_argument("--count", type=int, default=4, help="cards of each design and level")
    parser.add_argument("--first", type=int, default=2000, help="the first card's seed")
    parser.add_argument("--kept", action="store_true", help="the designs for measuring only")
    parser.add_argument("--drawn", type=int, default=0, help="designs drawn by parameters")
    parser.add_argument("--skip", type=int, default=0, help="designs looked at before")
    parser.add_argument("--jobs", type=int, default=1, help="processes")
    parser.add_argument("--slipped", action="store_true", help="signatures in other fields")
    given = parser.parse_args()
    seeds = drawn_designs.KEPT if given.kept else drawn_designs.TUNED
    drawn = seeds[given.skip : given.skip + given.drawn]
    by_hand = () if given.skip else tuple(KEPT if given.kept else TUNED)
    names = [design.name for design in by_hand]
    names += [f"drawn {seed}" for seed in drawn]
    names += [] if given.slipped else [f"back {seed}" for seed in drawn]
    work = partial(
        of_design,
        seeds=range(given.first, given.first + given.count),
        is_slipped=given.slipped,
    )
    total = Table()
    with multiprocessing.get_context("spawn").Pool(given.jobs) as pool:
        for table in pool.imap_unordered(work, names):
            total.add(table)
    total.show()


if __name__ == "__main__":
    main()
