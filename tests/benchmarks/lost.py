"""Where boxes that should have been read are lost, and why.

`python -m tests.benchmarks.lost [--count N] [--first SEED] [--unknown] [--filled] [--mode MODE]
[--level LEVEL] [--drawn FOLDER] [--jobs N] [--brief] [--values FILE]`: right cards of designs that
are drawn by parameters, one a seed, filled in by people whose digits lie in `shared` (by the
demonstration's hands without it). One line for each that does not agree, with all checks that speak
against it; at the end a table of the checks by level and mode: how many cards each speaks against,
and how many it loses alone. Drawing takes longer than reading: `--drawn` keeps the photos.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import os
import shutil
import tempfile
import time
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.errors import CounterfoilError
from pairing.model import Verdict
from pairing.photos.forms import folder
from pairing.photos.forms.definition import SUFFIX
from pairing.photos.forms.registration import registered
from tests.benchmarks.card_photos import corners, photographed
from tests.benchmarks.designs import LEVELS, MODES, Design
from tests.benchmarks.drawn_cards import Filled, card_to_fill, fill_in
from tests.benchmarks.drawn_designs import drawn
from tests.benchmarks.lost_causes import Against, Card, of_taught, of_unknown
from tests.benchmarks.people import people, person
from tests.benchmarks.taught import Learned, outcome, teach, teach_filled

_DOZEN = 12
_ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")


@dataclass(frozen=True, slots=True, kw_only=True)
class Came:
    """What came of one card. spent: CPU of reading, s."""

    seed: int
    kind: str
    level: str
    mode: str
    verdict: Verdict
    codes: tuple[str, ...]
    read: str
    spent: float
    against: Against | None


def filled(design: Design, seed: int, mode: str) -> Filled:
    """A right card of that design."""
    rng = np.random.default_rng([seed, 17, MODES.index(mode)])
    names = people()
    who = person(names[int(rng.integers(len(names)))], seed) if names else None
    card = card_to_fill(design, rng)
    card.person = who
    card.is_loose = True
    fill_in(card, mode)
    return card


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """A photo of a card, its numbers, and the (3, 3) map from the card's mm to the photo's px."""

    jpeg: bytes
    article: str
    card: str
    to_photo: NDArray[np.float64]


def drawn_card(design: Design, seed: int, level: str, mode: str, kept: Path | None) -> Drawn:
    """The photo, drawn, or as it was drawn before."""
    path = None if kept is None else kept / f"{design.name}-{level}-{mode}.jpg"
    if path is not None and path.is_file():
        told = json.loads(path.with_suffix(".json").read_text())
        return Drawn(jpeg=path.read_bytes(), article=told["article"], card=told["card"],
                     to_photo=np.array(told["to_photo"]))  # fmt: skip
    card = filled(design, seed, mode)
    jpeg, to_photo = photographed(card.sheet, level, card.rng)
    if path is not None:
        path.parent.mkdir(exist_ok=True, parents=True)
        path.write_bytes(jpeg)
        told = {"article": card.article, "card": card.card, "to_photo": to_photo.tolist()}
        path.with_suffix(".json").write_text(json.dumps(told))
    return Drawn(jpeg=jpeg, article=card.article, card=card.card, to_photo=to_photo)


def taught_by_filled(design: Design, seed: int) -> Learned:
    """Teach the design from a dozen filled cards, two in three by hand, in phone photos."""
    photos, first = [], np.zeros((8, 2))
    for at in range(_DOZEN):
        card = filled(design, 50_000 + _DOZEN * seed + at, MODES[(0, 0, 1 + at % 2)[at % 3]])
        jpeg, to_photo = photographed(card.sheet, "phone", card.rng)
        photos.append(jpeg)
        if at == 0:
            places = ((0.0, 0.0, *design.size), design.box)
            first = np.array([xy for one in places for xy in corners(to_photo, one)])
    return teach_filled(design, photos, first)


def taught_form(design: Design, place: Path, kept: Path | None) -> None:
    """The design's form in `place`, learned anew unless it was kept."""
    path = None if kept is None else kept / f"{design.name}{SUFFIX}"
    if path is not None and path.is_file():
        shutil.copy(path, place)
        return
    teach((design,), place)
    if path is not None:
        path.parent.mkdir(exist_ok=True, parents=True)
        shutil.copy(next(place.glob(f"*{SUFFIX}")), path)


def why_lost(design: Design, drawn_: Drawn, *, is_unknown: bool) -> Against:
    """What speaks against a card that was not read. The form's folder is set."""
    photo = cv2.imdecode(np.frombuffer(drawn_.jpeg, np.uint8), cv2.IMREAD_GRAYSCALE)
    gray = np.asarray(photo, np.uint8)
    card = Card(design=design, article=drawn_.article, own=drawn_.card, to_photo=drawn_.to_photo)
    if is_unknown:
        return of_unknown(gray, card)
    return of_taught(gray, card, registered(gray, folder.index()))


def lost(seed: int, given: argparse.Namespace) -> list[Came]:
    """What comes of this design's cards."""
    design = drawn(seed)
    came = []
    with tempfile.TemporaryDirectory(prefix="counterfoil-") as name:
        place = Path(name)
        os.environ[folder.VARIABLE] = name
        if given.filled:
            try:
                how = taught_by_filled(design, seed)
            except CounterfoilError as error:
                print(f"{design.name} {design.box_kind}: not learned: {error.what}", flush=True)
                return []
            print(f"{design.name} {design.box_kind}: {how.cards} cards, box off by "
                  f"{how.off_mm} mm, stray {how.stray_mm:.1f} mm", flush=True)  # fmt: skip
        elif not given.unknown:
            taught_form(design, place, given.drawn)
        for level in given.level or LEVELS[:2]:
            for mode in given.mode or MODES:
                card = drawn_card(design, seed, level, mode, given.drawn)
                start = time.process_time()
                what = outcome(card.jpeg, card.article, card.card, place)
                spent = time.process_time() - start
                is_read = what.verdict is Verdict.AGREES
                is_asked = mode != "strip_barcode" and (given.values or not is_read)
                against = why_lost(design, card, is_unknown=given.unknown) if is_asked else None
                came.append(Came(
                    seed=seed, kind=design.box_kind, level=level, mode=mode, verdict=what.verdict,
                    codes=what.codes, read=what.read, spent=spent, against=against,
                ))  # fmt: skip
    return came


def _all(given: argparse.Namespace) -> Iterator[list[Came]]:
    """In the order of their seeds."""
    seeds = range(given.first, given.first + given.count)
    if given.jobs <= 1:
        yield from (lost(seed, given) for seed in seeds)
        return
    # Children are new interpreters: they import numpy with these set.
    os.environ.update(dict.fromkeys(_ONE_THREAD, "1"))
    with multiprocessing.get_context("spawn").Pool(given.jobs, cv2.setNumThreads, (1,)) as pool:
        yield from pool.imap(partial(lost, given=given), seeds)


def _line_of(one: Came) -> str:
    against = one.against or Against(checks=(), told="")
    about = f"{one.seed} {one.kind} {one.level} {one.mode} {one.verdict.value}"
    checks = "; ".join(against.checks)
    return f"{about} {','.join(one.codes)} {one.read}: {checks} | {against.told}"


def print_table(came: list[Came]) -> None:
    """Verdicts, findings and checks by level and mode."""
    groups: dict[tuple[str, str], list[Came]] = defaultdict(list)
    for one in came:
        groups[one.level, one.mode].append(one)
    for (level, mode), some in sorted(groups.items()):
        verdicts = Counter(one.verdict for one in some)
        print(f"\n{level} {mode}: {len(some)} cards, "
              + ", ".join(f"{verdicts[v]} {v.value}" for v in Verdict))  # fmt: skip
        missed = [one for one in some if one.verdict is not Verdict.AGREES]
        codes = Counter(code for one in missed for code in one.codes)
        print("  findings:", ", ".join(f"{n} {code}" for code, n in codes.most_common()))
        sets = [one.against.checks for one in missed if one.against is not None]
        every = Counter(check for checks in sets for check in checks)
        alone = Counter(checks[0] for checks in sets if len(checks) == 1)
        alone["(none)"] = every["(none)"] = sum(not checks for checks in sets)
        for check, n in every.most_common():
            if n:
                print(f"  {n:4} {alone[check]:4} alone  {check}")
    cards = max(1, len(came))
    print(f"\nCPU a photo {sum(one.spent for one in came) / cards:.2f} s")


def main() -> None:
    """Print what is lost, and the shares that agree."""
    parser = argparse.ArgumentParser(prog="lost", description=__doc__)
    parser.add_argument("--count", type=int, default=12, help="designs")
    parser.add_argument("--first", type=int, default=0, help="the first seed")
    parser.add_argument("--unknown", action="store_true", help="teach no form")
    parser.add_argument("--filled", action="store_true", help="teach from a dozen filled cards")
    parser.add_argument("--mode", choices=MODES, action="append")
    parser.add_argument("--level", choices=LEVELS, action="append")
    parser.add_argument("--drawn", type=Path, help="keep what was drawn here")
    parser.add_argument("--values", type=Path, help="write what was measured of each line here")
    parser.add_argument("--jobs", type=int, default=1, help="processes")
    parser.add_argument("--brief", action="store_true", help="the table alone")
    given = parser.parse_args()
    came: list[Came] = []
    for some in _all(given):
        came += some
        for one in some:
            if one.verdict is not Verdict.AGREES and not given.brief:
                print(_line_of(one), flush=True)
    print_table(came)
    if given.values:
        given.values.write_text("".join(_as_json(one) + "\n" for one in came if one.against))


def _as_json(one: Came) -> str:
    against = one.against or Against(checks=(), told="")
    told = {"seed": one.seed, "what": f"{one.level} {one.mode}", "verdict": one.verdict.value}
    return json.dumps({**told, "checks": against.checks, "values": against.values})


if __name__ == "__main__":
    main()
