"""Advisories are held against the locked versions (OSV schema: `affected`, `ranges`, `versions`,
"Evaluation"). The advisories are invented."""

from __future__ import annotations

import importlib.util
import json
import re
import zipfile
from pathlib import Path
from typing import Any

import pytest
from packaging.version import Version

ROOT = Path(__file__).resolve().parents[2]
_SPEC = importlib.util.spec_from_file_location("advisories", ROOT / ".ci/advisories.py")
assert _SPEC is not None
assert _SPEC.loader is not None
advisories = importlib.util.module_from_spec(_SPEC)
_SPEC.loader.exec_module(advisories)

PINNED = {"some-library": [Version("0.1"), Version("1.10.0")], "other": [Version("2.0")]}


def record(*events: dict[str, str], name: str = "Some_Library", **more: Any) -> dict[str, Any]:
    """An advisory of one package and one range."""
    one = {
        "package": {"ecosystem": "PyPI", "name": name},
        "ranges": [{"type": "ECOSYSTEM", "events": list(events)}] if events else [],
        "versions": more.pop("versions", []),
    }
    about = {"id": "X-1", "summary": "invented", "modified": "2026-11-01T00:00:00Z"}
    return {**about, "affected": [one], **more}


@pytest.mark.parametrize(
    ("found", "is_so"),
    [
        (record({"introduced": "0"}), True),
        (record({"introduced": "0"}, {"fixed": "1.9"}), False),
        (record({"introduced": "0"}, {"fixed": "1.10.0"}), False),
        (record({"introduced": "0"}, {"fixed": "1.10.1"}), True),
        (record({"fixed": "1.10.1"}, {"introduced": "0"}), True),
        (record({"introduced": "1.10.1"}), False),
        (record({"introduced": "1.10"}), True),
        (record({"introduced": "0"}, {"last_affected": "1.10"}), True),
        (record({"introduced": "0"}, {"last_affected": "1.9.9"}), False),
        (record({"introduced": "0"}, {"fixed": "1.2"}, {"introduced": "1.9"}), True),
        (record(versions=["1.10", "1.8"]), True),
        (record(versions=["1.1", "no version"]), False),
        (record({"introduced": "0"}, withdrawn="2026-11-02T00:00:00Z"), False),
        (record({"introduced": "0"}, name="absent"), False),
    ],
)
def test_what_an_advisory_names(found: dict[str, Any], is_so: bool) -> None:
    said = list(advisories.affected(found, PINNED))
    assert ("some-library 1.10.0: X-1 invented" in said) is is_so
    assert len(set(said)) == len(said)


def test_of_several_locked_versions_each_is_looked_at() -> None:
    found = record({"introduced": "0"}, {"fixed": "1"})
    assert list(advisories.affected(found, PINNED)) == ["some-library 0.1: X-1 invented"]


def test_packages_of_other_places_are_others() -> None:
    found = record({"introduced": "0"})
    found["affected"][0]["package"]["ecosystem"] = "npm"
    assert not list(advisories.affected(found, PINNED))


def test_every_version_of_the_lock_is_held_against_them() -> None:
    lock = (ROOT / ".ci/lock.txt").read_text()
    found = [version for versions in advisories.locked().values() for version in versions]
    assert len(found) == len(re.findall(r"(?m)^[\w.-]+(?:\[\w+\])?==", lock))
    assert {"pillow", "numpy"} <= set(advisories.locked())


def written(place: Path, kind: str, content: dict[str, Any]) -> Path:
    """An export of one advisory."""
    if kind == "zip":
        with zipfile.ZipFile(place / "all.zip", "w") as export:
            export.writestr("X-1.json", json.dumps(content))
        return place / "all.zip"
    (place / "X-1.json").write_text(json.dumps(content))
    return place / "X-1.json" if kind == "file" else place


@pytest.mark.parametrize("kind", ["zip", "file", "folder"])
def test_a_file_that_is_given_is_read(
    tmp_path: Path, kind: str, capsys: pytest.CaptureFixture[str]
) -> None:
    pillow = record({"introduced": "0"}, name="Pillow")
    assert advisories.main([str(written(tmp_path, kind, pillow))]) == 1
    said = capsys.readouterr().out
    assert "pillow" in said
    assert "X-1 invented" in said
    assert "the newest of 2026-11-01" in said
    fixed = record({"introduced": "0"}, {"fixed": "1"}, name="Pillow")
    assert advisories.main([str(written(tmp_path, kind, fixed))]) == 0


def test_data_that_cannot_be_had_is_not_taken_for_none(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.delenv("ADVISORIES", raising=False)
    (tmp_path / "all.zip").write_bytes(b"no zip")
    assert advisories.main([str(tmp_path / "all.zip")]) == 2
    assert advisories.main([str(tmp_path / "gone.zip")]) == 2
    (tmp_path / "empty").mkdir()
    assert advisories.main([str(tmp_path / "empty")]) == 2
    # A machine without a network: said, and no failure.
    assert advisories.main([], export=(tmp_path / "gone.zip").as_uri()) == 0
    assert capsys.readouterr().out.count("not checked") == 4
    monkeypatch.setenv("ADVISORIES", str(tmp_path / "all.zip"))
    assert advisories.main([]) == 2


def test_what_must_hold_before_a_change_lands_asks_for_them() -> None:
    assert '"$bin/python" .ci/advisories.py' in (ROOT / ".ci/run").read_text().splitlines()
