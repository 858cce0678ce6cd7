"""Bars drawn as SVG, as a report holds them: words and figures beside each, no hues needed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from html import escape

_ROW_PX, _LABEL_PX, _BAR_PX, _FIGURE_PX = 22, 180, 190, 170


def bars(
    title: str, counts: Sequence[tuple[str, int]], *, is_unread: bool = False, most: int = 14
) -> str:
    """One bar a line, hatched for unread pieces; what lies beyond `most` lines is added up.
    "" where there is nothing."""
    if not counts:
        return ""
    shown = list(counts[:most])
    rest = sum(number for _, number in counts[most:])
    if rest:
        shown.append((f"{len(counts) - most} others", rest))
    top = max(number for _, number in shown) or 1
    rows = []
    for place, (name, number) in enumerate(shown):
        y = place * _ROW_PX
        rows.append(
            f"{_name(name, y)}"
            f'<rect class="{"u" if is_unread else "m"}" x="{_LABEL_PX}" y="{y + 4}" height="14" '
            f'width="{max(2.0, _BAR_PX * number / top):.1f}"/>'
            f'<text x="{_LABEL_PX + _BAR_PX * number / top + 6:.1f}" y="{y + 15}">{number:,}</text>'
        )
    return _figure(title, rows)


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
        ranked.sort(key=lambda item: -_share(item[1], "differs"))
    top = max((_share(one, "differs") + _share(one, "unread") for _, one in ranked), default=0) or 1
    rows = []
    for place, (name, counts) in enumerate(ranked[:most]):
        y = place * _ROW_PX
        differs, unread = (_BAR_PX * _share(counts, one) / top for one in ("differs", "unread"))
        figures = f"{counts.get('differs', 0):,} + {counts.get('unread', 0):,} of {_all(counts):,}"
        rows.append(
            f"{_name(name or 'not known', y)}"
            f'<rect class="m" x="{_LABEL_PX}" y="{y + 4}" height="14" width="{differs:.1f}"/>'
            f'<rect class="u" x="{_LABEL_PX + differs:.1f}" y="{y + 4}" height="14" '
            f'width="{unread:.1f}"/>'
            f'<text x="{_LABEL_PX + differs + unread + 6:.1f}" y="{y + 15}">{figures}</text>'
        )
    if len(ranked) > most:
        y = most * _ROW_PX
        rows.append(
            f'<text x="0" y="{y + 15}">{len(ranked) - most} more, with smaller shares</text>'
        )
    return _figure(title, rows)


def columns(title: str, counts: Mapping[int, int]) -> str:
    """An upright bar for each digit position from 1 on. "" where there is nothing."""
    if not counts:
        return ""
    last, top, high, step = max(22, *counts), max(counts.values()), 110, 22
    drawn = []
    for at in range(1, last + 1):
        number = counts.get(at, 0)
        x, tall = (at - 1) * step, high * number / top
        drawn.append(
            f'<rect class="m" x="{x + 3}" y="{high + 14 - tall:.1f}" width="16" '
            f'height="{tall:.1f}"/>'
            f'<text class="c" x="{x + 11}" y="{high + 28}">{at}</text>'
        )
        if number:
            drawn.append(f'<text class="c" x="{x + 11}" y="{high + 10 - tall:.1f}">{number}</text>')
    return (
        f'<figure><figcaption>{escape(title)}</figcaption><svg role="img" '
        f'viewBox="0 0 {last * step} {high + 34}" width="{last * step}">{"".join(drawn)}</svg>'
        "</figure>"
    )


def _name(name: str, y: int) -> str:
    cut = name if len(name) <= 26 else f"{name[:25]}…"
    return f'<text class="e" x="{_LABEL_PX - 8}" y="{y + 15}">{escape(cut)}</text>'


def _figure(title: str, rows: Sequence[str]) -> str:
    wide = _LABEL_PX + _BAR_PX + _FIGURE_PX
    return (
        f'<figure><figcaption>{escape(title)}</figcaption><svg role="img" viewBox="0 0 {wide} '
        f'{len(rows) * _ROW_PX + 4}" width="{wide}">{"".join(rows)}</svg></figure>'
    )


def _all(counts: Mapping[str, int]) -> int:
    return sum(counts.values())


def _share(counts: Mapping[str, int], verdict: str) -> float:
    return counts.get(verdict, 0) / max(1, _all(counts))
