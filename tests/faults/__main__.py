"""`python -m tests.faults WHAT [--count N] [--jobs N] [--seed N]`

WHAT is one of:
  kill       kill -9 at a random moment of every command that writes
  full       a disk that fills up at a random byte (a limit on the files' size; as root also a
             small disk of its own)
  read-only  a folder that may not be written to
  slow       a disk whose every flush takes long, two desks on it, killed at a random moment
  power      a power cut at a random write: what was not flushed is dropped, torn or kept
  versions   a desk of this version and one of an older commit on one ledger at once
  server     a PostgreSQL server that ends connections, or stops at once, while a desk records
  clock      a clock that jumps: back, by DST's hour, by a year

Each prints how many of how many cases lost nothing that was acknowledged, and those that did.
"""

from __future__ import annotations

import argparse
import multiprocessing
import sys
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor

from tests.faults import clocks, disks, kills, power, together

Result = tuple[int, list[str]]
"""How many cases there were, and what was lost."""


WHAT: dict[str, Callable[[int, int], Result]] = {
    "kill": kills.kill,
    "full": disks.full,
    "read-only": disks.read_only,
    "slow": disks.slow,
    "power": power.power,
    "versions": together.versions,
    "server": together.server_gone,
    "clock": clocks.jumping,
}


def main() -> None:
    """Parse the command line and spread the cases."""
    asked = argparse.ArgumentParser(
        prog="python -m tests.faults",
        description=__doc__,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    asked.add_argument("what", choices=WHAT)
    asked.add_argument("--count", type=int, default=300)
    asked.add_argument("--jobs", type=int, default=1)
    asked.add_argument("--seed", type=int, default=1)
    given = asked.parse_args()
    begun = time.monotonic()
    parts = len(kills.cases()) + 1 if given.what == "kill" else 1
    share = -(-given.count // (given.jobs * parts))
    spawned = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(given.jobs, mp_context=spawned) as pool:
        work = [
            pool.submit(WHAT[given.what], share, given.seed * 1000 + job)
            for job in range(given.jobs)
        ]
        results = [one.result() for one in work]
    count = sum(done for done, _ in results)
    lost = [one for _, lost_here in results for one in lost_here]
    print(*lost, sep="\n")
    print(
        f"{given.what}: {count - len(lost)} of {count}, "
        f"{'nothing acknowledged lost' if not lost else 'SOMETHING LOST'}; "
        f"{time.monotonic() - begun:.0f} s"
    )
    sys.exit(bool(lost) or not count)


if __name__ == "__main__":
    main()
