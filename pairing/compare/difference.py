"""What differs between the label's number and the box, and what most likely happened.

Both numbers come in as they were read, each for itself. Nothing here says which side is
right, and nothing offers to make one side like the other: people who resolve a double
entry by forcing the two to agree introduce errors of their own (Barchard et al. 2019,
10.3758/s13428-019-01207-3).
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass

from pairing.compare.alignment import Column, aligned, shifted_by_one, side_by_side
from pairing.compare.identity import serial_distance
from pairing.compare.kinds import CopyError, Pair
from pairing.compare.slips import explanations, shift_ends
from pairing.findings import Parameter
from pairing.findings.wording import about_copying
from pairing.numbers.grouping import sizes


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """Label against box.

    equal: both sides say the same. Two empty texts say nothing, so they are not equal, and
        their error is DIFFERENT.
    error: the error of highest precedence that explains the box; None when equal.
    also: further errors that explain it as well, in order of precedence.
    columns: both texts aligned; place by place where the lengths are equal (a shifted
        number shows its two gaps), by a minimal edit alignment otherwise.
    positions: 1-based positions in the label's number, ascending, always within it. One
        digit, swaps, twins, phonetic, several, different, whole other numbers: those
        that differ or have no partner. Dropped: the lost digit, the first of its run.
        Extra: the digit before it (again the first place in a run); empty
        where it is before the first. Truncated: all that are missing. Groups swapped:
        all of both groups. Shifted: from the lost digit to the place of the one put in.
    passes_check: the box's text is valid in itself, so no check digit gives it away.
    parameters: what the finding of this error carries (`findings.PARAMETERS`).
    """

    equal: bool
    error: CopyError | None
    also: tuple[CopyError, ...]
    columns: tuple[Column, ...]
    positions: tuple[int, ...]
    passes_check: bool
    parameters: Mapping[str, Parameter]

    @property
    def place(self) -> str:
        """The positions in words, by the printed grouping; "" when equal."""
        if self.error is None:
            return ""
        return about_copying.where(self.error.code, self.positions, self.parameters)

    @property
    def message(self) -> str:
        """One sentence for people."""
        if self.error is None:
            return about_copying.equal(is_number=self.passes_check)
        return about_copying.sentence(self.error.code, self.positions, self.parameters)


def compare(  # noqa: PLR0913 - two numbers and what is known around them
    label: str,
    box: str,
    *,
    group_sizes: Sequence[int],
    is_valid: Callable[[str], bool],
    card: str | None = None,
    others: Collection[str] = (),
) -> Comparison:
    """Compare the label's number with what is written in the box.

    label, box: canonical texts (upper case, no blanks); any text is accepted.
    group_sizes: the printed grouping of the label's family, sizes of at least 1.
    is_valid: whether a text (the box's) is a valid number of the family; must not raise.
    card: the card's own number, where known.
    others: numbers of the other pieces; the label's own number among them does no harm.
    """
    pair = Pair(
        label=label,
        box=box,
        group_sizes=tuple(group_sizes),
        card=card,
        others=others,
        box_valid=is_valid(box),
        diffs=_diffs(label, box),
    )
    found = () if label == box else explanations(pair)
    error, positions = found[0] if found else (None, ())
    if label == box == "":
        error = CopyError.DIFFERENT
    also = tuple(kind for kind, _ in found[1:])
    return Comparison(
        equal=label == box != "",
        error=error,
        also=also,
        columns=_columns(pair, error),
        positions=positions,
        passes_check=pair.box_valid,
        parameters=_parameters(pair, error, also),
    )


def _parameters(
    pair: Pair, error: CopyError | None, also: tuple[CopyError, ...]
) -> Mapping[str, Parameter]:
    is_neighbor = error is CopyError.PAD_NEIGHBOR
    ends = shift_ends(pair.label, pair.box, pair.diffs) if error is CopyError.SHIFTED else None
    lost, put_in = (ends[0] + 1, ends[1] + 1) if ends else (0, 0)
    return {
        "label": pair.label,
        "box": pair.box,
        "group_sizes": sizes(len(pair.label), pair.group_sizes),
        "also": tuple(kind.code for kind in also),
        "is_number": pair.box_valid,
        "apart": serial_distance(pair.label, pair.box) or 0 if is_neighbor else 0,
        "lost": lost,
        "put_in": put_in,
    }


def _diffs(label: str, box: str) -> tuple[int, ...]:
    if len(label) != len(box):
        return ()
    return tuple(index for index, (a, b) in enumerate(zip(label, box, strict=True)) if a != b)


def _columns(pair: Pair, error: CopyError | None) -> tuple[Column, ...]:
    if error is CopyError.SHIFTED:
        ends = shift_ends(pair.label, pair.box, pair.diffs)
        if ends is not None:
            return shifted_by_one(pair.label, pair.box, *ends)
    if len(pair.label) == len(pair.box):
        return side_by_side(pair.label, pair.box)
    return aligned(pair.label, pair.box)
