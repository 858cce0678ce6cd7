"""Which fields `form learn` proposes on an empty card, and by which name.

    python -m tests.benchmarks.proposed [--drawn N] [--kept] [--faces FILE...]

The tuned or, with `--kept`, the kept designs, and the first N of those that are drawn by
parameters (`drawn_designs`, `drawn_backs` for the other side), each learned from one phone photo.
FILE: font files that captions are set in, in turn, in place of the demo's face, from which the
program has the shapes of words. Printed: of each field how often its place was proposed, by which
name, and how many other places were proposed on a card.
"""

from __future__ import annotations

import argparse
import time
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import replace
from itertools import cycle

from pairing.demo.sheet import SANS
from pairing.judge.fields import RESTRICTED, SERVICE
from pairing.photos.forms.definition import Form, Polygon
from pairing.photos.forms.proposed_fields import Proposed, proposed_fields
from tests.benchmarks import drawn_backs, drawn_designs
from tests.benchmarks.designs import KEPT, TUNED
from tests.benchmarks.drawn_fields import taught_with_fields

_SAME = 0.5
"""A place is a field's where each covers so much of the other."""


def forms(*, is_kept: bool, drawn: int, faces: list[str]) -> Iterator[Form]:
    """The forms, each with its fields as they are."""
    seeds = (drawn_designs.KEPT if is_kept else drawn_designs.TUNED)[:drawn]
    turns = cycle(faces or [SANS])
    for design in (*(KEPT if is_kept else TUNED), *map(drawn_designs.drawn, seeds)):
        yield taught_with_fields(replace(design, face=next(turns)))
    for seed in seeds:
        yield drawn_backs.taught_back(replace(drawn_backs.back(seed), face=next(turns)))


def covered(one: Polygon, other: Polygon) -> float:
    """Which share of the first upright rectangle lies in the second."""
    (a, b), (c, d) = one[0], one[2]
    (e, f), (g, h) = other[0], other[2]
    both = max(0.0, min(c, g) - max(a, e)) * max(0.0, min(d, h) - max(b, f))
    return both / max(1e-9, (c - a) * (d - b))


def is_at(one: Proposed, place: Polygon) -> bool:
    """Whether that is the place of a field."""
    return min(covered(one.place, place), covered(place, one.place)) > _SAME


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(prog="proposed", description=__doc__)
    parser.add_argument("--drawn", type=int, default=20, help="designs drawn by parameters")
    parser.add_argument("--kept", action="store_true", help="the designs for measuring only")
    parser.add_argument("--faces", nargs="*", default=[], help="font files of the captions")
    given = parser.parse_args()
    found: dict[str, Counter[str]] = defaultdict(Counter)
    others: Counter[str] = Counter()
    spent, many = 0.0, 0
    for form in forms(is_kept=given.kept, drawn=given.drawn, faces=given.faces):
        start = time.process_time()
        proposed = proposed_fields(replace(form, fields=()))
        spent, many = spent + time.process_time() - start, many + 1
        used: list[Proposed] = []
        for field in form.fields:
            name = SERVICE if field.name.startswith(SERVICE) else field.name
            here = [one for one in proposed if is_at(one, field.place)]
            used += here[:1]
            said = here[0].name if here else ""
            is_right = said == name or (name == SERVICE and said in ("", RESTRICTED))
            what = "by name" if is_right and said else f"as {said}" if said else "by place"
            found[name][what if here else "not proposed"] += 1
        for one in proposed:
            if one not in used:
                others[f"{one.kind} {one.name or 'unnamed'}"] += 1
    for name, counts in sorted(found.items()):
        print(f"{name:14} {counts.total():4}: {dict(counts.most_common())}")
    print(f"other places on {many} cards: {dict(others.most_common())}")
    print(f"CPU a card: {spent / max(1, many):.2f} s")


if __name__ == "__main__":
    main()
