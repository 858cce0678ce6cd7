"""Changes that make no difference to what a function returns, each with its reason."""

from __future__ import annotations

_SAME_LENGTHS = "both are of one length, so `strict` never raises"

_MADE_BEFORE = (
    "the function ran when the module was loaded, before the change is made; written into the file "
    "it makes every comparison raise a TypeError"
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
    "pairing/wedge/lines.py _is_cut_short: 0 -> -1": "shorter than six and shorter than none",
    "pairing/compare/slips.py _swap: return None for detect": _MADE_BEFORE,
    "pairing/compare/slips.py _twins: return None for detect": _MADE_BEFORE,
    "pairing/compare/alignment.py _costs: 1 -> 2": "one cell more, which is never read",
}
"""`Mutant.name` to the reason."""
