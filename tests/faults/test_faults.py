"""A few faults of each kind; hundreds are made by hand: `python -m tests.faults --help`."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from tests.faults import clocks, disks, kills
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


def test_what_is_lost_is_seen(tmp_path: Path) -> None:
    """An entry that was named and is not there, and half a backup."""
    kills.prepare(tmp_path)
    life = Life(out="line 4: Recorded as entry 999.\n", code=0, took_s=1)
    with pytest.raises(AssertionError, match="999"):
        kills.all_recorded(tmp_path, life)
    shutil.copy(tmp_path / "x.csv", tmp_path / "copy.db")
    with pytest.raises(Exception, match="not a ledger"):
        kills.cases()["backup"].check(tmp_path, Life(out="", code=-9, took_s=1))
