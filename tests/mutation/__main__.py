"""Are wrong changes to the pure rooms noticed by the rooms' own tests?

`python -m tests.mutation [ROOM ...] [--count 160] [--seed 1] [--jobs 1]` draws changes
(comparisons, boundaries, arithmetic, constants, returns, and/or) from the functions of the rooms,
makes each in a process of its own, `--jobs` of them at once, and runs the room's tests there; the
files are not touched. What the tests do not notice is listed:
a test is missing, or the change makes no difference ("equivalent"; those that were looked at are
in `EQUIVALENT`). Run by hand, some minutes long; tables at the level of a module are not changed.
"""

from __future__ import annotations

import argparse
import gc
import importlib
import inspect
import os
import random
import resource
import signal
import sys
import time
from pathlib import Path
from types import CodeType, FunctionType
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, settings

from tests.mutation.equivalent import EQUIVALENT
from tests.mutation.mutants import Mutant, mutants

ROOT = Path(__file__).resolve().parents[2]
ROOMS = ("numbers", "wedge", "compare", "judge")
TESTS = {
    "ledger/verification": (
        "tests/ledger/test_tampering.py",
        "tests/ledger/test_continuity.py",
        "tests/ledger/test_walk.py",
    ),
    "kiosk/guard": (
        "tests/kiosk/test_guard_rules.py",
        "tests/kiosk/test_guard.py",
        "tests/kiosk/test_token.py",
    ),
}
"""Single modules outside the pure rooms that may be named too, with the tests that know them."""
_TIMEOUT_S = 10
"""Processor seconds for a room's tests; an endless loop counts as noticed."""
_LEFT_OUT = ("--ignore", "tests/numbers/test_unicode.py")
"""All of Unicode takes longer than the other tests of its room together."""


def drawn(rooms: list[str], count: int, seed: int) -> list[tuple[str, Mutant]]:
    """Changes, drawn with equal chances from all there are."""
    every = [
        (room, mutant)
        for room in rooms
        for path in _files(room)
        for mutant in mutants(path.relative_to(ROOT))
    ]
    print(f"{len(every)} changes in {', '.join(rooms)}; {min(count, len(every))} drawn")
    return random.Random(seed).sample(every, min(count, len(every)))


def _files(room: str) -> list[Path]:
    place = ROOT / "pairing" / room
    return sorted(place.rglob("*.py")) if place.is_dir() else [place.with_suffix(".py")]


def _tests(room: str) -> tuple[str, ...]:
    return TESTS.get(room, (f"tests/{room}",))


def make(mutant: Mutant) -> None:
    """Give the function its changed code, in this process."""
    parts = mutant.path.with_suffix("").parts
    found: Any = importlib.import_module(".".join(parts).removesuffix(".__init__"))
    for name in mutant.function.split("."):
        found = inspect.getattr_static(found, name)
    for inner in ("fget", "__func__", "__wrapped__"):
        found = getattr(found, inner, None) or found
    assert isinstance(found, FunctionType), found
    changed = mutant.code()
    for old, new in zip(_inner(found.__code__), _inner(changed), strict=True):
        for function in _CLOSURES.get(old, ()):
            function.__code__ = new
    found.__code__ = changed


_CLOSURES: dict[CodeType, list[FunctionType]] = {}
"""Functions that other functions made when their modules were loaded, by their code."""


def _inner(code: CodeType) -> list[CodeType]:
    return [one for one in code.co_consts if isinstance(one, CodeType)]


def find_closures() -> None:
    """Fill `_CLOSURES`."""
    for one in gc.get_objects():
        if isinstance(one, FunctionType) and (one.__module__ or "").startswith("pairing."):
            _CLOSURES.setdefault(one.__code__, []).append(one)


class Tries:
    """Takes the place of pytest's own loop over the tests: all of them once for each change."""

    def __init__(self, changes: list[tuple[str, Mutant]], jobs: int) -> None:
        self.changes = changes
        self.jobs = jobs
        self.unnoticed: list[str] = []
        self.equivalent = 0
        self._failed = False

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Whether anything failed."""
        self._failed |= report.failed

    def pytest_runtestloop(self, session: pytest.Session) -> bool:
        """Try every change."""
        tests = {room: self._timed(session, room) for room in sorted(dict(self.changes))}
        find_closures()
        gc.collect()
        gc.freeze()  # what the processes share is not copied by their own collections
        begun = time.monotonic()
        running: dict[int, Mutant] = {}
        for done, (room, mutant) in enumerate(self.changes, 1):
            while len(running) >= self.jobs:
                self._wait_for_one(running)
            running[self._started(tests[room], mutant)] = mutant
            if done % 20 == 0:
                _say(f"-- {done} begun in {time.monotonic() - begun:.0f} s")
        while running:
            self._wait_for_one(running)
        return True

    def _wait_for_one(self, running: dict[int, Mutant]) -> None:
        """Until one of the processes ends; says what it found if nothing noticed its change."""
        pid, status = os.wait()
        mutant = running.pop(pid)
        if os.waitstatus_to_exitcode(status) != 0:
            return
        is_known = mutant.name in EQUIVALENT
        self.equivalent += is_known
        if not is_known:
            self.unnoticed.append(mutant.name)
        word = "equivalent" if is_known else "UNNOTICED"
        _say(f"{word}  {mutant.name} (line {mutant.line})")

    def _timed(self, session: pytest.Session, room: str) -> list[pytest.Item]:
        """A room's tests, the quickest first, all of which pass as things are."""
        took: dict[pytest.Item, float] = {}
        for item in session.items:
            if item.nodeid.startswith(_tests(room)):
                begun = time.process_time()
                assert self._passes([item]), f"{item.nodeid} fails without any change"
                took[item] = time.process_time() - begun
        _say(f"-- {room}: {len(took)} tests, {sum(took.values()):.1f} s of processor time")
        return sorted(took, key=lambda item: took[item])

    def _passes(self, items: list[pytest.Item]) -> bool:
        self._failed = False
        for item in items:
            item.config.hook.pytest_runtest_protocol(item=item, nextitem=None)
            if self._failed:
                return False
        return True

    def _started(self, items: list[pytest.Item], mutant: Mutant) -> int:
        """The process that tries the change. It ends with 0 only if every test passes; a test
        that never ends is ended by the limit of processor time."""
        pid = os.fork()
        if pid:
            return pid
        resource.setrlimit(resource.RLIMIT_CPU, (_TIMEOUT_S, _TIMEOUT_S + 1))
        signal.signal(signal.SIGXCPU, signal.SIG_DFL)
        code = 1
        try:
            make(mutant)
            code = 0 if self._passes(items) else 1
        finally:
            os._exit(code)


def _say(text: str) -> None:
    print(text, file=sys.__stderr__, flush=True)


def main() -> int:
    """Draw, try, and say what came of it."""
    asked = argparse.ArgumentParser(prog="python -m tests.mutation", description=__doc__)
    asked.add_argument("rooms", nargs="*", default=list(ROOMS), metavar="ROOM")
    asked.add_argument("--count", type=int, default=160)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--only", type=Path, help="a file with names of changes, a line each")
    asked.add_argument("--jobs", type=int, default=1, help="processes at once")
    given = asked.parse_args()
    os.chdir(ROOT)
    settings.register_profile(
        "mutation", deadline=None, database=None, derandomize=True, max_examples=25,
        # The first failure is enough; shrinking and explaining it would cost most of the time.
        phases=[Phase.explicit, Phase.generate], suppress_health_check=list(HealthCheck),
    )  # fmt: skip
    changes = drawn(given.rooms, given.count, given.seed)
    if given.only:
        names = set(given.only.read_text("utf-8").splitlines())
        changes = [(room, mutant) for room, mutant in changes if mutant.name in names]
    tries = Tries(changes, given.jobs)
    words = ["-q", "--no-header", "--no-summary", "-p", "no:cacheprovider", *_LEFT_OUT]
    words += ["--hypothesis-profile", "mutation"]
    pytest.main([*words, *(test for room in given.rooms for test in _tests(room))], plugins=[tries])
    counted = len(tries.changes) - tries.equivalent
    share = (counted - len(tries.unnoticed)) / counted
    _say(
        f"{len(tries.changes)} changes, {tries.equivalent} equivalent, "
        f"{len(tries.unnoticed)} unnoticed: {share:.1%} noticed"
    )
    return 0


if __name__ == "__main__":
    sys.exit(main())
