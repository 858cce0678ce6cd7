"""Bars as HTML tables: words and figures beside each, filled or hatched, no hues needed.

Tables and not drawings: they fit any width, keep the page's letter size, and are read aloud.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from pairing.audit.reports.page_parts import part
from pairing.model import Verdict

_DIFFERS, _UNREAD = Verdict.DIFFERS.value, Verdict.UNREAD.value
FILLS = {_DIFFERS: "m", _UNREAD: "u", "": "p"}
"""How a bar is filled: for what differs, hatched for what is unread, plain for the rest."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Bar:
    """share: of the cell that the bar fills. figure: beside it, in words."""

    name: str
    fill: str
    share: float
    figure: str


@dataclass(frozen=True, slots=True, kw_only=True)
class _Shares:
    """A group's two bars, as shares of the cell, and its figures in words."""

    name: str
    differs_bar: float
    unread_bar: float
    figures: tuple[str, ...]


def bars(title: str, counts: Sequence[tuple[str, int]], *, of: str = "", most: int = 14) -> Any:
    """One bar a line; of: the verdict that the pieces have, "" for any (`FILLS`). What lies
    beyond `most` lines is added up. "" where there is nothing."""
    if not counts:
        return ""
    shown = list(counts[:most])
    if rest := counts[most:]:
        shown.append((f"{len(rest):,} others", sum(number for _, number in rest)))
    top = max(number for _, number in shown) or 1
    rows = [
        _Bar(name=name, fill=FILLS[of], share=number / top, figure=f"{number:,}")
        for name, number in shown
    ]
    return part("bars", title, rows)


def chances(title: str, found: Sequence[tuple[float, float]]) -> Any:
    """One bar for each share, as long as its chance. "" where there is nothing."""
    if not found:
        return ""
    rows = [
        _Bar(name=f"{100 * share:g} %", fill=FILLS[""], share=chance, figure=_of_100(chance))
        for share, chance in found
    ]
    return part("bars", title, rows)


def _of_100(chance: float) -> str:
    """A chance in whole percent; no chance is shown as none that is one."""
    return "under 1 %" if 0 < chance < 0.01 else f"{100 * chance:.0f} %"


def shares(
    title: str,
    groups: Mapping[str, Mapping[str, int]],
    *,
    is_ranked: bool = True,
    most: int = 14,
) -> Any:
    """For each group the share that differs (filled) and the share unread (hatched), the worst
    first, or by name. "" where there is but one group."""
    if len(groups) < 2:
        return ""
    ranked = sorted(groups.items())
    if is_ranked or len(groups) > most:
        ranked.sort(key=lambda item: (-_share(item[1], _DIFFERS), -_share(item[1], _UNREAD)))
    top = max((_bad(one) / max(1, _all(one)) for _, one in ranked[:most]), default=0) or 1
    rows = [_shares_row(name, counts, top) for name, counts in ranked[:most]]
    return part("shares", title, rows, max(0, len(ranked) - most))


def columns(title: str, counts: Mapping[int, int]) -> Any:
    """An upright bar for each digit position from 1 on. "" where there is nothing."""
    if not counts:
        return ""
    top = max(counts.values())
    places = range(1, max(22, *counts) + 1)
    shown = [(at, counts.get(at, 0), 100 * counts.get(at, 0) / top) for at in places]
    return part("columns", title, shown)


def _shares_row(name: str, counts: Mapping[str, int], top: float) -> _Shares:
    figures = (
        f"{counts.get(_DIFFERS, 0):,}",
        f"{counts.get(_UNREAD, 0):,}",
        f"{_all(counts):,}",
        f"{100 * _bad(counts) / max(1, _all(counts)):.1f} %",
    )
    return _Shares(
        name=name,
        differs_bar=_share(counts, _DIFFERS) / top,
        unread_bar=_share(counts, _UNREAD) / top,
        figures=figures,
    )


def _all(counts: Mapping[str, int]) -> int:
    return sum(counts.values())


def _bad(counts: Mapping[str, int]) -> int:
    return counts.get(_DIFFERS, 0) + counts.get(_UNREAD, 0)


def _share(counts: Mapping[str, int], verdict: str) -> float:
    return counts.get(verdict, 0) / max(1, _all(counts))
