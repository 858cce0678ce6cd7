"""Writes `pairing/blindspots/figures.py` from what the engine counts."""

from __future__ import annotations

import json
from pathlib import Path

from pairing.blindspots import BlindSpot
from pairing.model import Family
from pairing.numbers import MODULES
from tests.blindspots.engine.tables import counted

EXAMPLES = {("package", 22): "9400111201080805483016"}
"""Numbers to work the examples from, where the engine's own are of another family:
tracking_number_data, couriers/usps.json."""

FILE = Path(__file__).resolve().parents[3] / "pairing" / "blindspots" / "figures.py"

_HEAD = '''"""The counted shares, one table for each family and length. Written by
`python -m tests.blindspots.engine`; not to be edited by hand.

A row is code: (share, (valid number, altered number that passes) or None, remark).
"""

from __future__ import annotations

from dataclasses import dataclass

Row = tuple[str, tuple[str, str] | None, str]


@dataclass(frozen=True, slots=True)
class Figures:
    """group_digits: the size of the full printed groups, 0 where there are no two of a size."""

    group_digits: int
    rows: dict[str, Row]


# fmt: off
FIGURES: dict[tuple[str, int], Figures] = {
'''


def families() -> list[tuple[Family, int]]:
    """Every family with each of its lengths."""
    known = [module.FAMILY for module in MODULES.values()]
    return [(family, length) for family in known for length in family.lengths]


def group_digits(rows: tuple[BlindSpot, ...]) -> int:
    """The size of the full printed groups, as the row on them says."""
    full = next((row.title for row in rows if row.code == "groups-full"), "")
    return int("".join(filter(str.isdecimal, full)) or 0)


def main() -> None:
    """Count everything and write the file."""
    lines = []
    for family, length in families():
        rows = counted(family, length=length, example=EXAMPLES.get((family.name, length))).rows
        lines.append(f"    ({json.dumps(family.name)}, {length}): Figures({group_digits(rows)}, {{")
        for row in rows:
            shown = f'("{row.example[0]}", "{row.example[1]}")' if row.example else "None"
            why = json.dumps(row.why)
            lines.append(f'        "{row.code}": ("{row.share}", {shown}, {why}),')
        lines.append("    }),")
    FILE.write_text(_HEAD + "\n".join([*lines, "}"]) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
