"""`python -m tests.fuzz TARGET [--minutes N] [--seed N]`: feed it random and mutated inputs, count
them, and write what falls over to `tests/fuzz/corpus/TARGET-*.bin`, which the suite then feeds
too. TARGET `all` takes each in turn."""

from __future__ import annotations

import argparse
import hashlib
import random
import time
import traceback
from pathlib import Path

from tests.fuzz.mutating import mutated
from tests.fuzz.targets import feed, targets

CORPUS = Path(__file__).with_name("corpus")


def run(name: str, minutes: float, seed: int) -> int:
    """Fuzz one target; how many kinds of findings there were."""
    target = targets()[name]()
    dice = random.Random(seed)
    until, count, found = time.monotonic() + 60 * minutes, 0, {}
    while time.monotonic() < until:
        count += 1
        data = mutated(dice, target.corpus)
        try:
            feed(target, data)
        except Exception as problem:  # whatever comes is a finding
            last = traceback.extract_tb(problem.__traceback__)[-1]
            kind = f"{type(problem).__name__} at {last.filename}:{last.lineno}"
            if kind not in found:
                found[kind] = data
                CORPUS.mkdir(exist_ok=True)
                digest = hashlib.sha256(data).hexdigest()[:12]
                (CORPUS / f"{name}-{digest}.bin").write_bytes(data)
                print(f"  {kind}: {problem!r:.200}", flush=True)
    print(f"{name}: {count:,} inputs, {len(found)} kinds of findings", flush=True)
    return len(found)


def main() -> None:
    """Parse the command line."""
    asked = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    asked.add_argument("target", choices=[*targets(), "all"])
    asked.add_argument("--minutes", type=float, default=10.0)
    asked.add_argument("--seed", type=int, default=1)
    given = asked.parse_args()
    names = list(targets()) if given.target == "all" else [given.target]
    raise SystemExit(sum(run(name, given.minutes, given.seed) for name in names) > 0)


if __name__ == "__main__":
    main()
