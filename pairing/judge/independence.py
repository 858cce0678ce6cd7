"""Whether label and box were read independently of each other: the condition of every "agrees".

Two readings count as two where they were made at two times in two places: from two sources, or
in two places of one picture. A label that was keyed is no source: what was keyed may be what is
written in the box. An operator may vouch for it; then it counts, and the word is recorded.
"""

from __future__ import annotations

from collections.abc import Sequence

from pairing.findings import Code, Finding
from pairing.model import How, Reading


def doubts(
    labels: Sequence[Reading], boxes: Sequence[Reading], found: Sequence[Finding]
) -> tuple[Finding, ...]:
    """What forbids these readings to agree; nothing where two of them are independent.

    labels: of the label, boxes: of the box, all of them with one number. found: what was found
    while reading, the operator's word among it.
    """
    if all(one.how is How.KEYED for one in labels):
        is_confirmed = any(one.code == Code.LABEL_CONFIRMED for one in found)
        return () if is_confirmed else (Finding.of(Code.LABEL_UNCONFIRMED),)
    read = [one for one in labels if one.how is not How.KEYED]
    if any(_are_independent(label, box) for label in read for box in boxes):
        return ()
    return (Finding.of(Code.ONE_SOURCE),)


def _are_independent(label: Reading, box: Reading) -> bool:
    is_one_picture = label.quad is not None and box.quad is not None
    return label.source != box.source or is_one_picture
