"""What a digit is, is decided in one module: `str.isdigit` holds for a superscript two, of which
`int` makes an error (Python's documentation of both)."""

from __future__ import annotations

import ast

from tests.test_structure import SOURCES, parsed, relative

_ALLOWED_IN = {
    "pairing/numbers/text.py": "the module",
    "pairing/findings/wording/plurals.py": "knows no numbers; asks for ASCII first",
    "pairing/wedge/lines.py": "says that there are digits of other scripts",
}


def test_nobody_but_the_one_module_asks_python_for_digits() -> None:
    asking = [
        f"{relative(path)}:{node.lineno}"
        for path in SOURCES
        if relative(path) not in _ALLOWED_IN
        for node in ast.walk(parsed(path))
        if isinstance(node, ast.Attribute) and node.attr in ("isdigit", "isdecimal", "isnumeric")
    ]
    assert asking == []
