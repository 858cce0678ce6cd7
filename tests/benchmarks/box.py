"""The reading of the box, measured.

`python -m tests.benchmarks.box lines FILE... [--every N] [--jobs N]`: on held-out lines. FILE:
`test-SEED.npz` of the training's `measure` (hands and faces never trained on nor calibrated with),
or others packed the same way. Pairs are drawn with fixed seeds; a person who is asked for
single digits is taken to answer with what the line says.

`python -m tests.benchmarks.box cpu`: from the box to the verdict in photos of 12 megapixels, on
one thread, the reading of barcodes not counted.
"""

from __future__ import annotations

import argparse
import math
import multiprocessing
import random
import time
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, fields
from difflib import SequenceMatcher
from functools import partial
from pathlib import Path
from typing import TypeVar

import cv2
import numpy as np

from pairing.compare.error_shares import SLIP_SHARES
from pairing.judge import judge, weigh
from pairing.judge.box import Stretch, answered, decide, rivals
from pairing.judge.box.asked_characters import Answered
from pairing.model import Reading, Side, TrackingNumber, Verdict
from pairing.numbers import group_sizes
from pairing.photos.files import Frame, frames
from pairing.photos.written import shared_reader, thresholds
from pairing.photos.written.reader import WrittenLine
from pairing.pieces.card_box import label_print, look_in_box
from pairing.pieces.photo_groups import Photo
from pairing.pieces.reading import _placed, _symbols
from pairing.training.calibration import Held, held
from pairing.training.evaluation_texts import distance
from pairing.training.sorts import SORTS

Result = TypeVar("Result")

DIFFERING_PER_LINE = 3
SAMPLES = Path(__file__).resolve().parents[2] / "sample_scans"
PIXELS = 12_000_000


Place = tuple[str, int]
"""Sort and level."""


@dataclass(slots=True)
class Tally:
    """What was counted in some of the lines; tallies add up."""

    lines: Counter[Place] = field(default_factory=Counter)
    exact: Counter[Place] = field(default_factory=Counter)
    edits: Counter[Place] = field(default_factory=Counter)
    characters: Counter[Place] = field(default_factory=Counter)
    keys: Counter[Place] = field(default_factory=Counter)
    calls: Counter[tuple[Place, Verdict]] = field(default_factory=Counter)
    wrong: Counter[str] = field(default_factory=Counter)
    wrong_keyed: Counter[str] = field(default_factory=Counter)
    confused: Counter[str] = field(default_factory=Counter)
    pairs: Counter[str] = field(default_factory=Counter)

    def add(self, other: Tally) -> None:
        """Count what `other` counted, too."""
        for one in fields(self):
            getattr(self, one.name).update(getattr(other, one.name))


def lines(files: list[Path], every: int, jobs: int) -> None:
    """Print the table."""
    total = Tally()
    parts = [(path, every, jobs, share) for path in files for share in range(jobs)]
    if jobs == 1:
        for part in parts:
            total.add(_tallied(*part))
    else:
        with multiprocessing.get_context("spawn").Pool(jobs) as pool:
            for tally in pool.starmap(_tallied, parts, chunksize=1):
                total.add(tally)
    _print_table(total)


def _tallied(path: Path, every: int, jobs: int, share: int) -> Tally:
    """Every `jobs`th of the lines taken from a file, from the `share`th on."""
    rule, dice, tally = thresholds(), random.Random(f"{path.name} {share}"), Tally()
    for line, reading in held(path, every * jobs, first=every * share):
        at = (SORTS[line.sort], line.level)
        tally.lines[at] += 1
        tally.exact[at] += line.best == line.right
        tally.edits[at] += distance(line.right, line.best)
        tally.characters[at] += len(line.right)
        if len(line.best) == len(line.right):
            pairs = zip(line.right, line.best, strict=True)
            tally.confused.update(a + b for a, b in pairs if a != b)
        done = decide(
            reading, line.right, thresholds=rule, group_sizes=group_sizes(line.right),
            spoiled=_spoiled(line, reading),
        )  # fmt: skip
        tally.calls[at, done.verdict] += 1
        told = answers_for(line.best, line.right, done.doubtful)
        settled = answered(reading, told, rule)
        # An answer that leaves the line unsettled, or settled as what the label does not say,
        # is keyed in vain: all of them follow.
        is_settled = settled is not None and settled.text == line.right
        asked = sum(map(len, told.values())) + (0 if is_settled else len(line.right))
        tally.keys[at] += 0 if done.verdict is not Verdict.UNREAD else asked
        for _ in range(DIFFERING_PER_LINE):
            _differing(line, reading, settled, dice, tally)
    return tally


def answers_for(best: str, right: str, asked: Sequence[Stretch]) -> dict[Stretch, str]:
    """What a person sees in those stretches of a line that says `right` and was read `best`."""
    pairs = SequenceMatcher(None, best, right, autojunk=False).get_opcodes()

    def begins(at: int) -> int:
        """Where in `right` the part begins that `best` has from `at` on."""
        for _, a, b, c, d in pairs:
            if a <= at < b:
                return c + min(at - a, d - c)
        return len(right)

    return {one: right[begins(one.first - 1) : begins(one.last)] for one in asked}


def _differing(
    line: Held, reading: WrittenLine, settled: Answered | None, dice: random.Random, tally: Tally
) -> None:
    """The line held against a label that one copying error leads to."""
    rule = thresholds()
    kind = dice.choices(list(SLIP_SHARES), list(SLIP_SHARES.values()))[0]
    made = [r for r in rivals(line.right, group_sizes=group_sizes(line.right)) if r.error is kind]
    if not made:
        return
    label = dice.choice(made).text
    tally.pairs["all"] += 1
    done = decide(
        reading, label, thresholds=rule, group_sizes=group_sizes(line.right),
        spoiled=_spoiled(line, reading),
    )  # fmt: skip
    if done.verdict is Verdict.AGREES:
        tally.wrong[kind.value] += 1
    elif settled and label == settled.text:
        tally.wrong_keyed[kind.value] += 1
    tally.pairs["differs"] += done.verdict is Verdict.DIFFERS


def _spoiled(line: Held, reading: WrittenLine) -> tuple[int, ...]:
    return reading.spoiled(is_print="print" in SORTS[line.sort])


def _print_table(tally: Tally) -> None:
    print(f"{'sort':10} level  lines  exact  digits   agrees differs unread  keys a pair")
    for at in sorted(tally.lines):
        n = tally.lines[at]
        agrees, differs, unread = (tally.calls[at, verdict] / n for verdict in Verdict)
        print(
            f"{at[0]:10} {at[1]:5} {n:6}  {tally.exact[at] / n:.3f}"
            f"  {1 - tally.edits[at] / tally.characters[at]:.4f}"
            f"   {agrees:6.3f} {differs:7.4f} {unread:6.3f}  {tally.keys[at] / n:.2f}"
        )
    print(f"differing pairs {tally.pairs['all']}: "
          f"wrong agrees {tally.wrong.total()} {dict(tally.wrong)}, "
          f"once digits were keyed {tally.wrong_keyed.total()} {dict(tally.wrong_keyed)}, "
          f"called differs {tally.pairs['differs'] / max(1, tally.pairs['all']):.3f}")  # fmt: skip
    print("commonest confusions", tally.confused.most_common(14))


def cpu() -> None:
    """Print milliseconds of CPU for each part, the median of several runs."""
    cv2.setNumThreads(1)
    shared_reader()
    print(f"{'photo':14} {'MP':>5} {'box':>6} {'label':>6} {'decide':>6} {'all':>6}  verdict")
    for name in ("0010", "0009", "0016", "0012", "0001", "0011"):
        print(_timed(name))


def _timed(name: str) -> str:
    """One sample piece, its photos enlarged to 12 megapixels in all that show the card."""
    spent = {"box": 0.0, "label": 0.0, "decide": 0.0}
    readings: list[Reading] = []
    seen, pixels = None, 0
    for path in sorted(SAMPLES.glob(f"{name}*.jpg"), reverse=True):
        shows = next((side for side in (Side.LABEL, Side.CARD) if side.value in path.name), None)
        frame = _enlarged(next(iter(frames(path))))
        placed, own = _placed(frame, _symbols(frame).symbols, Photo(path=path, shows=shows))
        ms, looked = _median_ms(partial(look_in_box, frame, placed, own, shows=shows))
        spent["box"] += ms
        if looked.seen is not None:
            seen, pixels = looked.seen, frame.gray.size
        readings += looked.readings
        for one in looked.readings:
            if one.side is Side.LABEL:
                spent["label"] += _median_ms(partial(label_print, frame, one))[0]
    article = next(one.number for one in readings if one.side is Side.LABEL)
    assert isinstance(article, TrackingNumber)

    def decided() -> Verdict:
        found = weigh(
            seen, readings, article=article, card=None, others={}, thresholds=thresholds()
        )
        return judge([*readings, *found.readings], found=found.findings).verdict

    spent["decide"], verdict = _median_ms(decided)
    row = " ".join(f"{spent[part]:6.1f}" for part in spent)
    return f"{name:14} {pixels / 1e6:5.1f} {row} {sum(spent.values()):6.1f}  {verdict.value}"


def _enlarged(frame: Frame) -> Frame:
    by = math.sqrt(PIXELS / frame.gray.size)
    gray = cv2.resize(frame.gray, None, fx=by, fy=by, interpolation=cv2.INTER_CUBIC)
    return Frame(photo=frame.photo, page=frame.page, gray=np.ascontiguousarray(gray))


def _median_ms(work: Callable[[], Result]) -> tuple[float, Result]:
    times = []
    for _ in range(7):
        start = time.process_time()
        result = work()
        times.append(1000 * (time.process_time() - start))
    return sorted(times)[len(times) // 2], result


def main() -> None:
    """One of the two."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.box", description=__doc__)
    modes = parser.add_subparsers(dest="mode", required=True)
    on_lines = modes.add_parser("lines")
    on_lines.add_argument("files", type=Path, nargs="+")
    on_lines.add_argument("--every", type=int, default=1, help="take every Nth line")
    on_lines.add_argument("--jobs", type=int, default=1, help="processes")
    modes.add_parser("cpu")
    given = parser.parse_args()
    if given.mode == "cpu":
        cpu()
    else:
        lines(given.files, given.every, given.jobs)


if __name__ == "__main__":
    main()
