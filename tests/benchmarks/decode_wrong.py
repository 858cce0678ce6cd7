"""Wrong numbers: thousands of crops, each damaged in one to three ways at once.

Run by hand: python -m tests.benchmarks.decode_wrong FIRST COUNT
Prints how many were read and how many of those wrongly, by each engine and by us.
"""

from __future__ import annotations

import sys
from collections import Counter

import numpy as np

from pairing.photos.engines import Scope, load_engines
from pairing.photos.symbols import read_symbols
from tests.benchmarks.decode_damage import LADDER, Gray, Scene, drawn, random_number


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
    return text, "; ".join(said), drawn(text, gs1, scene, rng)


def main(first: int, count: int) -> None:
    engines = load_engines()
    read: Counter[str] = Counter()
    wrong: Counter[str] = Counter()
    for seed in range(first, first + count):
        text, said, gray = damaged(seed)
        found = {
            e.name: [d.text for d in e.read(gray, scope=Scope.CODE_128)] for e in engines.present
        }
        found["ours"] = [s.text for s in read_symbols(gray).symbols]
        for name, texts in found.items():
            read[name] += text in texts
            bad = [t for t in texts if t != text]
            wrong[name] += len(bad)
            if bad and name == "ours":
                print(f"seed {seed}: {text} read as {bad} ({said})", flush=True)
        if (seed - first + 1) % 500 == 0 or seed == first + count - 1:
            line = ", ".join(f"{n}: {read[n]} right, {wrong[n]} wrong" for n in sorted(read))
            print(f"{seed - first + 1} crops: {line}", flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]))
