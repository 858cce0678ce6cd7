"""The one table of error shares, and what the stated rates of wrong "agrees" rest on."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from pairing.blindspots.table import KINDS
from pairing.compare import CopyError
from pairing.compare.error_shares import (
    SHARES,
    SLIP_SHARES,
    VERHOEFF_COUNTS,
    VERHOEFF_SEVERAL,
    VERHOEFF_TOTAL,
    several_share,
)
from pairing.judge.box import STRICTNESS
from pairing.judge.box.rivals import rivals
from pairing.training.calibration import MARGIN

MODEL = Path(__file__).resolve().parents[2] / "pairing" / "photos" / "written" / "model.json"


def test_shares_are_shares() -> None:
    assert sum(SHARES.values()) == pytest.approx(1, abs=1e-3)
    assert sum(SLIP_SHARES.values()) == pytest.approx(1)
    assert set(SHARES) == set(CopyError) - {CopyError.DIFFERENT}


def test_verhoeffs_counts_add_up() -> None:
    """J. Verhoeff 1969: 12,112 errors, all of one to six digits (counts from memory)."""
    assert sum(VERHOEFF_COUNTS.values()) + sum(VERHOEFF_SEVERAL.values()) == VERHOEFF_TOTAL
    assert sum(count or 0 for _, _, count in KINDS.values()) == VERHOEFF_TOTAL
    shares = [several_share(wrong) for wrong in range(9)]
    assert [wrong for wrong, share in enumerate(shares) if share] == [2, 3, 4, 5, 6]
    assert sum(shares) == pytest.approx(SHARES[CopyError.SEVERAL_DIGITS])


def test_the_slips_are_the_kinds_that_lead_to_finitely_many_numbers() -> None:
    made = rivals("70190140990007301130", group_sizes=(4,))  # with a twin, and 30 for 13
    assert {one.error for one in made} == set(SLIP_SHARES)


@pytest.mark.parametrize("strictness", STRICTNESS)
def test_the_shipped_thresholds_keep_the_stated_rate_under_this_table(strictness: str) -> None:
    """They were worked out with it; a change of the table must work them out again."""
    card = json.loads(MODEL.read_text("utf-8"))
    then = card["shares"]
    assert sum(then.values()) == pytest.approx(1)
    assert then == {
        kind.code: pytest.approx(share, abs=1e-5) for kind, share in SLIP_SHARES.items()
    }
    found = card["thresholds"][strictness]
    assert found["rate"] < found["rate_bound"] <= MARGIN * float(strictness)
