"""How often each copying error is met with: the one table.

Used to put photos of a lot together (`audit.matching.copying`) and to weigh the differing pairs
that the thresholds of the box's reader are worked out on (`training.calibration`). Never used to
read.

What the stated 1 in 10,000 rests on: of all labels that one slip of the hand (`SLIP_SHARES`)
leads to from a written line, each weighted by its share, at most 1 in 10,000 may be taken to agree
with that line. It was measured on 21,240 held-out lines (`photos/written/MODEL.md`), with half
of the rate left for hands that are harder than theirs. Whole other numbers and several wrong
digits at once are not among those labels: the first are told apart by many digits at once, of
the second there is no end, and the rule asks that the label's number beat every other text there
is.

The thresholds shipped in `photos/written/model.json` were worked out with this table, which is
kept in that file; change it, and they must be worked out again (`tests/compare/
test_error_shares.py`).
"""

from __future__ import annotations

from collections.abc import Mapping

from pairing.compare.kinds import CopyError

VERHOEFF_TOTAL = 12_112
"""Errors in Verhoeff's data (J. Verhoeff, Error Detecting Decimal Codes, Mathematical Center
Tracts 29, 1969); counts from memory."""

VERHOEFF_COUNTS: Mapping[CopyError, int] = {
    CopyError.ONE_DIGIT: 9574,
    CopyError.ADJACENT_SWAP: 1237,
    CopyError.JUMP_SWAP: 99,
    CopyError.TWIN: 67,
    CopyError.PHONETIC: 59,
    CopyError.JUMP_TWIN: 35,
}
"""His counts of the kinds that are one of ours."""

VERHOEFF_SEVERAL: Mapping[int, int] = {2: 232 + 43 + 98, 3: 169, 4: 118, 5: 219, 6: 162}
"""His counts by the number of wrong digits, whichever they are, for all other errors."""

_VERHOEFFS = 0.72
"""Share of his kinds. His data leave out missing and added digits, which are 10 to 20 % of all
errors (Wagner); other whole numbers, swapped groups and shifts are given the rest. Common
practice, no source."""

SHARES: Mapping[CopyError, float] = {
    **{kind: _VERHOEFFS * count / VERHOEFF_TOTAL for kind, count in VERHOEFF_COUNTS.items()},
    CopyError.SEVERAL_DIGITS: _VERHOEFFS * sum(VERHOEFF_SEVERAL.values()) / VERHOEFF_TOTAL,
    CopyError.DROPPED: 0.08,
    CopyError.EXTRA: 0.04,
    CopyError.TRUNCATED: 0.03,
    CopyError.SHIFTED: 0.03,
    CopyError.GROUP_SWAP: 0.02,
    CopyError.CARD_OWN: 0.02,
    CopyError.OTHER_PIECE: 0.03,
    CopyError.PAD_NEIGHBOR: 0.03,
}
"""Share of each kind among all wrong numbers in boxes."""

_NO_SLIPS = {
    CopyError.SEVERAL_DIGITS,
    CopyError.CARD_OWN,
    CopyError.OTHER_PIECE,
    CopyError.PAD_NEIGHBOR,
}
_SLIPS = sum(share for kind, share in SHARES.items() if kind not in _NO_SLIPS)

SLIP_SHARES: Mapping[CopyError, float] = {
    kind: share / _SLIPS for kind, share in SHARES.items() if kind not in _NO_SLIPS
}
"""Share of each slip of the hand that leads to finitely many numbers (`judge.box.rivals`), among
those slips."""


def several_share(wrong: int) -> float:
    """Share of errors with that many wrong digits that are no other kind; 0.0 from 7 on: so many
    digits of his numbers were never wrong at once."""
    return _VERHOEFFS * VERHOEFF_SEVERAL.get(wrong, 0) / VERHOEFF_TOTAL
