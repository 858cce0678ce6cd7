"""Known advisories for the locked versions: `python .ci/advisories.py [DATA]`.

DATA is OSV's export for PyPI (a zip, a folder of its files, or one of them), as the variable
ADVISORIES may name it too; without either the export is fetched. Exit code 1 where a locked
version is affected, 2 where the data cannot be read. Where it can only not be fetched, that is
said and nothing else happens: a machine without a network checks what it can.

pip-audit 2.10 asks a service for each version and takes no file (looked at on 2026-11-28).
"""

from __future__ import annotations

import io
import json
import os
import re
import sys
import urllib.error
import urllib.request
import zipfile
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from packaging.version import InvalidVersion, Version

LOCK = Path(__file__).with_name("lock.txt")

EXPORT = "https://osv-vulnerabilities.storage.googleapis.com/PyPI/all.zip"
"""One file for all of PyPI (OSV's documentation, "Data dumps")."""

_PATIENCE_S = 60


def locked(lock: Path = LOCK) -> dict[str, list[Version]]:
    """Name, as PyPI normalizes it, to its versions; of some there is one for each Python."""
    pinned: dict[str, list[Version]] = {}
    for line in lock.read_text("utf-8").splitlines():
        if re.match(r"[A-Za-z0-9]", line):
            one = Requirement(line.removesuffix("\\").strip())
            (wanted,) = one.specifier
            pinned.setdefault(canonicalize_name(one.name), []).append(Version(wanted.version))
    return pinned


def records(data: Path) -> Iterator[dict[str, Any]]:
    """The advisories of an export. Raises OSError, ValueError, zipfile.BadZipFile."""
    if data.is_dir():
        for path in sorted(data.glob("*.json")):
            yield json.loads(path.read_bytes())
    elif data.suffix == ".json":
        yield json.loads(data.read_bytes())
    else:
        yield from _zipped(data.read_bytes())


def _zipped(data: bytes) -> Iterator[dict[str, Any]]:
    with zipfile.ZipFile(io.BytesIO(data)) as export:
        for name in export.namelist():
            yield json.loads(export.read(name))


def affected(record: dict[str, Any], pinned: dict[str, list[Version]]) -> Iterator[str]:
    """Of the locked versions those that the advisory names, a line each (OSV schema,
    "Evaluation": a version that is listed, or lies in a range)."""
    if record.get("withdrawn"):
        return
    for one in record.get("affected", ()):
        about = one.get("package", {})
        name = canonicalize_name(about.get("name", ""))
        if about.get("ecosystem") != "PyPI":
            continue
        listed = set(filter(None, map(_version, one.get("versions", ()))))
        ranges = [each["events"] for each in one.get("ranges", ()) if each["type"] != "GIT"]
        for version in pinned.get(name, ()):
            if version in listed or any(_is_in(version, events) for events in ranges):
                said = record.get("summary") or record.get("details", "").partition("\n")[0]
                yield f"{name} {version}: {record['id']} {said}".strip()


def _is_in(version: Version, events: Iterable[dict[str, str]]) -> bool:
    """Whether the version lies in a range; its events in the order of their versions."""
    points = []
    for event in events:
        ((kind, text),) = event.items()
        at = Version("0.dev0") if text == "0" else _version(text)
        if at is not None and kind in ("introduced", "fixed", "last_affected"):
            points.append((at, kind))
    is_in = False
    for at, kind in sorted(points):
        if kind == "introduced" and at <= version:
            is_in = True
        elif (kind == "fixed" and at <= version) or (kind == "last_affected" and at < version):
            is_in = False
    return is_in


def _version(text: str) -> Version | None:
    try:
        return Version(text)
    except InvalidVersion:
        return None


def main(arguments: list[str], export: str = EXPORT) -> int:
    """Say what is affected, and how old the data is."""
    given = next(iter(arguments), os.environ.get("ADVISORIES", ""))
    pinned = locked()
    try:
        every = records(Path(given)) if given else _zipped(_fetched(export))
        count, newest = 0, ""
        found: list[str] = []
        for record in every:
            count, newest = count + 1, max(newest, record.get("modified", ""))
            found += affected(record, pinned)
        if not count:
            raise ValueError("no advisory is in it")  # noqa: TRY301 - worded below
    except urllib.error.URLError as error:
        print(f"Advisories were not checked: they cannot be fetched ({error.reason}).")
        return 0
    except (OSError, ValueError, KeyError, zipfile.BadZipFile) as error:
        print(f"Advisories were not checked: {given or export} cannot be read ({error}).")
        return 2
    print(*sorted(set(found)), sep="\n", end="\n" if found else "")
    print(
        f"{len(set(found))} known advisories apply to the {len(pinned)} locked libraries; {count} "
        f"were read, the newest of {newest[:10]}."
    )
    return 1 if found else 0


def _fetched(address: str) -> bytes:
    with urllib.request.urlopen(address, timeout=_PATIENCE_S) as answer:
        data: bytes = answer.read()
        return data


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
