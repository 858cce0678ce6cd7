"""What is known beforehand about a scanner."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class WedgeSetup:
    """gs_substitutes: strings that this scanner sends in place of GS (0x1D), such as
    "<GS>" or "~"; each is replaced wherever it stands."""

    gs_substitutes: tuple[str, ...] = ()
