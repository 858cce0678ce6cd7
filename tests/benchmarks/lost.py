"""Where boxes that should have been read are lost, and why.

`python -m tests.benchmarks.lost [--count N] [--first SEED] [--unknown] [--mode MODE]
[--level LEVEL] [--drawn FOLDER]`: right cards of designs that are drawn by parameters, one a seed,
filled in by people whose digits lie in `shared` (by the demonstration's hands without it). One line
for each that does not agree: the stage that lost it and what it measured. Drawing takes longer than
reading: `--drawn` keeps the photos.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import tempfile
import time
from collections import Counter, defaultdict
from dataclasses import dataclass, field
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.model import Verdict
from pairing.photos.barcodes.symbols import read_symbols
from pairing.photos.finder.number_lines import proposals
from pairing.photos.forms import folder
from pairing.photos.forms.box_region import region_of
from pairing.photos.forms.definition import SUFFIX
from pairing.photos.forms.registration import Match, registered
from pairing.photos.written import shared_reader
from pairing.photos.written.box_lines import cut_line
from pairing.photos.written.plane import PX_PER_MM, corners_of, inverse, mapped
from pairing.photos.written.reader import WrittenLine
from pairing.photos.written.region import Content, content_of
from pairing.photos.written.strokes import longest_stroke
from pairing.photos.written.unknown_card import read_unknown
from tests.benchmarks.card_photos import photographed
from tests.benchmarks.designs import LEVELS, MODES, Design
from tests.benchmarks.drawn_cards import Filled, card_to_fill, fill_in
from tests.benchmarks.drawn_designs import drawn
from tests.benchmarks.people import people, person
from tests.benchmarks.taught import outcome, teach


@dataclass(slots=True)
class Found:
    """Verdicts by level and mode, why cards were not read, and CPU, s."""

    counts: dict[tuple[str, str], Counter[Verdict]] = field(
        default_factory=lambda: defaultdict(Counter)
    )
    why: Counter[str] = field(default_factory=Counter)
    spent: float = 0.0


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


def why_lost(photo: NDArray[np.uint8], design: Design, card: Drawn) -> str:
    """What the stages measured on a card whose form was taught."""
    match = registered(photo, folder.index())
    if match is None:
        return "no form told"
    box = np.array(match.form.box)
    off = mapped(inverse(card.to_photo), mapped(match.to_photo, box)) - box
    said = [f"{(match.form.name != design.name and 'WRONG FORM ') or ''}fit {match.fit:.2f}",
            f"box off {np.linalg.norm(off, axis=1).max():.2f} mm"]  # fmt: skip
    content = content_of(region_of(photo, match))
    flags = ("is_cut", "has_bars", "is_covered")
    said += [name for name in flags if getattr(content, name)]
    said += [f"{len(content.rows)} rows"] if len(content.rows) != 1 else []
    said += [f"left over {_mm(one)}" for one in content.left_over[:4]]
    return ", ".join(said + [_read(photo, match, content, row, card) for row in content.rows[:2]])


def _mm(mark: tuple[float, float, float, float]) -> str:
    return "x".join(f"{side / PX_PER_MM:.1f}" for side in mark[2:])


def _read(
    photo: NDArray[np.uint8], match: Match, content: Content,
    row: list[tuple[float, float, float, float]], card: Drawn,
) -> str:  # fmt: skip
    line = cut_line(photo, region_of(photo, match).plane, row, 0.0, content.painted, goes_on=True)
    look = shared_reader().look(line.picture)
    text = WrittenLine([look.chances], [look.blots])
    stroke = longest_stroke(content.clean, content.ink, row)
    (own,) = text.log_likelihoods([card.article])
    wrong = "".join("^" if a != b else "." for a, b in zip(text.best, card.article, strict=False))
    parts = [
        f"{len(row)} marks",
        f"kind {look.kind} {look.kinds[0]:.2f}",
        f"any {text.log_any:.2f}",
    ]
    parts += [f"P own {np.exp(own):.3f}"]
    parts += [f"read {text.best} {wrong}"] if text.best != card.article else []
    parts += [f"spoiled {text.spoiled()}"] if text.spoiled() else []
    through = stroke.is_through(is_print=line.is_even)
    parts += (
        [f"stroke {stroke.straight:.1f} {stroke.wavy:.1f} {stroke.steep:.1f}"] if through else []
    )
    return "[" + ", ".join(parts) + "]"


def why_unknown(photo: NDArray[np.uint8], card: Drawn) -> str:
    """What was found on a card of no known form, and what the finder proposed there."""
    own = next((one.quad for one in read_symbols(photo).symbols if one.text == card.card), None)
    reading = read_unknown(photo, own, card.card, shared_reader())
    reason = reading.reason.value if reading.reason else "read"
    proposed = proposals(photo, None if own is None else corners_of(own))
    to_card = inverse(card.to_photo)
    said = [f"{reason}, {len(reading.lines)} lines, own bars {'read' if own else 'not read'}"]
    for one in proposed:
        x, y = mapped(to_card, one.corners).mean(0)
        said.append(f"proposed at {x:.0f}, {y:.0f} mm, altered {one.altered:.2f}")
    return "; ".join(said)


def lost(design: Design, seed: int, given: argparse.Namespace, found: Found) -> None:
    """Read this design's cards; print what is lost."""
    with tempfile.TemporaryDirectory(prefix="counterfoil-") as name:
        place = Path(name)
        os.environ[folder.VARIABLE] = name
        if not given.unknown:
            taught_form(design, place, given.drawn)
        for level in given.level or LEVELS[:2]:
            for mode in given.mode or MODES:
                card = drawn_card(design, seed, level, mode, given.drawn)
                start = time.process_time()
                what = outcome(card.jpeg, card.article, card.card, place)
                found.spent += time.process_time() - start
                found.counts[level, mode][what.verdict] += 1
                if what.verdict is Verdict.AGREES:
                    continue
                found.why.update(what.codes)
                photo = cv2.imdecode(np.frombuffer(card.jpeg, np.uint8), cv2.IMREAD_GRAYSCALE)
                gray = np.asarray(photo, np.uint8)
                said = why_unknown(gray, card) if given.unknown else why_lost(gray, design, card)
                print(f"{seed} {design.box_kind} {level} {mode} {what.verdict.value} "
                      f"{','.join(what.codes)} {what.read}: {said}", flush=True)  # fmt: skip


def main() -> None:
    """Print what is lost, and the shares that agree."""
    parser = argparse.ArgumentParser(prog="lost", description=__doc__)
    parser.add_argument("--count", type=int, default=12, help="designs")
    parser.add_argument("--first", type=int, default=0, help="the first seed")
    parser.add_argument("--unknown", action="store_true", help="teach no form")
    parser.add_argument("--mode", choices=MODES, action="append")
    parser.add_argument("--level", choices=LEVELS, action="append")
    parser.add_argument("--drawn", type=Path, help="keep what was drawn here")
    given = parser.parse_args()
    found = Found()
    for seed in range(given.first, given.first + given.count):
        lost(drawn(seed), seed, given, found)
    for (level, mode), one in sorted(found.counts.items()):
        print(f"{level:6} {mode:14} " + ", ".join(f"{one[v]} {v.value}" for v in Verdict))
    cards = sum(map(Counter.total, found.counts.values()))
    print("why:", dict(found.why.most_common()), f"CPU a photo {found.spent / cards:.2f} s")


if __name__ == "__main__":
    main()
