"""The reading of the box, measured.

`python -m tests.benchmarks.box lines FILE... [--every N]`: on held-out lines. FILE: `test.npz`
of the training's `fit` (hands and faces never trained on nor calibrated with; its seeds are
fixed), or others packed the same way. Pairs are drawn with a fixed seed; a person who is asked
for single digits is taken to answer with what the line says.

`python -m tests.benchmarks.box cpu`: from the box to the verdict in photos of 12 megapixels, on
one thread, the reading of barcodes not counted.
"""

from __future__ import annotations

import argparse
import math
import random
import time
from collections import Counter, defaultdict
from collections.abc import Callable
from pathlib import Path

import cv2
import numpy as np

from pairing.audit.box import label_print, look_in_box
from pairing.audit.pieces import Photo
from pairing.audit.reading import _placed, _symbols
from pairing.decide import answered, decide, rivals
from pairing.judge import judge, weigh
from pairing.model import Side, TrackingNumber, Verdict
from pairing.photos.files import Frame, frames
from pairing.photos.training.calibration import SHARES, groups, held
from pairing.photos.training.evaluation_texts import distance
from pairing.photos.training.sorts import SORTS
from pairing.photos.written import shared_reader, thresholds

DIFFERING_PER_LINE = 3
SAMPLES = Path(__file__).resolve().parents[2] / "sample_scans"
PIXELS = 12_000_000


def lines(files: list[Path], every: int) -> None:
    """Print the table."""
    rule, dice = thresholds(), random.Random(4)
    exact, digits, calls = defaultdict(list), defaultdict(list), defaultdict(Counter)
    keys: dict[tuple[str, int], list[int]] = defaultdict(list)
    wrong: Counter[str] = Counter()
    wrong_keyed: Counter[str] = Counter()
    confused: Counter[str] = Counter()
    pairs = flagged = 0
    for path in files:
        for line, reading in held(path, every):
            at = (SORTS[line.sort], line.level)
            exact[at].append(line.best == line.right)
            digits[at].append((distance(line.right, line.best), len(line.right)))
            if len(line.best) == len(line.right):
                confused.update(a + b for a, b in zip(line.right, line.best) if a != b)  # noqa: B905
            done = decide(reading, line.right, thresholds=rule, group_sizes=groups(line.right))
            calls[at][done.verdict] += 1
            few, settled = len(done.doubtful), None
            if few and len(line.best) == len(line.right):
                told = {place: line.right[place - 1] for place in done.doubtful}
                settled = answered(reading, told, rule)
            # A digit that leaves the line unsettled is keyed in vain: all of them follow.
            asked = few if settled or not few else few + len(line.right)
            asked = len(line.right) if done.key_all else asked
            keys[at].append(0 if done.verdict is not Verdict.UNREAD else asked)
            for _ in range(DIFFERING_PER_LINE):
                kind = dice.choices(list(SHARES), list(SHARES.values()))[0]
                made = [r for r in rivals(line.right, group_sizes=groups(line.right))
                        if r.error is kind]  # fmt: skip
                if not made:
                    continue
                label = dice.choice(made).text
                pairs += 1
                if label == line.best and line.best_odds >= rule.agrees:
                    wrong[kind.value] += 1
                elif settled and label == settled.text:
                    wrong_keyed[kind.value] += 1
                own = reading.log_likelihood(label)
                free = reading.log_likelihood(line.best)
                flagged += (
                    line.best != label
                    and free - own >= rule.differs
                    and math.exp(free) >= rule.differs_sure
                )
    print(f"{'sort':10} level  lines  exact  digits   agrees differs unread  keys a pair")
    for at in sorted(exact):
        n, done = len(exact[at]), calls[at]
        edits, chars = (sum(column) for column in zip(*digits[at], strict=True))
        print(
            f"{at[0]:10} {at[1]:5} {n:6}  {sum(exact[at]) / n:.3f}  {1 - edits / chars:.4f}"
            f"   {done[Verdict.AGREES] / n:6.3f} {done[Verdict.DIFFERS] / n:7.4f}"
            f" {done[Verdict.UNREAD] / n:6.3f}  {sum(keys[at]) / n:.2f}"
        )
    print(f"differing pairs {pairs}: wrong agrees {sum(wrong.values())} {dict(wrong)}, "
          f"once digits were keyed {sum(wrong_keyed.values())} {dict(wrong_keyed)}, "
          f"called differs {flagged / max(1, pairs):.3f}")  # fmt: skip
    print("commonest confusions", confused.most_common(14))


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
    readings, seen, pixels = [], None, 0
    for path in sorted(SAMPLES.glob(f"{name}*.jpg"), reverse=True):
        shows = next((side for side in (Side.LABEL, Side.CARD) if side.value in path.name), None)
        frame = _enlarged(next(iter(frames(path))))
        placed, own = _placed(frame, _symbols(frame).symbols, Photo(path=path, shows=shows))
        ms, looked = _median_ms(
            lambda f=frame, p=placed, o=own, s=shows: look_in_box(f, p, o, shows=s)
        )
        spent["box"] += ms
        if looked.seen is not None:
            seen, pixels = looked.seen, frame.gray.size
        readings += looked.readings
        for one in looked.readings:
            if one.side is Side.LABEL:
                spent["label"] += _median_ms(lambda f=frame, r=one: label_print(f, r))[0]
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
    grey = cv2.resize(frame.gray, None, fx=by, fy=by, interpolation=cv2.INTER_CUBIC)
    return Frame(photo=frame.photo, page=frame.page, gray=np.ascontiguousarray(grey))


def _median_ms(work: Callable[[], object]) -> tuple[float, object]:
    times, result = [], None
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
    modes.add_parser("cpu")
    given = parser.parse_args()
    if given.mode == "cpu":
        cpu()
    else:
        lines(given.files, given.every)


if __name__ == "__main__":
    main()
