"""The house keeps its shape: rings, no printing in the library, short files."""

from __future__ import annotations

import ast
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
SOURCES = sorted([*(ROOT / "pairing").rglob("*.py"), *(ROOT / "cli").rglob("*.py")])

LONG_FOR_A_REASON = {
    "pairing/demo/pieces.py": "a table: 36 pieces, a dozen lines each",
    "pairing/photos/code128/fit.py": "one search told in order",
}
"""Files over 300 lines, each with its reason."""


def test_imports_keep_to_their_rings() -> None:
    script = "from importlinter.cli import lint_imports; import sys; sys.exit(lint_imports())"
    done = subprocess.run(
        [sys.executable, "-c", script],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": os.pathsep.join((str(ROOT), str(ROOT / "cli")))},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert "0 broken" in done.stdout


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: str(path.relative_to(ROOT)))
def test_the_library_does_not_print(path: Path) -> None:
    if path.name == "__main__.py" or "cli" in path.relative_to(ROOT).parts:
        return
    calls = [node for node in ast.walk(ast.parse(path.read_text())) if isinstance(node, ast.Call)]
    names = [call.func.id for call in calls if isinstance(call.func, ast.Name)]
    assert "print" not in names
    assert "input" not in names


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: str(path.relative_to(ROOT)))
def test_files_stay_short(path: Path) -> None:
    name = str(path.relative_to(ROOT))
    lines = len(path.read_text().splitlines())
    assert lines <= 300 or name in LONG_FOR_A_REASON


@pytest.mark.parametrize("path", SOURCES, ids=lambda path: str(path.relative_to(ROOT)))
def test_every_module_and_public_name_says_what_it_is(path: Path) -> None:
    tree = ast.parse(path.read_text())
    assert ast.get_docstring(tree), "module docstring"
    verbs = {"compact", "is_valid"}  # the five verbs mean the same in every number module
    for node in tree.body:
        public = isinstance(node, ast.FunctionDef | ast.ClassDef) and node.name[0] != "_"
        if public and node.name not in verbs:
            assert ast.get_docstring(node), node.name
