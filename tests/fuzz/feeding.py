"""One process's share of the fuzzing."""

from __future__ import annotations

import hashlib
import random
import time
import traceback
import warnings
from pathlib import Path

from tests.fuzz.mutating import mutated
from tests.fuzz.targets import feed, targets

CORPUS = Path(__file__).with_name("corpus")


def run(name: str, minutes: float, inputs: int, seed: int) -> tuple[int, dict[str, str]]:
    """Fuzz one target until the minutes or the inputs are over; how many inputs there were, and
    the findings by their kind."""
    warnings.simplefilter("ignore")  # of damaged pictures, by the thousand
    target = targets()[name]()
    dice = random.Random(f"{name} {seed}")
    until, count, found = time.monotonic() + 60 * minutes, 0, {}
    while count < inputs and time.monotonic() < until:
        count += 1
        data = mutated(dice, target.corpus)
        try:
            feed(target, data)
        except Exception as problem:  # whatever comes is a finding
            last = traceback.extract_tb(problem.__traceback__)[-1]
            kind = f"{type(problem).__name__} at {last.filename}:{last.lineno}"
            if kind not in found:
                found[kind] = f"{problem!r:.200}"
                CORPUS.mkdir(exist_ok=True)
                digest = hashlib.sha256(data).hexdigest()[:12]
                (CORPUS / f"{name}-{digest}.bin").write_bytes(data)
    return count, found
