"""The sentences of a comparison.

They say what stands on each side, and never that one side ought to be like the other.
"""

from __future__ import annotations

from itertools import takewhile

from pairing.compare.identity import serial_distance
from pairing.compare.kinds import CopyError, Pair, Positions
from pairing.compare.slips import shift_ends
from pairing.numbers.grouping import WHOLE, place, spot, unit

_NAMES = {
    CopyError.CARD_OWN: "the card's own number",
    CopyError.OTHER_PIECE: "another piece's number",
    CopyError.PAD_NEIGHBOUR: "a neighbouring number from the same pad",
    CopyError.ONE_DIGIT: "one {noun} written differently",
    CopyError.ADJACENT_SWAP: "two adjacent {noun}s swapped",
    CopyError.JUMP_SWAP: "two {noun}s swapped across the one between them",
    CopyError.TWIN: "a double {noun} written as another double",
    CopyError.JUMP_TWIN: "two equal {noun}s around another both written differently",
    CopyError.PHONETIC: 'a pair that sounds alike (such as "thirty" and "thirteen")',
    CopyError.DROPPED: "one {noun} missing",
    CopyError.EXTRA: "one {noun} too many",
    CopyError.TRUNCATED: "one end missing",
    CopyError.GROUP_SWAP: "two printed groups swapped",
    CopyError.SHIFTED: "one {noun} lost and another put in elsewhere",
    CopyError.SEVERAL_DIGITS: "several {noun}s written differently",
    CopyError.DIFFERENT: "a different text",
}

_WHOLE_NUMBERS = {CopyError.CARD_OWN, CopyError.OTHER_PIECE, CopyError.PAD_NEIGHBOUR}


def place_of(pair: Pair, error: CopyError | None, positions: Positions) -> str:
    """Words for where the error is, by the printed grouping of the label's number."""
    n, noun = len(pair.label), unit(pair.label)
    if error is None:
        return ""
    if error in {CopyError.CARD_OWN, CopyError.OTHER_PIECE} or n == 0:
        return WHOLE
    if error is CopyError.EXTRA:
        side, at = ("after", positions[0]) if positions else ("before", 1)
        where = f"{side} {spot(at, n, pair.group_sizes, noun=noun)}"
        return where + _one_of(pair.box, at if positions else 0)
    where = place(positions, n, pair.group_sizes, noun=noun)
    if error is CopyError.DROPPED:
        return where + _one_of(pair.label, positions[0] - 1)
    if error is not CopyError.DIFFERENT:
        return where
    if 2 * len(positions) > n or not positions:
        return WHOLE
    return f"at {where}"


def sentence(
    pair: Pair, error: CopyError | None, also: tuple[CopyError, ...], at: Positions, where: str
) -> str:
    """One sentence: the error, its place, other explanations, and the check digit's say."""
    if error is None:
        tail = "" if pair.box_valid else ", but neither passes its own check"
        return f"The box repeats the label's number{tail}."
    words = [_happened(pair, error, at, where)]
    noun = unit(pair.label)
    # One number can be two things at once; a slip is another story about the same digits.
    for kinds, lead, link in (
        ([kind for kind in also if kind in _WHOLE_NUMBERS], "it is also", " and "),
        ([kind for kind in also if kind not in _WHOLE_NUMBERS], "it could as well be", " or "),
    ):
        if kinds:
            words.append(f"{lead} {link.join(_NAMES[kind].format(noun=noun) for kind in kinds)}")
    words.append(
        "the box passes its own check, so the check digit would not have caught it"
        if pair.box_valid
        else "the box fails its own check, which would have caught it"
    )
    return "; ".join(words) + "."


_HAPPENED = {
    CopyError.CARD_OWN: "The box holds the card's own number and not the label's",
    CopyError.OTHER_PIECE: "The box holds another piece's number and not the label's",
    CopyError.PAD_NEIGHBOUR: (
        "The box holds a neighbouring number from the same pad (its serial is {apart}), "
        "different at {where}"
    ),
    CopyError.ONE_DIGIT: "One {noun} differs at {where} {shown}",
    CopyError.ADJACENT_SWAP: "Two adjacent {noun}s are swapped at {where} {shown}",
    CopyError.JUMP_SWAP: "Two {noun}s are swapped across the one between them at {where} {shown}",
    CopyError.TWIN: "A double {noun} differs at {where} {shown}",
    CopyError.JUMP_TWIN: "Two equal {noun}s around another both differ at {where} {shown}",
    CopyError.PHONETIC: "Two {noun}s that sound alike differ at {where} {shown}",
    CopyError.DROPPED: "One {noun} of the label ({old}) is missing in the box: {where}",
    CopyError.EXTRA: "The box has one character too many, {where}",
    CopyError.TRUNCATED: "The label's {end} {count} {noun}s are missing in the box: {where}",
    CopyError.GROUP_SWAP: "Two printed groups have changed places: {where}",
    CopyError.SHIFTED: "From {where} the {noun}s stand one place off: {shift}",
    CopyError.SEVERAL_DIGITS: "{count} {noun}s differ at {where} {shown}",
    CopyError.DIFFERENT: "The box holds a different text ({size}), different {where}",
}


def _happened(pair: Pair, error: CopyError, at: Positions, where: str) -> str:
    """The error and its place, a clause that starts a sentence."""
    if error is CopyError.DIFFERENT and where == WHOLE:
        return f"The box holds a different text ({_size(pair)})"
    old = "".join(pair.label[p - 1] for p in at)
    new = "".join(pair.box[p - 1 : p] for p in at)
    # Many scattered digits read as one false number: the aligned lines show them better.
    shown = f"(label {old}, box {new})" if len(at) <= _MOST_SHOWN else ""
    return (
        _HAPPENED[error]
        .format(
            where=where,
            noun=unit(pair.label),
            count=len(at),
            old=old,
            shown=shown,
            size=_size(pair),
            end="last" if len(pair.label) in at else "first",
            apart=_apart(pair) if error is CopyError.PAD_NEIGHBOUR else "",
            shift=_shift(pair) if error is CopyError.SHIFTED else "",
        )
        .rstrip()
    )


_MOST_SHOWN = 6


def _size(pair: Pair) -> str:
    return f"{len(pair.box)} characters against {len(pair.label)}"


def _apart(pair: Pair) -> str:
    apart = serial_distance(pair.label, pair.box) or 0
    return f"{abs(apart)} {'higher' if apart > 0 else 'lower'}"


def _shift(pair: Pair) -> str:
    lost, put_in = shift_ends(pair.label, pair.box, pair.diffs) or (0, 0)
    n, noun = len(pair.label), unit(pair.label)
    at = [spot(index + 1, n, pair.group_sizes, noun=noun) for index in (lost, put_in)]
    return (
        f"the label's {pair.label[lost]} of {at[0]} is missing in the box, "
        f"and the box has an added {pair.box[put_in]} at {at[1]}"
    )


def _one_of(text: str, index: int) -> str:
    """ " (one of the 3 0s)" where `text[index]` starts a run of equal characters."""
    run = len(list(takewhile(lambda c: c == text[index], text[index:])))
    return f" (one of the {run} {text[index]}s)" if run > 1 else ""
