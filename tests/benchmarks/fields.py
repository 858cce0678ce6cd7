"""The other fields of a card, told filled or empty.

    python -m tests.benchmarks.fields [--count N] [--first SEED] [--kept] [--slipped]

Cards of the tuned or, with `--kept`, the kept designs, each form taught from one phone photo; N
cards of each design and level. Printed: of each field the share told rightly, told wrongly and
not told; of the services what is said; CPU a card besides the number. With `--slipped` each card's
signature stands in another field, and what is said of it on its return is counted.
"""

from __future__ import annotations

import argparse
import time
from collections import Counter, defaultdict

import numpy as np

from pairing.judge.fields import State, before_mailing, on_return
from pairing.photos.forms.features import Index
from pairing.photos.forms.field_ink import seen_fields
from pairing.photos.forms.registration import registered
from tests.benchmarks.card_photos import photographed
from tests.benchmarks.designs import KEPT, TUNED, Design
from tests.benchmarks.drawn_fields import KEYS, drawn, gray_of, taught_with_fields

LEVELS = ("clean", "phone")
SAID = {
    "one": set(), "none": {"service-unmarked"}, "two": {"service-two"},
    "between": {"service-between"}, "corrected": {"service-corrected"},
}  # fmt: skip


def is_apart(kind: str) -> bool:
    """Whether a signature that is beside its field is in no way in this one."""
    return kind in ("service box", "addressee")


class Table:
    """What was told, by level and kind of field."""

    def __init__(self) -> None:
        self.told: dict[tuple[str, str], Counter[str]] = defaultdict(Counter)
        self.said: dict[tuple[str, str], Counter[str]] = defaultdict(Counter)
        self.wrong: list[str] = []
        self.spent_s, self.cards, self.untold_forms = 0.0, 0, 0

    def card(self, design: Design, level: str, seed: int, index: Index) -> None:
        """Draw a card, photograph it, and compare."""
        rng = np.random.default_rng([seed, *design.name.encode(), *level.encode(), 6])
        beside = any(key == "signature" for _, key in design.fields) and rng.random() < 0.1
        made = drawn(design, rng, sign_beside=beside)
        photo = gray_of(photographed(made.card.sheet, level, rng)[0])
        match = registered(photo, index)
        if match is None:
            self.untold_forms += 1
            return
        start = time.process_time()
        seen = seen_fields(photo, match)
        self.spent_s += time.process_time() - start
        self.cards += 1
        for one in seen:
            kind = "service box" if one.name.startswith("service") else one.name
            is_between = made.services == "between" and kind == "service box"
            if is_between or (beside and not is_apart(kind)):
                continue
            right = State.FILLED if made.truth[one.name] else State.EMPTY
            what = "right" if one.state is right else "wrong"
            what = "untold" if one.state is State.UNTOLD else what
            self.told[level, kind][what] += 1
            if what == "wrong":
                self.wrong.append(f"{design.name} {level} {seed} {one.name} {one.share}")
        codes = {str(one.code) for one in before_mailing(seen) if one.code.startswith("service")}
        if made.services:
            said = "right" if codes == SAID[made.services] else "|".join(codes) or "nothing"
            self.said[level, f"services: {made.services}"][said] += 1
        if beside:
            found = [str(one.code) for one in on_return(seen)[2]]
            self.said[level, "signature beside its field"][str(found)] += 1

    def slipped(self, design: Design, level: str, seed: int, index: Index) -> None:
        """Draw a card whose signature stands in another field, and ask whether it is signed."""
        others = [KEYS[key] for _, key in design.fields if key in KEYS and key != "signature"]
        if not any(key == "signature" for _, key in design.fields) or not others:
            return
        rng = np.random.default_rng([seed, *design.name.encode(), *level.encode(), 7])
        where = str(rng.choice(others))
        made = drawn(design, rng, sign_in=where)
        photo = gray_of(photographed(made.card.sheet, level, rng)[0])
        match = registered(photo, index)
        if match is None:
            self.untold_forms += 1
            return
        self.cards += 1
        is_signed, _, found = on_return(seen_fields(photo, match))
        said = {True: "signed", False: "not signed", None: "not told"}[is_signed]
        self.said[level, f"signature in {where}"][
            " ".join((said, *(one.code for one in found)))
        ] += 1

    def show(self) -> None:
        """Print it."""
        for (level, kind), found in sorted(self.told.items()):
            many = found.total()
            rows = ", ".join(
                f"{what} {100 * found[what] / many:.1f} %" for what in ("right", "wrong", "untold")
            )
            print(f"{level:6} {kind:14} {many:5}: {rows}")
        for (level, kind), found in sorted(self.said.items()):
            print(f"{level:6} {kind}: {dict(found.most_common())}")
        print("told wrongly:", self.wrong[:40] or "none")
        each = 1000 * self.spent_s / max(1, self.cards)
        print(f"CPU a card besides the number: {each:.0f} ms; {self.cards} cards, "
              f"form not told {self.untold_forms}")  # fmt: skip


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(prog="fields", description=__doc__)
    parser.add_argument("--count", type=int, default=4, help="cards of each design and level")
    parser.add_argument("--first", type=int, default=2000, help="the first card's seed")
    parser.add_argument("--kept", action="store_true", help="the designs for measuring only")
    parser.add_argument("--slipped", action="store_true", help="signatures in other fields")
    given = parser.parse_args()
    table = Table()
    for design in KEPT if given.kept else TUNED:
        index = Index.of([taught_with_fields(design)])
        for level in LEVELS:
            for seed in range(given.first, given.first + given.count):
                (table.slipped if given.slipped else table.card)(design, level, seed, index)
    table.show()


if __name__ == "__main__":
    main()
