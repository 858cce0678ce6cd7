"""Bars as HTML tables: words and figures beside each, filled or hatched, no hues needed.

Tables and not drawings: they fit any width, keep the page's letter size, and are read aloud.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from html import escape

from pairing.model import Verdict

_DIFFERS, _UNREAD = Verdict.DIFFERS.value, Verdict.UNREAD.value
_KEY = (
    '<p class="key"><i class="m"></i>differ <i class="u"></i>unread; the share is of both '
    "together</p>"
)
FILLS = {_DIFFERS: "m", _UNREAD: "u", "": "p"}
"""How a bar is filled: for what differs, hatched for what is unread, plain for the rest."""


def bars(title: str, counts: Sequence[tuple[str, int]], *, of: str = "", most: int = 14) -> str:
    """One bar a line; of: the verdict that the pieces have, "" for any (`FILLS`). What lies
    beyond `most` lines is added up. "" where there is nothing."""
    if not counts:
        return ""
    shown = list(counts[:most])
    if rest := counts[most:]:
        shown.append((f"{len(rest):,} others", sum(number for _, number in rest)))
    top = max(number for _, number in shown) or 1
    rows = (
        f'<tr><th scope="row">{escape(name)}</th>'
        f'<td class="bar">{_bar(FILLS[of], number / top)}</td><td class="num">{number:,}</td></tr>'
        for name, number in shown
    )
    return _figure(title, f"<table>{''.join(rows)}</table>")


def shares(
    title: str,
    groups: Mapping[str, Mapping[str, int]],
    *,
    is_ranked: bool = True,
    most: int = 14,
) -> str:
    """For each group the share that differs (filled) and the share unread (hatched), the worst
    first, or by name. "" where there is but one group."""
    if len(groups) < 2:
        return ""
    ranked = sorted(groups.items())
    if is_ranked or len(groups) > most:
        ranked.sort(key=lambda item: (-_share(item[1], _DIFFERS), -_share(item[1], _UNREAD)))
    top = max((_bad(one) / max(1, _all(one)) for _, one in ranked[:most]), default=0) or 1
    rows = [_shares_row(name, counts, top) for name, counts in ranked[:most]]
    more = len(ranked) - most
    rest = f'<p class="quiet">and {more:,} more, with smaller shares</p>' if more > 0 else ""
    head = (
        "<thead><tr><td></td><td></td><td>differ</td><td>unread</td><td>of</td><td>share</td></tr>"
        "</thead>"
    )
    return _figure(title, f"{_KEY}<table>{head}{''.join(rows)}</table>{rest}")


def columns(title: str, counts: Mapping[int, int]) -> str:
    """An upright bar for each digit position from 1 on. "" where there is nothing."""
    if not counts:
        return ""
    top = max(counts.values())
    drawn = []
    for at in range(1, max(22, *counts) + 1):
        number = counts.get(at, 0)
        drawn.append(
            f'<li title="digit {at}: {number:,}"><b>{f"{number:,}" if number else ""}</b>'
            f'<i class="m" style="height:{100 * number / top:.1f}px"></i><span>{at}</span></li>'
        )
    return _figure(title, f'<ol class="cols">{"".join(drawn)}</ol>')


def _shares_row(name: str, counts: Mapping[str, int], top: float) -> str:
    differs, unread = counts.get(_DIFFERS, 0), counts.get(_UNREAD, 0)
    drawn = "".join(
        _bar(FILLS[verdict], _share(counts, verdict) / top) for verdict in (_DIFFERS, _UNREAD)
    )
    figures = "".join(
        f'<td class="num">{text}</td>'
        for text in (
            f"{differs:,}",
            f"{unread:,}",
            f"{_all(counts):,}",
            f"{100 * _bad(counts) / max(1, _all(counts)):.1f} %",
        )
    )
    shown = escape(name or "not known")
    return f'<tr><th scope="row">{shown}</th><td class="bar">{drawn}</td>{figures}</tr>'


def _bar(fill: str, share: float) -> str:
    """A bar as long as the share of its cell; nothing for nothing."""
    return f'<i class="{fill}" style="width:{100 * share:.1f}%"></i>' if share else ""


def _figure(title: str, inside: str) -> str:
    return f"<figure><figcaption>{escape(title)}</figcaption>{inside}</figure>"


def _all(counts: Mapping[str, int]) -> int:
    return sum(counts.values())


def _bad(counts: Mapping[str, int]) -> int:
    return counts.get(_DIFFERS, 0) + counts.get(_UNREAD, 0)


def _share(counts: Mapping[str, int], verdict: str) -> float:
    return counts.get(verdict, 0) / max(1, _all(counts))
