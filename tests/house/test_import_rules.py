"""The import rules catch what they forbid: a forbidden import is planted in a copy.

The order of the rooms is read from pyproject.toml; what breaks it is found by import-linter.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tomllib
from itertools import combinations, permutations
from pathlib import Path
from typing import NamedTuple

import pytest

ROOT = Path(__file__).resolve().parents[2]
RULES = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["importlinter"]
CONTRACTS = {contract["type"]: contract for contract in reversed(RULES["contracts"])}
LAYERS = [
    tuple(part.strip() for part in layer.split("|")) for layer in CONTRACTS["layers"]["layers"]
]
"""The rooms, outermost first; those in one tuple may not import each other."""
PURE = next(c for c in RULES["contracts"] if "pure" in c["name"])


class Planted(NamedTuple):
    """One import that must be caught."""

    room: str
    imports: str


def outward() -> list[Planted]:
    """Each room importing each one that lies further out."""
    return [
        Planted(room, outer)
        for outers, inners in combinations(LAYERS, 2)
        for room in inners
        for outer in outers
    ]


def sideways() -> list[Planted]:
    """Each room importing each of its siblings."""
    return [Planted(*pair) for layer in LAYERS for pair in permutations(layer, 2)]


def within() -> list[Planted]:
    """The same inside the rooms that have an order of their own."""
    found = []
    for contract in RULES["contracts"]:
        for container in contract.get("containers", ()):
            names = [f"{container}.{name}" for name in contract["layers"]]
            found += [Planted(inner, outer) for outer, inner in combinations(names, 2)]
    return found


def foreign() -> list[Planted]:
    """What the library may not know, and what its pure rooms may not."""
    library = [Planted("pairing", name) for name in ("click", "counterfoil", "tqdm")]
    system = ("os", "time", "pathlib", "random", "cv2", "numpy", "sqlite3")
    return library + [Planted(room, name) for room in PURE["source_modules"] for name in system]


def plant(copy: Path, one: Planted, number: int) -> str:
    """Write the import into the copy; the name of the module that has it now."""
    folder = copy / ("cli" if one.room.startswith("counterfoil") else "")
    place = folder.joinpath(*one.room.split("."))
    if place.is_dir():
        module = f"{one.room}.planted_{number}"
        (place / f"planted_{number}.py").write_text(f"import {one.imports}\n", encoding="utf-8")
        return module
    with place.with_suffix(".py").open("a", encoding="utf-8") as file:
        file.write(f"\nimport {one.imports}\n")
    return one.room


def findings(copy: Path) -> tuple[int, str]:
    """import-linter's exit status and what it says of a copy."""
    script = "from importlinter.cli import lint_imports; import sys; sys.exit(lint_imports())"
    done = subprocess.run(
        [sys.executable, "-c", script],
        cwd=copy,
        env={**os.environ, "PYTHONPATH": os.pathsep.join((str(copy), str(copy / "cli")))},
        capture_output=True,
        text=True,
        check=False,
    )
    return done.returncode, done.stdout + done.stderr


@pytest.fixture
def copy(tmp_path: Path) -> Path:
    """The sources and their rules, to be spoiled."""
    for name in ("pairing", "cli"):
        skipped = shutil.ignore_patterns("__pycache__", "*.ttf", "*.onnx")
        shutil.copytree(ROOT / name, tmp_path / name, ignore=skipped)
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    return tmp_path


def test_every_room_has_its_place_in_the_order() -> None:
    rooms = {
        f"pairing.{path.stem}"
        for path in (ROOT / "pairing").iterdir()
        if (path.is_dir() and (path / "__init__.py").exists())
        or (path.suffix == ".py" and path.stem != "__init__")
    }
    assert {room for layer in LAYERS for room in layer} == rooms | {"counterfoil"}


def test_nothing_planted_nothing_found(copy: Path) -> None:
    status, said = findings(copy)
    assert status == 0, said


@pytest.mark.parametrize(
    "kind", [outward, sideways, within, foreign], ids=lambda kind: kind.__name__
)
def test_each_forbidden_import_is_caught(copy: Path, kind) -> None:  # type: ignore[no-untyped-def]
    planted = kind()
    assert planted
    modules = [plant(copy, one, number) for number, one in enumerate(planted)]
    status, said = findings(copy)
    assert status != 0
    missed = [
        one
        for one, module in zip(planted, modules, strict=True)
        if f"{module} -> {one.imports} " not in said
    ]
    assert not missed
