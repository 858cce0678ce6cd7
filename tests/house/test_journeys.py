"""The guide's three journeys are the ways that are really gone: each function that it names is
called on its journey, by the command that makes it.

Pieces: `sample_scans/manifest.csv`; the form of 0008's card is known, that of 0041's is not.
"""

from __future__ import annotations

import importlib
import re
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import CodeType, FrameType
from typing import Any

import pytest

from pairing.photos import pool
from tests.cli.calling import call

ROOT = Path(__file__).resolve().parents[2]
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
LABEL, CARD = "9589073361400182721644", "9590948231086155401651"
"""Numbers of the demo, invented."""


class InThisProcess:
    """A reader of photos that is no process of its own, so that its calls are seen."""

    def __init__(self, **_: object) -> None:
        pass

    def __enter__(self) -> InThisProcess:
        return self

    def __exit__(self, *_: object) -> None:
        pass

    def read(self, work: Callable[[Path], Any], path: Path, _: object = None) -> Any:
        return work(path)


def code_of(name: str) -> CodeType:
    """The code of a function, or of what makes a class's object."""
    parts = name.split(".")
    for length in range(len(parts) - 1, 0, -1):
        try:
            found: Any = importlib.import_module(".".join(("pairing", *parts[:length])))
        except ModuleNotFoundError:
            continue
        for part in parts[length:]:
            found = getattr(found, part)
        code: CodeType = (vars(found)["__init__"] if isinstance(found, type) else found).__code__
        return code
    raise AssertionError(name)


def named(journey: str) -> dict[CodeType, str]:
    """The functions that the guide names on that journey."""
    (told,) = re.findall(rf"(?s)\*\*{journey}\.\*\*(.*?)(?:\n\n|\Z)", GUIDE)
    names = [one for one in re.findall(r"`([^`]+)`", told) if " " not in one]
    assert len(names) > 4
    return {code_of(name): name for name in names}


@contextmanager
def watched(codes: dict[CodeType, str]) -> Iterator[set[str]]:
    """Which of these functions are called, in any thread."""
    called: set[str] = set()

    def look(frame: FrameType, event: str, _: object) -> None:
        if event == "call" and frame.f_code in codes:
            called.add(codes[frame.f_code])

    threading.setprofile(look)
    sys.setprofile(look)
    try:
        yield called
    finally:
        sys.setprofile(None)
        threading.setprofile(None)


def scan(tmp_path: Path, _: Path) -> None:
    lines = f"{LABEL}\n{CARD}\n/{LABEL}\n".encode()
    assert call("counter", "--ledger", tmp_path / "ledger.db", stdin=lines).code == 0


def photo(_: Path, photos: Path) -> None:
    assert call("photos", "--json", "-", *sorted(photos.iterdir())).code in (0, 10, 11)


def lot(tmp_path: Path, photos: Path) -> None:
    (photos / "0041-card.jpg").unlink()
    for more in ((), ("--unsorted",)):
        out = tmp_path / f"out{len(more)}"
        assert call("audit", photos, "--out", out, "--workers", "1", *more).code in (0, 10, 11)


@pytest.mark.parametrize(
    ("journey", "made"),
    [
        ("A scan to its entry", scan),
        ("A photo to its verdict", photo),
        ("A lot to its report", lot),
    ],
)
def test_every_function_of_a_journey_is_called_on_it(
    journey: str,
    made: Callable[[Path, Path], None],
    samples: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    photos = tmp_path / "photos"
    photos.mkdir()
    for name in ("0008-card.jpg", "0041-card.jpg", "0041-label.jpg"):
        (photos / name).write_bytes((samples / name).read_bytes())
    monkeypatch.setattr(pool, "PhotoWorker", InThisProcess)
    codes = named(journey)
    with watched(codes) as called:
        made(tmp_path, photos)
    assert called == set(codes.values())
