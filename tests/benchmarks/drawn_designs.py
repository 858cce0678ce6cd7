"""Designs drawn by parameters: ruled forms, cells wall to wall or apart, one or two columns.

A seed is a design. `TUNED` seeds may be looked at while the program is worked on; `KEPT` are for
measuring once. All of it is invented; sizes in mm.
"""

from __future__ import annotations

import numpy as np

from tests.benchmarks.designs import (
    DARK_GREEN,
    ENGLISH,
    FRENCH,
    GERMAN,
    GREEN,
    GREY,
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

TUNED, KEPT = range(0, 400), range(1000, 1100)
_STOCKS = (GREEN, YELLOW, PINK, ORANGE, WHITE, (236, 226, 210))
_INKS = (DARK_GREEN, RED, NAVY, INK_BLACK, GREY, INK_BLACK)
_WORDS = (ENGLISH, FRENCH, GERMAN, ITALIAN)
_KINDS, _SHARES = ("frame", "line", "comb", "free"), (0.7, 0.12, 0.08, 0.1)
_BARS, _BARS_SHARES = ("column", "beside", "upright", "none"), (0.68, 0.14, 0.1, 0.08)
_EDGE = 4.0


def drawn(seed: int) -> Design:
    """The design of that seed."""
    rng = np.random.default_rng([seed, 91])
    kind = str(rng.choice(_KINDS, p=_SHARES))
    bars = str(rng.choice(_BARS, p=_BARS_SHARES))
    is_portrait = bars in ("column", "none") and rng.random() < 0.2
    is_walled = kind == "frame" and bool(rng.random() < 0.65)
    gap = 0.0 if is_walled else float(rng.uniform(4.5, 7.0))
    own = 100.0 if kind == "comb" else float(rng.uniform(68.0, 88.0))
    beside = 0.0 if is_portrait else float(rng.uniform(62.0, 76.0))
    strip = 18.0 if bars == "upright" else 0.0
    is_mirrored = bool(rng.random() < 0.35)
    left = _EDGE + strip + (beside + gap if is_mirrored else 0.0)
    other = _EDGE + strip + (0.0 if is_mirrored else own + gap)
    is_inside = kind == "frame" and bool(rng.random() < 0.7)
    has_footer = is_inside and bool(rng.random() < 0.5)
    tall = {"comb": rng.uniform(7.5, 9.0), "line": rng.uniform(9.5, 12.0)}.get(
        kind, rng.uniform(9.0, 13.0) + 4.2 * is_inside + 3.6 * has_footer
    )
    parts = [("address", float(rng.uniform(23.0, 30.0))), ("box", float(tall))]
    if bars == "column":
        parts.insert(int(rng.integers(0, len(parts) + 1)), ("bars", float(rng.uniform(19.0, 23.0))))
    if rng.random() < 0.4:
        parts.insert(int(rng.integers(0, len(parts) + 1)), ("name", float(rng.uniform(11.0, 15.0))))
    rects, foot = _stacked(parts, left, own, gap)
    second = [("bars", 22.0)] if bars == "beside" else []
    second += [
        ("signature", float(rng.uniform(15.0, 22.0))),
        ("date", float(rng.uniform(11.0, 15.0))),
    ]
    second += [("checks", 24.0)] if rng.random() < 0.6 and not is_portrait else []
    beside_rects, other_foot = _stacked(
        second, left if is_portrait else other, own if is_portrait else beside, gap,
        foot + gap if is_portrait else 13.0,
    )  # fmt: skip
    high = max(foot, other_foot) + _EDGE
    places = {**rects, **beside_rects}
    fields = tuple(
        (place, "" if key in ("bars", "checks") else key)
        for key, place in places.items()
        if key != "box" and not (key in ("bars", "checks") and not is_walled)
    )
    at = places.get("checks")
    checks = None if at is None else (at[0] + 3.0, at[1] + 4.0)
    return Design(
        name=f"drawn-{seed}",
        size=(round(left + own + _EDGE + (0 if is_mirrored or is_portrait else beside + gap), 1),
              round(high, 1)),
        stock=_STOCKS[int(rng.integers(len(_STOCKS)))],
        ink=_INKS[int(rng.integers(len(_INKS)))],
        words=_WORDS[int(rng.integers(len(_WORDS)))],
        box=places["box"],
        box_kind=kind,
        bars=_bars(bars, places, foot, rng),
        caption="inside" if is_inside else "above",
        has_footer=has_footer,
        fields=fields,
        checks=checks,
        title=(_EDGE + strip, 9.0, bool(rng.random() < 0.3)),
        rule_mm=float(rng.choice((0.2, 0.25, 0.3, 0.4))),
        is_stamped=bool(rng.random() < 0.25),
        address=(places["address"][0] + 5.0, places["address"][1] + 9.0),
    )  # fmt: skip


def _stacked(
    parts: list[tuple[str, float]], left: float, wide: float, gap: float, top: float = 13.0
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
        return _EDGE, max(13.0, foot - 60.0), 90, module, tall
    left, top, wide, high = places["bars"]
    long = 156 * module + 2
    return left + 0.5 * (wide - long), top + 0.4 * (high - tall - 4.5), 0, module, tall
