"""Are wrong changes to the pure rooms noticed by the rooms' own tests?

`python -m tests.mutation [ROOM ...] [--count 160] [--seed 1]` draws changes (comparisons,
boundaries, arithmetic, constants, returns, and/or) from the functions of the rooms, makes each
in a process of its own and runs the room's tests there. What the tests do not notice is listed:
a test is missing, or the change makes no difference ("equivalent"; those that were looked at are
in `EQUIVALENT`). Run by hand, some minutes long; tables at the level of a module are not changed.
"""

from __future__ import annotations

import argparse
import contextlib
import gc
import importlib
import inspect
import os
import random
import resource
import signal
import sys
import time
from collections.abc import Callable
from pathlib import Path
from types import FunctionType
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, settings

from tests.mutation.equivalent import EQUIVALENT
from tests.mutation.mutants import Mutant, mutants

ROOT = Path(__file__).resolve().parents[2]
ROOMS = ("numbers", "wedge", "compare", "judge")
_TIMEOUT_S = 40
"""Processor seconds for a room's tests; an endless loop counts as noticed."""
_NOTICED, _UNNOTICED = 1, 0
_LEFT_OUT = ("--ignore", "tests/numbers/test_unicode.py")
"""All of Unicode takes longer than the other tests of its room together."""


def drawn(rooms: list[str], count: int, seed: int) -> list[tuple[str, Mutant]]:
    """Changes, drawn with equal chances from all there are."""
    every = [
        (room, mutant)
        for room in rooms
        for path in sorted((ROOT / "pairing" / room).rglob("*.py"))
        for mutant in mutants(path.relative_to(ROOT))
    ]
    print(f"{len(every)} changes in {', '.join(rooms)}; {min(count, len(every))} drawn")
    return random.Random(seed).sample(every, min(count, len(every)))


def make(mutant: Mutant) -> None:
    """Give the function its changed code, in this process."""
    module = importlib.import_module(".".join(mutant.path.with_suffix("").parts))
    found: Any = module
    for name in mutant.function.split("."):
        found = inspect.getattr_static(found, name)
    _function(found).__code__ = mutant.code()


def _function(found: Any) -> FunctionType:
    for inner in ("fget", "__func__", "__wrapped__"):
        found = getattr(found, inner, None) or found
    assert isinstance(found, FunctionType), found
    return found


def tested(room: str, *, more: tuple[str, ...] = ()) -> int:
    """Run a room's tests in this process."""
    words = ["-q", "-x", "--no-header", "-p", "no:cacheprovider", *more]
    return int(pytest.main([*words, *_LEFT_OUT, f"tests/{room}"]))


def in_child(work: Callable[[], int]) -> int:
    """What `work` returns in a process of its own."""
    pid = os.fork()
    if pid:
        return os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1])
    silent = os.open(os.devnull, os.O_WRONLY)
    os.dup2(silent, 1)
    os.dup2(silent, 2)
    resource.setrlimit(resource.RLIMIT_CPU, (_TIMEOUT_S, _TIMEOUT_S + 1))
    signal.signal(signal.SIGXCPU, signal.SIG_DFL)
    code = _NOTICED
    with contextlib.suppress(BaseException):
        code = _UNNOTICED if work() == 0 else _NOTICED
    os._exit(code)


def main() -> int:
    """Draw, try, and tell."""
    asked = argparse.ArgumentParser(prog="python -m tests.mutation", description=__doc__)
    asked.add_argument("rooms", nargs="*", default=list(ROOMS), metavar="ROOM")
    asked.add_argument("--count", type=int, default=160)
    asked.add_argument("--seed", type=int, default=1)
    given = asked.parse_args()
    os.chdir(ROOT)
    settings.register_profile(
        "mutation", deadline=None, database=None, derandomize=True, max_examples=25,
        # The first failure is enough; shrinking and explaining it would cost most of the time.
        phases=[Phase.explicit, Phase.generate], suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    for room in given.rooms:
        # Loads the tests once, for all processes, and shows that they pass as things are.
        begun = time.process_time()
        is_failing = tested(room, more=("--hypothesis-profile", "mutation")) != 0
        print(f"-- the tests of {room}: {time.process_time() - begun:.0f} s of processor time")
        if is_failing:
            print(f"The tests of {room} fail without any change.", file=sys.stderr)
            return 1
    gc.collect()
    gc.freeze()  # what the processes share is not copied by their own collections
    unnoticed: list[str] = []
    equivalent = 0
    begun = time.monotonic()
    every = drawn(given.rooms, given.count, given.seed)
    for done, (room, mutant) in enumerate(every, 1):

        def work(room: str = room, mutant: Mutant = mutant) -> int:
            make(mutant)
            return tested(room, more=("--hypothesis-profile", "mutation"))

        if in_child(work) == _UNNOTICED:
            is_known = mutant.name in EQUIVALENT
            equivalent += is_known
            if not is_known:
                unnoticed.append(mutant.name)
            word = "equivalent" if is_known else "UNNOTICED"
            print(f"{word}  {mutant.name} (line {mutant.line})", flush=True)
        if done % 10 == 0:
            print(f"-- {done} tried in {time.monotonic() - begun:.0f} s", flush=True)
    counted = len(every) - equivalent
    share = (counted - len(unnoticed)) / counted
    print(f"{len(every)} changes, {equivalent} equivalent, {len(unnoticed)} unnoticed: {share:.1%}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
