"""What the tables of tests/test_structure.py allow is still there: nothing is allowed in store."""

from __future__ import annotations

from tests import test_structure as house


def test_each_long_file_is_there_and_long() -> None:
    for name in house.LONG_FILES:
        text = (house.ROOT / name).read_text(encoding="utf-8")
        assert len(text.splitlines()) > house.LONGEST_FILE, name


def test_each_long_function_is_there() -> None:
    for name in house.LONG_FUNCTIONS:
        file, _, function = name.partition(":")
        assert f"def {function}(" in (house.ROOT / file).read_text(encoding="utf-8"), name
