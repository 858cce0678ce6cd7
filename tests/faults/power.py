"""Power cuts: what was written and not flushed is dropped, torn or kept, as it comes.

SQLite's own method (sqlite.org/testing.html, "Crash testing"), without its file system: a command
runs under strace, which writes down every write, flush and change of a name in its folder, and
what it told. The disk is then built anew as it may be after a cut at any of these: what was flushed
is there; of the rest each write is there, or not, or in part (by sectors of 512 bytes), and of the
names' changes the first so many (a journaling file system keeps their order; a file's flush makes
its own name durable too, as ext4 does).
"""

from __future__ import annotations

import os
import random
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from pairing.photos.forms.folder import VARIABLE as FORMS
from tests.faults import kills
from tests.faults.forked import Life

ROOT = Path(__file__).resolve().parents[2]
_SECTOR_BYTES = 512
_NAMES = (
    "counter", "returned", "expect", "import lines", "export lines", "backup", "proof", "daylist",
    "forget", "go-on", "form import", "form remove", "sample",
)  # fmt: skip
_CALLS = "openat,close,write,pwrite64,lseek,ftruncate,fsync,fdatasync,rename,link,unlink"
_ENTRY = "import sys; from counterfoil.main import main; sys.argv[0] = 'counterfoil'; main()"


@dataclass
class _File:
    """flushed: what is on the disk. later: writes (offset, bytes) and truncations (size, None)."""

    flushed: bytearray = field(default_factory=bytearray)
    later: list[tuple[int, bytes | None]] = field(default_factory=list)


@dataclass
class _Disk:
    """names: as the program sees them. kept: as they are on the disk. later: changes of names."""

    names: dict[str, _File] = field(default_factory=dict)
    kept: dict[str, _File] = field(default_factory=dict)
    later: list[tuple[str, _File | None]] = field(default_factory=list)
    places: dict[int, int] = field(default_factory=dict)
    said: bytearray = field(default_factory=bytearray)

    def name(self, path: str, file: _File | None) -> None:
        if file is None:
            self.names.pop(path, None)
        else:
            self.names[path] = file
        self.later.append((path, file))

    def flush(self, path: str) -> None:
        """A file, or the folder with its names."""
        file = self.names.get(path)
        if file is None:
            for named, now in self.later:
                _renamed(self.kept, named, now)
            self.later.clear()
            return
        for at, what in file.later:
            _put(file.flushed, at, what)
        file.later.clear()
        for change in [one for one in self.later if one[1] is file]:
            self.kept[change[0]] = file
            self.later.remove(change)

    def after_cut(self, dice: random.Random) -> Iterator[tuple[str, bytes]]:
        """Names and contents as they may be found."""
        kept = dict(self.kept)
        for path, file in self.later[: dice.randint(0, len(self.later))]:
            _renamed(kept, path, file)
        contents: dict[int, bytes] = {}
        share = dice.choice((0.0, 0.5, 0.9, 1.0))
        for path, file in kept.items():
            if id(file) not in contents:
                data = bytearray(file.flushed)
                for at, what in file.later:
                    if dice.random() < share:
                        _torn(data, at, what, dice)
                contents[id(file)] = bytes(data)
            yield path, contents[id(file)]


def _renamed(names: dict[str, _File], path: str, file: _File | None) -> None:
    if file is None:
        names.pop(path, None)
    else:
        names[path] = file


def _put(data: bytearray, at: int, what: bytes | None) -> None:
    if what is None:
        del data[at:]
        at, what = len(data), bytes(at - len(data))
    data.extend(bytes(max(0, at - len(data))))
    data[at : at + len(what)] = what


def _torn(data: bytearray, at: int, what: bytes | None, dice: random.Random) -> None:
    if what is None or dice.random() < 0.5:
        _put(data, at, what)
        return
    for start in range(0, len(what), _SECTOR_BYTES):
        if dice.random() < 0.5:
            _put(data, at + start, what[start : start + _SECTOR_BYTES])


_LINE = re.compile(r"^\d+ +(\w+)\((.*)\) += (-?\d+)")
_TEXT = re.compile(r'"((?:\\x[0-9a-f]{2})*)"')
_HANDLE = re.compile(r"^(\d+)<([^>]*)>")


def _bytes(text: str) -> bytes:
    return bytes.fromhex(text.replace("\\x", ""))


def _path(text: str) -> str:
    return _bytes(text).decode() if text.startswith("\\x") else text


def _step(disk: _Disk, line: str, folder: str) -> bool:
    """Take a line of the trace; whether it changed what may be found."""
    found = _LINE.match(line)
    if found is None or int(found[3]) < 0:
        return False
    call, words, result = found[1], found[2], int(found[3])
    texts = [_bytes(one) for one in _TEXT.findall(words)]
    if call in ("openat", "rename", "link", "unlink"):
        paths = [one.decode() for one in texts]
        return all(one.startswith(folder) for one in paths) and _named(
            disk, call, paths, words, result
        )
    handle = _HANDLE.match(words)
    if handle is None:
        return False
    number, path = int(handle[1]), _path(handle[2])
    if call == "write" and number == 1:
        disk.said += texts[0][:result]
        return True
    if path != folder and not path.startswith(folder + "/"):
        return False
    if call in ("fsync", "fdatasync"):
        disk.flush(path)
        return True
    file = disk.names.get(path)
    if file is None:
        return False
    last = words.rsplit(", ", 1)[-1]
    if call == "lseek":
        disk.places[number] = result
    elif call == "ftruncate":
        file.later.append((int(last), None))
    elif call == "pwrite64":
        file.later.append((int(last), texts[0][:result]))
    elif call == "write":
        at = disk.places.get(number, 0)
        file.later.append((at, texts[0][:result]))
        disk.places[number] = at + result
    return call in ("ftruncate", "pwrite64", "write")


def _named(disk: _Disk, call: str, paths: list[str], words: str, result: int) -> bool:
    if call == "openat":
        disk.places[result] = 0
        file = disk.names.get(paths[0])
        if file is None and "O_CREAT" in words:
            disk.name(paths[0], _File())
        elif file is not None and "O_TRUNC" in words:
            file.later.append((0, None))
        if file is not None and "O_APPEND" in words:
            whole = bytearray(file.flushed)
            for change in file.later:
                _put(whole, *change)
            disk.places[result] = len(whole)
        return file is None
    if call == "unlink":
        disk.name(paths[0], None)
        return True
    disk.name(paths[1], disk.names[paths[0]])
    if call == "rename":
        disk.name(paths[0], None)
    return True


def _traced(case: kills.Case, place: Path, trace: Path) -> int:
    """Run it once under strace; its exit code."""
    words = [word.replace("FOLDER", str(place)) for word in case.words]
    command = ["strace", "-f", "-y", "-xx", "-s", "99999999", "-o", str(trace)]
    command += ["-e", f"trace={_CALLS}", "-e", "signal=none", sys.executable, "-u", "-c", _ENTRY]
    environ = {**os.environ, "PYTHONPATH": f"{ROOT}:{ROOT / 'cli'}", "PYTHONIOENCODING": "utf-8"}
    environ[FORMS] = str(place / case.forms)
    return subprocess.run(
        [*command, *words],
        input=case.stdin,
        capture_output=True,
        cwd=ROOT,
        env=environ,
        check=False,
    ).returncode


def power(count: int, seed: int) -> tuple[int, list[str]]:
    """So many cuts, of each command by turns: nothing that was told is lost, nothing is half."""
    if shutil.which("strace") is None:
        return 0, ["needs strace (Debian: apt install strace)"]
    done, lost = 0, []
    for turn, name in enumerate(_NAMES):
        share = len(range(turn, count, len(_NAMES)))
        if share:
            lost += _cuts(name, share, random.Random(f"{name} {seed}"))
            done += share
    return done, lost


def _cuts(name: str, count: int, dice: random.Random) -> list[str]:
    case, lost = kills.cases()[name], []
    with tempfile.TemporaryDirectory(prefix="counterfoil-faults-") as folder:
        template, place = Path(folder) / "template", Path(folder) / "place"
        template.mkdir()
        kills.prepare(template)
        shutil.copytree(template, place, ignore=shutil.ignore_patterns("photos", "*.png"))
        before = {str(one): one.read_bytes() for one in place.rglob("*") if one.is_file()}
        code = _traced(case, place, Path(folder) / "trace")
        lines = (Path(folder) / "trace").read_text("ascii").splitlines()
        ends = _moments(lines, before, str(place))
        wanted = sorted(dice.choice([*ends, ends[-1]]) for _ in range(count))
        disk, at = _begun(before), 0
        for end in wanted:
            for line in lines[at : end + 1]:
                _step(disk, line, str(place))
            at = end + 1
            _built(disk, place, dice)
            ended = code if end == ends[-1] else -9
            life = Life(out=disk.said.decode("utf-8", "replace"), code=ended, took_s=0)
            try:
                case.check(place, life)
            except AssertionError as problem:
                lost.append(f"power {name}, line {end} of {len(lines)}: {problem!r:.400}")
    return lost


def _begun(before: dict[str, bytes]) -> _Disk:
    files = {path: _File(bytearray(data)) for path, data in before.items()}
    return _Disk(names=dict(files), kept=dict(files))


def _moments(lines: list[str], before: dict[str, bytes], folder: str) -> list[int]:
    """The lines after which the disk may be another, or more was told."""
    disk = _begun(before)
    return [number for number, line in enumerate(lines) if _step(disk, line, folder)]


def _built(disk: _Disk, place: Path, dice: random.Random) -> None:
    folders = [one for one in place.rglob("*") if one.is_dir()]
    shutil.rmtree(place)
    for one in (place, *folders):
        one.mkdir(parents=True, exist_ok=True)
    for path, data in disk.after_cut(dice):
        if not path.endswith("-shm"):  # SQLite makes it anew
            Path(path).write_bytes(data)
            Path(path).chmod(0o600)
