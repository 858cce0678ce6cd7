"""A few faults of each kind; hundreds are made by hand: `python -m tests.faults --help`."""

from __future__ import annotations

import random
import re
import shutil
from pathlib import Path

import pytest

from tests.faults import clocks, disks, kills, power
from tests.faults.forked import Life

CHEAP = ("counter", "expect", "import lines", "export lines", "backup")


@pytest.mark.parametrize("name", CHEAP)
def test_a_killed_command_loses_nothing_that_it_said(name: str) -> None:
    _, lost = kills.killed(name, 1, 1)
    assert lost == []


@pytest.mark.parametrize("fault", [disks.full, disks.read_only, clocks.jumping])
def test_nothing_acknowledged_is_lost(fault: object) -> None:
    assert callable(fault)
    _, lost = fault(3, 1)
    assert lost == []


def test_a_power_cut_leaves_what_was_flushed() -> None:
    """A write that was not flushed may be gone; a flushed one, and its file's name, may not."""
    disk, dice, whole = power._Disk(), random.Random(1), 0
    steps = [
        'openat(AT_FDCWD</x>, "/d/a", O_RDWR|O_CREAT, 0600) = 5</d/a>',
        'pwrite64(5</d/a>, "ab", 2, 0) = 2',
        "fdatasync(5</d/a>) = 0",
        'pwrite64(5</d/a>, "cd", 2, 2) = 2',
        'write(1</y>, "told", 4) = 4',
    ]
    for line in steps:
        spelled = re.sub(
            '"(.*?)"', lambda one: '"' + "".join(f"\\x{ord(c):02x}" for c in one[1]) + '"', line
        )
        power._step(disk, f"7 {spelled}", "/d")
    for _ in range(40):
        found = dict(disk.after_cut(dice))
        assert found["/d/a"] in (b"ab", b"abcd")
        whole += found["/d/a"] == b"abcd"
    assert 0 < whole < 40
    assert disk.said == b"told"


def test_what_is_lost_is_seen(tmp_path: Path) -> None:
    """An entry that was named and is not there, and half a backup."""
    kills.prepare(tmp_path)
    life = Life(out="line 4: Recorded as entry 999.\n", code=0, took_s=1)
    with pytest.raises(AssertionError, match="999"):
        kills.all_recorded(tmp_path, life)
    shutil.copy(tmp_path / "x.csv", tmp_path / "copy.db")
    with pytest.raises(Exception, match="not a ledger"):
        kills.cases()["backup"].check(tmp_path, Life(out="", code=-9, took_s=1))
