"""`python -m tests.fuzz TARGET ... [--minutes N] [--inputs N] [--jobs N] [--seed N]`: feed each
target random and mutated inputs, count them, and write what falls over to
`tests/fuzz/corpus/TARGET-*.bin`, which the suite then feeds too. TARGET `all` takes each in turn.
With --jobs, so many processes feed, each with a seed and a share of the inputs of its own; the
minutes are each target's. (Whole photos, and the memory that they take:
`tests.fuzz.hostile_photos`.)"""

from __future__ import annotations

import argparse
import multiprocessing
import time
from concurrent.futures import ProcessPoolExecutor

from tests.fuzz.feeding import run
from tests.fuzz.targets import targets


def main() -> None:
    """Parse the command line, spread the work, print a line for each target and the sum."""
    asked = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    asked.add_argument("target", nargs="+", choices=[*targets(), "all"])
    asked.add_argument("--minutes", type=float, default=10.0)
    asked.add_argument("--inputs", type=int, default=10**12)
    asked.add_argument("--jobs", type=int, default=1)
    asked.add_argument("--seed", type=int, default=1)
    given = asked.parse_args()
    names = list(targets()) if "all" in given.target else given.target
    whole, kinds = 0, 0
    share = -(-given.inputs // given.jobs)
    spawned = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(given.jobs, mp_context=spawned) as pool:
        for name in names:
            begun = time.monotonic()
            work = [
                pool.submit(run, name, given.minutes, share, given.seed * 1000 + job)
                for job in range(given.jobs)
            ]
            done = [one.result() for one in work]
            count = sum(one for one, _ in done)
            found = {kind: said for _, of_job in done for kind, said in of_job.items()}
            for kind, said in found.items():
                print(f"  {kind}: {said}")
            took_s = time.monotonic() - begun
            print(f"{name}: {count:,} inputs in {took_s:.0f} s, {len(found)} kinds of findings",
                  flush=True)  # fmt: skip
            whole, kinds = whole + count, kinds + len(found)
    print(f"together {whole:,} inputs, {kinds} kinds of findings")
    raise SystemExit(kinds > 0)


if __name__ == "__main__":
    main()
