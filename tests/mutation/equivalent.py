"""Changes that make no difference to what a function returns, each with its reason."""

from __future__ import annotations

_SAME_LENGTHS = "both are of one length, so `strict` never raises"

_MADE_BEFORE = (
    "the function ran when the module was loaded, before the change is made; written into the file "
    "it makes every comparison raise a TypeError"
)

_NEIGHBORS = "numbers from one pad that differ are never nothing apart"
_SAME_RUN = "all places of a run have the same text, so every one of them begins it"
_TRUTH = "asked for as a truth value alone"
_DROPPED = "one character fewer is among those that dropped one, and all of it is the label's own"
_SHAPE = "13 characters that begin with two letters are refused for their shape, not their length"
_LETTERS = (
    "what is put in place of letters is no S10 number either, where the letters are not its own"
)

EQUIVALENT: dict[str, str] = {
    "pairing/numbers/checkdigit.py _mod10_work: len(digits) - index -> len(digits) + index": (
        "sum and difference are both odd or both even"
    ),
    "pairing/numbers/checkdigit.py _mod10_work: True -> False": _SAME_LENGTHS,
    "pairing/numbers/checkdigit.py _s10_work: True -> False": _SAME_LENGTHS,
    "pairing/judge/sides.py box: True -> False": _SAME_LENGTHS,
    "pairing/numbers/checkdigit.py s10: True -> False": _SAME_LENGTHS,
    "pairing/compare/slips.py _extra: 0 -> -1": "the list has one member",
    "pairing/judge/box/rivals.py _shifted: True -> False": _SAME_LENGTHS,
    "pairing/judge/box/asked_characters.py _put: True -> False": _SAME_LENGTHS,
    "pairing/wedge/lines.py _is_cut_short: 20 -> 21": (
        "20 digits that begin with 7 are never refused for their length (6,000 tried)"
    ),
    "pairing/wedge/lines.py _is_cut_short: 0 -> 1": "shorter than six and shorter than one",
    "pairing/judge/box/rule.py _differ_beside: False -> True": _SAME_LENGTHS,
    "pairing/judge/sides.py box: 0 -> -1": (
        "all legible readings say one text, and nothing else of the number is used"
    ),
    "pairing/wedge/splitting.py into_numbers: 2 * _SHORTEST <= len(text) <= most * _LONGEST -> "
    "2 * _SHORTEST <= len(text) < most * _LONGEST": "no whole number is as long as _LONGEST",
    "pairing/wedge/splitting.py into_numbers: len(text) > most * _LONGEST -> "
    "len(text) >= most * _LONGEST": "no whole number is as long as _LONGEST",
    "pairing/wedge/lines.py _is_cut_short: 0 -> -1": "shorter than six and shorter than none",
    "pairing/compare/slips.py _swap: return None for detect": _MADE_BEFORE,
    "pairing/compare/slips.py _twins: return None for detect": _MADE_BEFORE,
    "pairing/compare/alignment.py _costs: 1 -> 2": "one cell more, which is never read",
    "pairing/compare/difference.py _parameters: 0 -> -1": _NEIGHBORS,
    "pairing/compare/difference.py _parameters: 0 -> 1": _NEIGHBORS,
    "pairing/judge/box/asked_characters.py _run: 1 -> 2": _SAME_RUN,
    "pairing/judge/box/asked_characters.py _nearest: True -> False": _SAME_LENGTHS,
    "pairing/judge/box/weighing.py _is_piece_of: return None for False": _TRUTH,
    "pairing/judge/verdict.py _one_symbol: return None for False": _TRUTH,
    "pairing/wedge/lines.py _is_cut_short: return None for False": _TRUTH,
    "pairing/wedge/lines.py _separated: return None for ()": _TRUTH,
    "pairing/judge/box/rivals.py _slips: len(label) - 1 -> len(label) + 1": _DROPPED,
    "pairing/judge/box/rivals.py _slips: 1 -> 0": _DROPPED,
    "pairing/judge/fields.py together: 0 -> -1": "the order of the three ranks stays",
    "pairing/judge/fields.py together: 2 -> 3": "the order of the three ranks stays",
    "pairing/numbers/rejections.py wrong_check_digit: 1 -> 2": (
        "numbers end with digits alone or with two letters"
    ),
    "pairing/wedge/lines.py _is_cut_short: 13 -> 14": _SHAPE,
    "pairing/wedge/lines.py _is_cut_short: len(text) < 13 -> len(text) <= 13": _SHAPE,
    "pairing/wedge/questions.py _look_alikes: 2 -> 1": _LETTERS,
    "pairing/wedge/questions.py _look_alikes: and/or in len(text) == 13 and text[:2].isalpha() "
    "and text[-2:].isalpha()": _LETTERS,
    "pairing/wedge/splitting.py into_numbers: 1 -> 2": (
        "one character more is the same piece at the end of the text, and elsewhere one longer "
        "than any number (`_LONGEST`)"
    ),
    "pairing/kiosk/guard.py Guard._check_host: 0 -> -1": "the only one of one",
}
"""`Mutant.name` to the reason."""
