"""The repository's top holds what DEVELOPERS.md says, and nothing that a command left there."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
HELD = {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml",
        "cli", "pairing", "sample_scans", "tests"}  # fmt: skip


def test_only_what_belongs_there_is_at_the_top() -> None:
    if shutil.which("git") is None or not (ROOT / ".git").exists():
        pytest.skip("needs git and the repository's history")
    told = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    if told.returncode:
        pytest.skip(f"git does not answer: {told.stderr.strip()}")
    top = {line.split("/")[0] for line in told.stdout.splitlines()}
    assert {name for name in top if not name.startswith(".")} == HELD
