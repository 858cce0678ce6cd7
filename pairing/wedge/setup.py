"""What is known beforehand about a scanner, and about the numbers that come from it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class WedgeSetup:
    """gs_substitutes: strings that this scanner sends in place of GS (0x1D), such as
    "<GS>" or "~"; each is replaced wherever it occurs. rules: the pairing rules that the office
    chose (`numbers.derived`), whose numbers are recognized."""

    gs_substitutes: tuple[str, ...] = ()
    rules: tuple[str, ...] = ()
