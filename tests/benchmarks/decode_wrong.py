"""Wrong numbers: thousands of crops, each damaged in one to three ways at once.

Run by hand: python -m tests.benchmarks.decode_wrong FIRST COUNT [--jobs N]
Seeds FIRST to FIRST + COUNT - 1, symbols drawn by python-barcode. Prints how many were
read and how many of those wrongly, by each engine and by us, every few hundred crops, so
that a run that is ended still says what it did; a wrong read of ours, and a crop that ended in
an exception, with its seed at once.

Needs of foreign packages: numpy, cv2, zxingcpp, barcode (python-barcode), stdnum
(python-stdnum), and pyzbar with libzbar where zbar is to take part.
"""

from __future__ import annotations

import argparse
import multiprocessing
import os
import traceback
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

import cv2
import numpy as np

from pairing.photos.barcodes.engines import Scope, load_engines
from pairing.photos.barcodes.symbols import read_symbols
from tests.benchmarks.decode_damage import LADDER, Gray, Scene, drawn, random_number
from tests.photos.drawing import python_barcode_modules

_TOLD_EVERY = 200
_SEEDS_AT_A_TIME = 4
_ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")


@dataclass(frozen=True, slots=True, kw_only=True)
class Crop:
    """What became of one seed: texts by reader. failed: an exception of ours, "" where none."""

    seed: int
    text: str
    said: str
    found: dict[str, list[str]]
    failed: str = ""


def damaged(seed: int) -> tuple[str, str, Gray]:
    """(true number, damage in words, picture) for one seed."""
    rng = np.random.default_rng([seed, 40_000])
    text, gs1 = random_number(rng)
    names = rng.choice(list(LADDER), size=int(rng.integers(1, 4)), replace=False)
    scene, said = Scene(), []
    for name in names:
        apply, levels = LADDER[name]
        level = float(rng.choice(levels))
        scene = apply(scene, level)
        said.append(f"{name} {level}")
    return text, "; ".join(said), drawn(text, gs1, scene, rng, python_barcode_modules)


def looked_at(seed: int) -> Crop:
    """One crop, read by every engine at hand and by us."""
    text, said, gray = damaged(seed)
    found = {
        e.name: [d.text for d in e.read(gray, scope=Scope.CODE_128)] for e in load_engines().present
    }
    failed = ""
    try:
        found["ours"] = [s.text for s in read_symbols(gray).symbols]
    except Exception:  # one crop must not end a run of 40,000: it is counted and told
        failed = traceback.format_exc(limit=-4)
    return Crop(seed=seed, text=text, said=said, found=found, failed=failed)


def _crops(first: int, count: int, jobs: int) -> Iterator[Crop]:
    """In the order of their seeds, so that a count speaks for all seeds up to one."""
    seeds = range(first, first + count)
    if jobs <= 1:
        yield from map(looked_at, seeds)
        return
    # Children are new interpreters: they import numpy with these set.
    os.environ.update(dict.fromkeys(_ONE_THREAD, "1"))
    workers = multiprocessing.get_context("spawn").Pool(jobs, cv2.setNumThreads, (1,))
    with workers:
        yield from workers.imap(looked_at, seeds, chunksize=_SEEDS_AT_A_TIME)


def main(first: int, count: int, jobs: int) -> None:
    engines = load_engines()
    names = ", ".join(e.name for e in engines.present)
    print(f"engines: {names or 'none'}{''.join(f'; {m}' for m in engines.missing)}", flush=True)
    read: Counter[str] = Counter()
    wrong: Counter[str] = Counter()
    failed = 0
    for done, crop in enumerate(_crops(first, count, jobs), start=1):
        for name, texts in crop.found.items():
            read[name] += crop.text in texts
            bad = [t for t in texts if t != crop.text]
            wrong[name] += len(bad)
            if bad and name == "ours":
                print(f"seed {crop.seed}: {crop.text} read as {bad} ({crop.said})", flush=True)
        if crop.failed:
            failed += 1
            print(f"seed {crop.seed} FAILED ({crop.said})\n{crop.failed}", flush=True)
        if done % _TOLD_EVERY == 0 or done == count:
            line = ", ".join(f"{n}: {read[n]} right, {wrong[n]} wrong" for n in sorted(read))
            print(f"{done} crops, to seed {crop.seed}: {line}, {failed} failed", flush=True)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("first", type=int)
    parser.add_argument("count", type=int)
    parser.add_argument("--jobs", type=int, default=1, help="processes; 1 unless given")
    wanted = parser.parse_args()
    main(wanted.first, wanted.count, wanted.jobs)
