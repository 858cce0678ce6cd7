"""Slips led back to the numbers that they start from.

The lots are invented; the slips are those that `judge.box.rivals` makes.
"""

from __future__ import annotations

import math
from collections import Counter

import pytest

from pairing.audit.matching.cards_to_labels import LEAST_MARGIN, _prior
from pairing.audit.matching.copying import Copying
from pairing.audit.matching.slip_sources import SERIAL, SlipSources
from pairing.compare import CopyError
from pairing.judge.box import rivals
from tests.audit.making import label

SIZES = (4, 4, 4, 4, 4, 2)


def lot(count: int, start: int = 31_400) -> list[str]:
    return [label(start + n) for n in range(count)]


def test_every_slip_is_led_back_to_its_label() -> None:
    """All of what `judge.box.rivals` makes of a label, but for cut ones and for short and long
    groups that changed places: these are not told from each other without the label."""
    labels = lot(40, start=5_204_000)
    sources = SlipSources({one[:-SERIAL] for one in labels})
    for own in labels[::13]:
        lost: Counter[CopyError] = Counter()
        for rival in rivals(own, group_sizes=SIZES):
            lost[rival.error] += all(one != own for _, one in sources.of(rival.text))
        assert set(+lost) <= {CopyError.TRUNCATED, CopyError.GROUP_SWAP}
        assert lost[CopyError.GROUP_SWAP] <= 5  # swaps with the last group


def test_a_cut_number_is_led_back_to_its_label() -> None:
    labels = lot(40, start=5_204_000)
    sources = SlipSources({one[:-SERIAL] for one in labels})
    assert labels[7] in sources.cut(labels[7][3:])
    assert not list(sources.cut(labels[7][-SERIAL:]))  # any label may end so


def test_a_slip_that_no_strangers_number_leads_to_speaks_for_the_label() -> None:
    """Two digits of the beginning, which all labels share, have changed places: whatever label the
    card belongs to, it is one of the lot, and that number but for them."""
    labels = lot(100)
    copying = Copying(labels)
    wrong = f"{labels[5][:5]}{labels[5][7]}{labels[5][6]}{labels[5][5]}{labels[5][8:]}"
    assert wrong != labels[5]
    assert copying.of_box(wrong, labels[5], card=None) > 1e3 * copying.of_stranger(wrong)
    # Its last digits read otherwise may be a stranger's whole number.
    near = label(31_550)
    assert copying.of_box(near, labels[50], card=None) < copying.of_stranger(near)


@pytest.mark.parametrize("count", [100, 10_000, 100_000])
def test_a_repeated_number_tells_its_label_in_a_lot_of_any_size(count: int) -> None:
    """One piece in ten lacks a photo, and no list names the pair. In lots from 12,000 on nothing
    was ever sure."""
    labels = lot(count)
    copying = Copying(labels)
    own = labels[count // 2]
    evidence = math.log(copying.of_box(own, own, card=None) / copying.of_stranger(own))
    margin = evidence + _prior(count, 0.1)
    assert margin > LEAST_MARGIN
    assert margin < 12  # of cards of 10,000 lone labels 3 in 10,000 hold some number of the lot
