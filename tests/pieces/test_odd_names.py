"""A file name that is no UTF-8 costs nothing (POSIX: a name is any bytes but / and NUL)."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


def test_pictures_of_photos_whose_names_are_no_utf_8(samples: Path, tmp_path: Path) -> None:
    """In a process of its own, since it was once killed by its drawing library."""
    for side in ("label", "card"):
        odd = os.fsencode(tmp_path) + b"/00\xff16-" + side.encode() + b".jpg"
        try:
            shutil.copy(os.fsencode(samples / f"0016-{side}.jpg"), odd)
        except OSError:
            pytest.skip("this file system takes no such name")
    script = "from counterfoil.main import main; main()"
    done = subprocess.run(
        [sys.executable, "-c", script, "photos", tmp_path, "--pictures", tmp_path / "out"],
        env={**os.environ, "PYTHONPATH": os.pathsep.join((str(ROOT), str(ROOT / "cli")))},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 10, done.stderr
    assert "Do not seal" in done.stdout
    assert len(list((tmp_path / "out").glob("*box*.png"))) >= 1
