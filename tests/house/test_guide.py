"""The guide for developers is short and names only what exists."""

from __future__ import annotations

import importlib
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
PROSE = re.sub(r"(?ms)^```.*?^```", "", GUIDE)
NAMES = sorted(set(re.findall(r"`([^`\n]+)`", PROSE)))
ROOMS = sorted(
    path.stem
    for path in (ROOT / "pairing").iterdir()
    if (path / "__init__.py").exists() or (path.suffix == ".py" and path.stem != "__init__")
)
VERBS = {"compact", "calc_check_digit", "validate", "is_valid", "format", "FAMILY"}
"""What each module of a number family has; held by tests/numbers."""
NOT_NAMES = {"code", "shared", "photos --json", "python -m pairing.demo sample_scans"}


def is_there(name: str) -> bool:
    """Whether a path lies in the repository or the library, or a dotted name can be imported."""
    if any((base / name).exists() for base in (ROOT, ROOT / "pairing")):
        return True
    parts = name.split(".")
    for length in range(len(parts), 0, -1):
        try:
            found = importlib.import_module(".".join(("pairing", *parts[:length])))
        except ModuleNotFoundError:
            continue
        for part in parts[length:]:
            found = getattr(found, part, None)  # type: ignore[assignment]
        return found is not None
    return False


def test_it_is_read_in_half_an_hour() -> None:
    assert len(GUIDE.split()) < 1_600


@pytest.mark.parametrize("name", [name for name in NAMES if name not in VERBS | NOT_NAMES])
def test_what_it_names_exists(name: str) -> None:
    assert is_there(name)


@pytest.mark.parametrize("room", ROOMS)
def test_every_room_is_in_it(room: str) -> None:
    assert re.search(rf"(?m)^\|[^|]*`{room}/?`[^|]*\|", GUIDE), room


def test_a_name_that_is_gone_is_missed() -> None:
    assert not is_there("photos.merging")
    assert not is_there("judge.verdict.nothing")
    assert not is_there("tests/nothing.py")
