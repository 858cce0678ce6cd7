"""Changes that make no difference to what a function returns, each with its reason."""

from __future__ import annotations

_SAME_LENGTHS = "both are of one length, so `strict` never raises"

EQUIVALENT: dict[str, str] = {
    "pairing/numbers/checkdigit.py _mod10_work: len(digits) - index -> len(digits) + index": (
        "sum and difference are both odd or both even"
    ),
    "pairing/numbers/checkdigit.py _mod10_work: True -> False": _SAME_LENGTHS,
    "pairing/numbers/checkdigit.py _s10_work: True -> False": _SAME_LENGTHS,
    "pairing/judge/sides.py box: True -> False": _SAME_LENGTHS,
    "pairing/compare/slips.py _extra: 0 -> -1": "the list has one member",
    "pairing/compare/alignment.py _costs: 1 -> 2": "one cell more, which is never read",
}
"""`Mutant.name` to the reason."""
