"""Random layouts of cards: a size, cells, and what each cell is for."""

from __future__ import annotations

from dataclasses import dataclass, field

from pairing.training.finder.materials import Rng

Rect = tuple[float, float, float, float]
"""left, top, width, height, mm."""
ROLES = ("address", "print-address", "signature", "name", "date", "checks", "text", "empty",
         "postmark", "reference", "title")  # fmt: skip


@dataclass(slots=True)
class Layout:
    """size: mm. box: the number's, None where the card has none that fits. box_kind: frame, line,
    comb, free. bars: the card's own, upright where higher than wide; None for none."""

    size: tuple[float, float]
    style: str
    pen: float
    box: Rect | None = None
    box_kind: str = "frame"
    bars: Rect | None = None
    cells: list[tuple[Rect, str]] = field(default_factory=list)


def layout_of(rng: Rng) -> Layout:
    """A layout at random."""
    wide, high = float(rng.uniform(105, 186)), float(rng.uniform(72, 112))
    if rng.random() < 0.25:
        wide, high = float(rng.uniform(92, 118)), float(rng.uniform(120, 150))
    layout = Layout(
        size=(wide, high),
        style=str(rng.choice(["walls", "apart", "lines", "bare"], p=[0.42, 0.33, 0.15, 0.1])),
        pen=float(rng.choice([0.12, 0.2, 0.25, 0.3, 0.4, 0.55])),
    )
    edge = float(rng.uniform(0.0, 8.0))
    cells = _cells(rng, (edge, edge, wide - 2 * edge, high - 2 * edge))
    order = rng.permutation(len(cells)).tolist()
    for at in order:
        cell = cells[at]
        if layout.box is None and cell[2] >= 56 and 8 <= cell[3] <= 34:
            layout.box = _box_in(rng, cell, layout)
        elif layout.bars is None and rng.random() < 0.85 and _holds_bars(cell):
            layout.bars = _bars_in(rng, cell)
            if layout.style == "walls":
                layout.cells.append((cell, "empty"))
        else:
            layout.cells.append((cell, _role(rng, cell)))
    return layout


def _cells(rng: Rng, whole: Rect) -> list[Rect]:
    left, top, wide, high = whole
    columns = [wide]
    if wide > 110 and rng.random() < 0.85:
        share = float(rng.uniform(0.42, 0.62))
        columns = [wide * share, wide * (1 - share)]
        if wide > 165 and rng.random() < 0.2:
            columns = [wide * 0.2, wide * 0.45, wide * 0.35]
        rng.shuffle(columns)
    cells = []
    for column in columns:
        y, foot = top, top + high
        while foot - y > 7:
            tall = float(rng.choice([9, 11, 13, 15, 18, 22, 28, 34]) * rng.uniform(0.9, 1.1))
            if foot - y - tall < 8:
                tall = foot - y
            cells.append((left, y, column, tall))
            y += tall
        left += column
    return cells


def _holds_bars(cell: Rect) -> bool:
    return (cell[2] >= 48 and cell[3] >= 14) or (cell[2] >= 17 and cell[3] >= 46)


def _bars_in(rng: Rng, cell: Rect) -> Rect:
    left, top, wide, high = cell
    long, low = float(rng.uniform(40, 60)), float(rng.uniform(7, 13))
    if wide >= 48:
        long = min(long, wide - 5)
        low = min(low, high - 5)
        return (
            left + rng.uniform(0.1, 0.9) * (wide - long),
            top + rng.uniform(0.5, 1.5),
            long,
            low,
        )
    long = min(long, high - 3)
    low = min(low, wide - 6)
    return (left + 1.5, top + 1.5, low, long)


def _box_in(rng: Rng, cell: Rect, layout: Layout) -> Rect:
    left, top, wide, high = cell
    kinds = {"walls": (0.76, 0.0, 0.12, 0.12), "apart": (0.55, 0.15, 0.2, 0.1),
             "lines": (0.0, 0.7, 0.2, 0.1), "bare": (0.0, 0.2, 0.2, 0.6)}[layout.style]  # fmt: skip
    layout.box_kind = str(rng.choice(["frame", "line", "comb", "free"], p=kinds))
    if layout.style == "walls":
        if layout.box_kind == "frame":
            return cell
        layout.cells.append((cell, "empty"))
    inner_wide = min(wide - 4, float(rng.uniform(56, 100)))
    inner_high = min(high - 1, float(rng.uniform(7.5, 17)))
    if layout.box_kind == "comb":
        inner_wide, inner_high = (
            min(wide - 3, float(rng.uniform(70, 112))),
            min(high - 2, float(rng.uniform(5.5, 10))),
        )
    return (left + rng.uniform(0.1, 0.9) * (wide - inner_wide), top + rng.uniform(0.4, 1.0) * (high - inner_high),
            inner_wide, inner_high)  # fmt: skip


def _role(rng: Rng, cell: Rect) -> str:
    if cell[3] > 17 and rng.random() < 0.45:
        return str(rng.choice(["address", "print-address", "text", "checks", "postmark"]))
    return str(rng.choice(ROLES))
