"""Every library that ships with the program is in README with its license, as the
library's own metadata has it."""

from __future__ import annotations

import re
import tomllib
from importlib.metadata import PackageNotFoundError, metadata
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).resolve().parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
EXTRAS = [
    line
    for name, lines in PROJECT["optional-dependencies"].items()
    if name not in ("dev", "train")
    for line in lines
]
LIBRARIES = sorted({re.split(r"[\[<>=]", line)[0] for line in [*PROJECT["dependencies"], *EXTRAS]})
ROWS = {
    library: row
    for row in (ROOT / "README.md").read_text(encoding="utf-8").splitlines()
    if row.startswith("|")
    for library in LIBRARIES
    if re.search(rf"(?<![\w-]){library}(?![\w-])", row.rpartition(" | ")[2])
}


@pytest.mark.parametrize("library", LIBRARIES)
def test_a_library_stands_with_its_license(library: str) -> None:
    assert library in ROWS
    try:
        found: Any = metadata(library)
    except PackageNotFoundError:
        pytest.skip(f"{library} is an extra that is not installed")
    texts = [
        found.get("License-Expression"),
        found.get("License"),
        *found.get_all("Classifier", []),
    ]
    said = " ".join(text for text in texts if text and ("License" in text or "::" not in text))
    kinds = ("LGPL", "MPL", "MIT", "BSD", "Apache")
    own = {kind for kind in kinds if kind in said.replace("Lesser General Public", "LGPL")}
    named = re.search(rf"{library} \((.*?)[;)]", ROWS[library])
    row = named.group(1) if named and "extras" in ROWS[library] else ROWS[library]
    assert not own or any(kind in row for kind in own), said[:200]
