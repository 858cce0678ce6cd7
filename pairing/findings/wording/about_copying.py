"""The sentences of a comparison of label and box.

They say what is written on each side, and never that one side ought to be like the other.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import takewhile
from typing import Any

from pairing.findings.codes import Code
from pairing.findings.wording.places import WHOLE, place, spot
from pairing.findings.wording.plurals import counted, unit

_NAMES = {
    Code.BOX_CARD_OWN: "the card's own number",
    Code.BOX_OTHER_PIECE: "another piece's number",
    Code.BOX_PAD_NEIGHBOR: "a neighboring number from the same pad",
    Code.BOX_ONE_DIGIT: "one {noun} written differently",
    Code.BOX_ADJACENT_SWAP: "two adjacent {noun}s swapped",
    Code.BOX_JUMP_SWAP: "two {noun}s swapped across the one between them",
    Code.BOX_TWIN: "a double {noun} written as another double",
    Code.BOX_JUMP_TWIN: "two equal {noun}s around another both written differently",
    Code.BOX_PHONETIC: 'a pair that sounds alike (such as "thirty" and "thirteen")',
    Code.BOX_DROPPED: "one {noun} missing",
    Code.BOX_EXTRA: "one {noun} too many",
    Code.BOX_TRUNCATED: "one end missing",
    Code.BOX_GROUP_SWAP: "two printed groups swapped",
    Code.BOX_SHIFTED: "one {noun} lost and another put in elsewhere",
    Code.BOX_SEVERAL_DIGITS: "several {noun}s written differently",
    Code.BOX_DIFFERENT: "a different text",
}

_WHOLE_NUMBERS = {Code.BOX_CARD_OWN, Code.BOX_OTHER_PIECE, Code.BOX_PAD_NEIGHBOR}

_HAPPENED = {
    Code.BOX_CARD_OWN: "The box holds the card's own number and not the label's",
    Code.BOX_OTHER_PIECE: "The box holds another piece's number and not the label's",
    Code.BOX_PAD_NEIGHBOR: (
        "The box holds a neighboring number from the same pad (its serial is {apart}), "
        "different at {where}"
    ),
    Code.BOX_ONE_DIGIT: "One {noun} differs at {where} {shown}",
    Code.BOX_ADJACENT_SWAP: "Two adjacent {noun}s are swapped at {where} {shown}",
    Code.BOX_JUMP_SWAP: ("Two {noun}s are swapped across the one between them at {where} {shown}"),
    Code.BOX_TWIN: "A double {noun} differs at {where} {shown}",
    Code.BOX_JUMP_TWIN: "Two equal {noun}s around another both differ at {where} {shown}",
    Code.BOX_PHONETIC: "Two {noun}s that sound alike differ at {where} {shown}",
    Code.BOX_DROPPED: "One {noun} of the label ({old}) is missing in the box: {where}",
    Code.BOX_EXTRA: "The box has one character too many, {where}",
    Code.BOX_TRUNCATED: "The label's {end} {count} are missing in the box: {where}",
    Code.BOX_GROUP_SWAP: "Two printed groups have changed places: {where}",
    Code.BOX_SHIFTED: "From {where} the {noun}s are one place off: {shift}",
    Code.BOX_SEVERAL_DIGITS: "{count} differ at {where} {shown}",
    Code.BOX_DIFFERENT: "The box holds a different text ({size}), different {where}",
}

_MOST_SHOWN = 6
"""Many scattered digits read as one false number: the aligned lines show them better."""


def where(code: Code, positions: Sequence[int], given: Mapping[str, Any]) -> str:
    """Words for where the error is, by the printed grouping of the label's number.

    given: the parameters of a comparison (`findings.PARAMETERS`).
    """
    label, box, sizes = given["label"], given["box"], given["group_sizes"]
    noun = unit(label)
    if code in {Code.BOX_CARD_OWN, Code.BOX_OTHER_PIECE} or not label:
        return WHOLE
    if code is Code.BOX_EXTRA:
        side, at = ("after", positions[0]) if positions else ("before", 1)
        found = f"{side} {spot(at, sizes, noun=noun)}"
        return found + _one_of(box, at if positions else 0)
    found = place(positions, sizes, noun=noun)
    if code is Code.BOX_DROPPED:
        return found + _one_of(label, positions[0] - 1)
    if code is not Code.BOX_DIFFERENT:
        return found
    if 2 * len(positions) > len(label) or not positions:
        return WHOLE
    return f"at {found}"


def sentence(code: Code, positions: Sequence[int], given: Mapping[str, Any]) -> str:
    """One sentence: the error, its place, other explanations, and the check digit's say."""
    if not given["label"] and not given["box"]:
        return "Neither side has anything on it to compare."
    also = given["also"]
    words = [_happened(code, positions, given)]
    noun = unit(given["label"])
    # One number can be two things at once; a slip is another story about the same digits.
    for kinds, lead, link in (
        ([one for one in also if one in _WHOLE_NUMBERS], "it is also", " and "),
        ([one for one in also if one not in _WHOLE_NUMBERS], "it could as well be", " or "),
    ):
        if kinds:
            words.append(f"{lead} {link.join(_NAMES[one].format(noun=noun) for one in kinds)}")
    if given.get("is_unchecked"):
        words.append("such numbers have no check digit that could have caught it")
    elif given["is_number"]:
        words.append("the box passes its own check, so the check digit would not have caught it")
    else:
        words.append("the box fails its own check, which would have caught it")
    whose = f" It is the number of {given['whose']}." if given.get("whose") else ""
    return "; ".join(words) + "." + whose


def equal(*, is_number: bool) -> str:
    """The sentence for two texts that are the same."""
    tail = "" if is_number else ", but neither passes its own check"
    return f"The box repeats the label's number{tail}."


def _happened(code: Code, at: Sequence[int], given: Mapping[str, Any]) -> str:
    """The error and its place, a clause that starts a sentence."""
    label, box = given["label"], given["box"]
    found, noun = where(code, at, given), unit(label)
    size = f"{counted(len(box), 'character')} against {len(label)}"
    if code is Code.BOX_DIFFERENT and found == WHOLE:
        return f"The box holds a different text ({size})"
    old = "".join(label[p - 1] for p in at)
    new = "".join(box[p - 1 : p] for p in at)
    return (
        _HAPPENED[code]
        .format(
            where=found,
            noun=noun,
            count=counted(len(at), noun),
            old=old,
            shown=f"(label {old}, box {new})" if len(at) <= _MOST_SHOWN else "",
            size=size,
            end="last" if len(label) in at else "first",
            apart=f"{abs(given['apart'])} {'higher' if given['apart'] > 0 else 'lower'}",
            shift=_shift(given) if code is Code.BOX_SHIFTED else "",
        )
        .rstrip()
    )


def _shift(given: Mapping[str, Any]) -> str:
    label, lost, put_in = given["label"], given["lost"], given["put_in"]
    at = [spot(one, given["group_sizes"], noun=unit(label)) for one in (lost, put_in)]
    return (
        f"the label's {label[lost - 1]} of {at[0]} is missing in the box, "
        f"and the box has an added {given['box'][put_in - 1]} at {at[1]}"
    )


def _one_of(text: str, index: int) -> str:
    """ " (one of the 3 0s)" where `text[index]` starts a run of equal characters."""
    run = len(list(takewhile(lambda c: c == text[index], text[index:])))
    return f" (one of the {run} {text[index]}s)" if run > 1 else ""
