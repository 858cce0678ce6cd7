"""Every rival there is, against the texts that the oracle of `compare` makes of a label by its
own enumeration."""

from __future__ import annotations

import math
from collections.abc import Sequence

import pytest

from pairing.compare import CopyError
from pairing.judge.box import Thresholds, decide, rivals
from pairing.judge.box.rivals import extra
from pairing.model import Verdict
from tests.compare import oracle

LABELS = [
    "9407111201080805483016",  # tracking_number_data, couriers/usps.json, one digit changed
    "70191640000008004105",  # state agency records; with 30 and 13 in it
    "92748931507708513018050063",  # tracking_number_data, couriers/usps.json
]
FINITE = (
    "ONE_DIGIT", "ADJACENT_SWAP", "JUMP_SWAP", "TWIN", "JUMP_TWIN", "PHONETIC", "DROPPED",
    "EXTRA", "TRUNCATED", "GROUP_SWAP",
)  # fmt: skip


def doubled(label: str) -> set[str]:
    """One digit lost, and another written twice to make up for it: what `rivals` takes of all
    that are shifted."""
    found = set()
    for lost in range(len(label)):
        left = label[:lost] + label[lost + 1 :]
        found |= {left[:at] + left[at - 1] + left[at:] for at in range(1, len(label))}
    return found


@pytest.mark.parametrize("label", LABELS)
def test_rivals_are_all_that_a_slip_can_make(label: str) -> None:
    reach = oracle.reachable(label, (4,))
    wanted = {text for kind in FINITE for text in reach[kind]}
    shifted = doubled(label) & set(reach["SHIFTED"])
    assert len(shifted) > 50
    found = rivals(label, group_sizes=(4,))
    assert {one.text for one in found} == (wanted | shifted) - {label}
    assert len({one.text for one in found}) == len(found)
    assert all(one.text for one in found)
    for one in found:
        assert one.text in reach[one.error.name], one


def test_one_digit_too_many_is_tried_once_in_every_gap() -> None:
    assert len(list(extra("12"))) == 30


def test_whole_other_numbers_come_first_and_the_labels_own_never() -> None:
    label, card, other = LABELS[0], "9590940258780038231151", LABELS[2]
    found = rivals(label, group_sizes=(4,), card=card, others=[other, label, card])
    assert (found[0].text, found[0].error) == (card, CopyError.CARD_OWN)
    assert (found[1].text, found[1].error) == (other, CopyError.OTHER_PIECE)
    assert label not in {one.text for one in found}


class Said:
    """A reading with known likelihoods."""

    def __init__(self, best: str, chances: dict[str, float]) -> None:
        self.best, self.chances = best, chances

    def log_likelihoods(self, texts: Sequence[str]) -> list[float]:
        return [math.log(self.chances.get(text, 1e-9)) for text in texts]


def test_the_likeliest_rival_is_named_where_what_was_read_is_none() -> None:
    label = LABELS[0]
    far = "5555" + label[4:]  # four wrong digits: no slip makes it
    swapped = label[:10] + label[11] + label[10] + label[12:]
    assert swapped != label
    rule = Thresholds(agrees=2.0, differs=3.0, differs_sure=0.9, asks=2.0)
    done = decide(Said(far, {far: 0.95, swapped: 0.01}), label, thresholds=rule, group_sizes=(4,))
    assert done.verdict is Verdict.DIFFERS
    assert (done.rival, done.error) == (swapped, CopyError.ADJACENT_SWAP)
    read = decide(Said(swapped, {swapped: 0.95}), label, thresholds=rule, group_sizes=(4,))
    assert (read.rival, read.error) == (swapped, CopyError.ADJACENT_SWAP)
