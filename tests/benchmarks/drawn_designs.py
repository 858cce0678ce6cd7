"""Designs drawn by parameters: ruled forms, cells wall to wall or apart, one or two columns.

A seed is a design. `TUNED` seeds may be looked at while the program is worked on; `KEPT` are for
measuring once. All of it is invented; sizes in mm.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from tests.benchmarks.designs import (
    DARK_GREEN,
    ENGLISH,
    FRENCH,
    GERMAN,
    GRAY,
    GREEN,
    INK_BLACK,
    ITALIAN,
    NAVY,
    ORANGE,
    PINK,
    RED,
    WHITE,
    YELLOW,
    Design,
    Rect,
)

TUNED, KEPT = range(0, 400), range(1000, 1400)
_STOCKS = (GREEN, YELLOW, PINK, ORANGE, WHITE, (236, 226, 210))
_INKS = (DARK_GREEN, RED, NAVY, INK_BLACK, GRAY, INK_BLACK)
_WORDS = (ENGLISH, FRENCH, GERMAN, ITALIAN)
_KINDS, _SHARES = ("frame", "line", "comb", "free"), (0.7, 0.12, 0.08, 0.1)
_BARS, _BARS_SHARES = ("column", "beside", "upright", "none"), (0.68, 0.14, 0.1, 0.08)
_EDGE, _TOP = 4.0, 13.0
_UPRIGHT_LONG = 55.1
"""Bars that stand upright, at their longest: a lower card cut them off."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Plan:
    """What was chosen of a design. own, beside: widths of the box's column and of the other, 0 for
    none. left, other: where they begin."""

    kind: str
    bars: str
    is_walled: bool
    gap: float
    own: float
    beside: float
    strip: float
    is_mirrored: bool
    is_inside: bool
    has_footer: bool

    @property
    def is_portrait(self) -> bool:
        return self.beside == 0.0

    @property
    def left(self) -> float:
        return _EDGE + self.strip + (self.beside + self.gap if self.is_mirrored else 0.0)

    @property
    def other(self) -> float:
        return _EDGE + self.strip + (0.0 if self.is_mirrored else self.own + self.gap)


def _planned(rng: np.random.Generator) -> _Plan:
    kind = str(rng.choice(_KINDS, p=_SHARES))
    bars = str(rng.choice(_BARS, p=_BARS_SHARES))
    is_portrait = bars in ("column", "none") and rng.random() < 0.2
    is_walled = kind == "frame" and bool(rng.random() < 0.65)
    gap = 0.0 if is_walled else float(rng.uniform(4.5, 7.0))
    own = 100.0 if kind == "comb" else float(rng.uniform(68.0, 88.0))
    beside = 0.0 if is_portrait else float(rng.uniform(62.0, 76.0))
    is_mirrored = bool(rng.random() < 0.35)
    is_inside = kind == "frame" and bool(rng.random() < 0.7)
    return _Plan(
        kind=kind, bars=bars, is_walled=is_walled, gap=gap, own=own, beside=beside,
        strip=18.0 if bars == "upright" else 0.0, is_mirrored=is_mirrored and not is_portrait,
        is_inside=is_inside, has_footer=is_inside and bool(rng.random() < 0.5),
    )  # fmt: skip


def _placed(plan: _Plan, rng: np.random.Generator) -> tuple[dict[str, Rect], float, float]:
    """The cells, where the box's column ends, and where the card does."""
    tall = {"comb": rng.uniform(7.5, 9.0), "line": rng.uniform(9.5, 12.0)}.get(
        plan.kind, rng.uniform(9.0, 13.0) + 4.2 * plan.is_inside + 3.6 * plan.has_footer
    )
    parts = [("address", float(rng.uniform(23.0, 30.0))), ("box", float(tall))]
    if plan.bars == "column":
        parts.insert(int(rng.integers(0, 3)), ("bars", float(rng.uniform(19.0, 23.0))))
    if rng.random() < 0.4:
        at = int(rng.integers(0, len(parts) + 1))
        parts.insert(at, ("name", float(rng.uniform(11.0, 15.0))))
    rects, foot = _stacked(parts, plan.left, plan.own, plan.gap)
    second = [("bars", 22.0)] if plan.bars == "beside" else []
    second += [("signature", float(rng.uniform(15.0, 22.0)))]
    second += [("date", float(rng.uniform(11.0, 15.0)))]
    second += [("checks", 24.0)] if rng.random() < 0.6 and not plan.is_portrait else []
    if plan.is_portrait:
        others, end = _stacked(second, plan.left, plan.own, plan.gap, foot + plan.gap)
    else:
        others, end = _stacked(second, plan.other, plan.beside, plan.gap)
    low = _TOP + _UPRIGHT_LONG if plan.bars == "upright" else 0.0
    return {**rects, **others}, foot, max(foot, end, low) + _EDGE


def drawn(seed: int) -> Design:
    """The design of that seed."""
    rng = np.random.default_rng([seed, 91])
    plan = _planned(rng)
    places, foot, high = _placed(plan, rng)
    hidden = {"box"} if plan.is_walled else {"box", "bars", "checks"}
    wide = plan.strip + plan.own + 2 * _EDGE + (plan.beside + plan.gap if plan.beside else 0.0)
    checks = places.get("checks")
    return Design(
        name=f"drawn-{seed}",
        size=(round(wide, 1), round(high, 1)),
        stock=_STOCKS[int(rng.integers(len(_STOCKS)))],
        ink=_INKS[int(rng.integers(len(_INKS)))],
        words=_WORDS[int(rng.integers(len(_WORDS)))],
        box=places["box"],
        box_kind=plan.kind,
        bars=_bars(plan.bars, places, foot, rng),
        caption="inside" if plan.is_inside else "above",
        has_footer=plan.has_footer,
        fields=tuple(
            (place, "" if key in ("bars", "checks") else key)
            for key, place in places.items() if key not in hidden
        ),
        checks=None if checks is None else (checks[0] + 3.0, checks[1] + 4.0),
        title=(_EDGE + plan.strip, 9.0, bool(rng.random() < 0.3)),
        rule_mm=float(rng.choice((0.2, 0.25, 0.3, 0.4))),
        is_stamped=bool(rng.random() < 0.25),
        address=(places["address"][0] + 5.0, places["address"][1] + 9.0),
    )  # fmt: skip


def _stacked(
    parts: list[tuple[str, float]], left: float, wide: float, gap: float, top: float = _TOP
) -> tuple[dict[str, Rect], float]:
    """One above the other, and where the last one ends."""
    places: dict[str, Rect] = {}
    for key, tall in parts:
        places[key] = (round(left, 1), round(top, 1), round(wide, 1), round(tall, 1))
        top += tall + gap
    return places, top - gap


def _bars(
    where: str, places: dict[str, Rect], foot: float, rng: np.random.Generator
) -> tuple[float, float, int, float, float] | None:
    """left, top, degrees, narrow bar and height of the card's own bars."""
    if where == "none":
        return None
    module, tall = float(rng.uniform(0.3, 0.34)), float(rng.uniform(9.0, 12.0))
    if where == "upright":
        return _EDGE, max(_TOP, foot - 60.0), 90, module, tall
    left, top, wide, high = places["bars"]
    long = 156 * module + 2
    return left + 0.5 * (wide - long), top + 0.4 * (high - tall - 4.5), 0, module, tall
