"""The repository keeps its shape: import rules, no printing in the library, short files and
functions, one meaning for each file name. (tests/house holds the slower checks.)"""

from __future__ import annotations

import ast
import os
import subprocess
import sys
from collections import defaultdict
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
SOURCES = sorted([*(ROOT / "pairing").rglob("*.py"), *(ROOT / "cli").rglob("*.py")])
WITH_TESTS = sorted([*SOURCES, *(ROOT / "tests").rglob("*.py")])

LONGEST_FILE = 300
LONGEST_FUNCTION = 40

LONG_FILES = {
    "pairing/demo/pieces.py": "a table: 55 pieces, a dozen lines each",
    "pairing/desk/in_hand.py": "what becomes of a scan, told in one place",
    "pairing/desk/session.py": "an entry's way from the line to the answer",
    "pairing/findings/codes.py": "one enumeration, a line for each code",
    "pairing/ledger/writer.py": "the append path: all that is in one transaction",
    "pairing/photos/code128/fitting.py": "one search told in order",
    "pairing/training/finder/altering.py": "one function for each way to alter a number",
    "pairing/training/finder/filling.py": "one function for each thing on a card",
    "tests/audit/test_lot.py": "a lot's run from start to end, kill by kill",
    "tests/audit/test_outcome.py": "every part of the outcome's files",
    "tests/audit/test_results.py": "the results on a server, with the servers they need",
    "tests/benchmarks/audit.py": "one benchmark with nine parts, run by hand",
    "tests/cli/test_commands.py": "one check after another for each command",
    "tests/cli/test_counter.py": "the counter's day at a terminal",
    "tests/cli/test_desk_commands.py": "one check after another for each of the desk's commands",
    "tests/cli/test_ledger_commands.py": "one check after another for the ledger's commands",
    "tests/desk/doors.py": "every door, driven alike",
    "tests/faults/kills.py": "one check for each command that writes",
    "tests/desk/test_counter.py": "one check for each rule of the counter",
    "tests/desk/test_returns.py": "one check for each rule of returned cards",
    "tests/desk/test_when_it_goes_wrong.py": "one slip at the counter after another",
    "tests/judge/test_verdict.py": "one check for each condition of a verdict",
    "tests/kiosk/test_page.py": "the page in a browser, one story after another",
}
"""Files over 300 lines, each with its reason."""

LONG_FUNCTIONS = {
    "tests/faults/kills.py:cases": "one table",
    "pairing/audit/matching/assignment.py:_margins": "one algorithm, its steps share six arrays",
    "pairing/audit/reports/crops.py:level": "one geometry, told in order",
    "pairing/audit/reports/page.py:write": "the page's parts in their order",
    "pairing/judge/box/rule.py:decide": "the rule, one condition after another",
    "pairing/judge/box/weighing.py:weigh": "the rule, one condition after another",
    "pairing/judge/verdict.py:judge": "the rule, one condition after another",
    "pairing/kiosk/operators.py:routes": "one inner function for each route",
    "pairing/kiosk/stations.py:routes": "one inner function for each route",
    "pairing/photos/barcodes/rectify.py:cut_strip": "half of it says what its arguments are",
    "pairing/training/finder/filling.py:_cell": "one cell, by its style",
    "pairing/training/finder/filling.py:_contents": "a table: one entry for each field's use",
    "pairing/training/finder/filling.py:_own": "one piece of print from its bars to its place",
    "pairing/training/finder/teaching.py:teach": "one run, told in order",
    "pairing/training/pens.py:_drawn": "one stroke from its first point to its ink",
    "pairing/training/spoiling.py:_strokes": "a table: one entry for each way to spoil a digit",
    "pairing/training/writing.py:_places": "one line of writing, laid from left to right",
    "tests/audit/making.py:row": "a row with every field filled in",
    "tests/cli/test_ledger_commands.py:"
    "test_whatever_somebody_signs_with_a_key_of_their_own_is_said_or_shown": "one story",
}
"""Functions over 40 lines, each with its reason. A command's own function is exempt: its lines
are its options."""


@cache
def parsed(path: Path) -> ast.Module:
    """A file's syntax tree, read once."""
    return ast.parse(path.read_text(encoding="utf-8"))


def relative(path: Path) -> str:
    """The path as it is in the tables."""
    return path.relative_to(ROOT).as_posix()


def is_command(path: Path) -> bool:
    """Whether a file holds a command of the command line."""
    return "commands" in path.relative_to(ROOT).parts


def test_imports_keep_to_their_order() -> None:
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


def test_the_library_does_not_print() -> None:
    library = [path for path in SOURCES if path.is_relative_to(ROOT / "pairing")]
    calls = [
        (relative(path), node.lineno)
        for path in library
        if path.name != "__main__.py"
        for node in ast.walk(parsed(path))
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Name)
        and node.func.id in ("print", "input")
    ]
    assert calls == []


def test_files_stay_short() -> None:
    lines = {
        relative(path): len(path.read_text(encoding="utf-8").splitlines()) for path in WITH_TESTS
    }
    too_long = {name: n for name, n in lines.items() if n > LONGEST_FILE and name not in LONG_FILES}
    assert too_long == {}


def test_functions_stay_short() -> None:
    lines = [
        (f"{relative(path)}:{node.name}", (node.end_lineno or node.lineno) - node.lineno + 1)
        for path in WITH_TESTS
        if not is_command(path)
        for node in ast.walk(parsed(path))
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
    ]
    too_long = [one for one in lines if one[1] > LONGEST_FUNCTION and one[0] not in LONG_FUNCTIONS]
    assert too_long == []


def test_a_file_name_is_used_in_one_room() -> None:
    """A command's file is exempt: it is named for what is typed."""
    rooms = defaultdict(list)
    for path in SOURCES:
        if path.name not in ("__init__.py", "__main__.py") and not is_command(path):
            rooms[path.name].append(relative(path))
    assert {name: paths for name, paths in rooms.items() if len(paths) > 1} == {}


def test_every_module_and_public_name_says_what_it_is() -> None:
    verbs = {"compact", "is_valid"}  # the five verbs mean the same in every number module
    silent = [relative(path) for path in SOURCES if not ast.get_docstring(parsed(path))]
    silent += [
        f"{relative(path)}:{node.name}"
        for path in SOURCES
        for node in parsed(path).body
        if isinstance(node, ast.FunctionDef | ast.ClassDef)
        and not node.name.startswith("_")
        and node.name not in verbs
        and not ast.get_docstring(node)
    ]
    assert silent == []
