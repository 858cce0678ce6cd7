"""Disks that are full, may not be written to, or are slow."""

from __future__ import annotations

import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.faults import kills
from tests.faults.forked import Life
from tests.ledger.making import card, label

ROOT = Path(__file__).resolve().parents[2]
_DISK_KB = 6000
_NOT_HERE = ("audit", "photos", "sample", "form learn")
"""Their files are written as those of the others are, and they cost most."""

PROMISED = (0, 2, 10, 11, 12, 13)


def _names() -> list[str]:
    return [name for name in kills.cases() if name not in _NOT_HERE]


def _prepared(folder: str) -> Path:
    template = Path(folder) / "template"
    template.mkdir()
    kills.prepare(template)
    return template


def _checked(name: str, place: Path, life: Life) -> list[str]:
    """What is wrong with how it ended."""
    try:
        assert life.code in PROMISED, (life.code, life.out[-300:])
        assert "Traceback" not in life.out, life.out[-300:]
        kills.cases()[name].check(place, life)
    except AssertionError as problem:
        return [f"{name}: {problem!r:.400}"]
    return []


def full(count: int, seed: int) -> tuple[int, list[str]]:
    """Each command by turns, where files may grow no further than some byte; every other time,
    where this user may mount one, on a small disk with so many bytes left."""
    dice, lost, names = random.Random(seed), [], _names()
    with tempfile.TemporaryDirectory(prefix="counterfoil-faults-") as folder, _disk() as disk:
        template = _prepared(folder)
        for number in range(count):
            name = names[number % len(names)]
            is_on_disk = disk is not None and number // len(names) % 2 == 1
            place = (disk if is_on_disk and disk else Path(folder)) / "place"
            shutil.copytree(template, place, ignore=shutil.ignore_patterns("photos", "*.png"))
            limit = dice.randrange(200_000)
            ballast = place.with_name("ballast")
            if is_on_disk:
                here = os.statvfs(place)
                left = here.f_bavail * here.f_frsize
                ballast.write_bytes(b"x" * max(0, left - limit))
            before = None if is_on_disk else _limited(limit)
            life = kills.once(kills.cases()[name], place, before=before or (lambda: None))
            ballast.unlink(missing_ok=True)
            lost += _checked(name, place, life)
            shutil.rmtree(place)
    return count, lost


def _limited(size: int) -> Callable[[], None]:
    def limit() -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (size, size))

    return limit


@contextmanager
def _disk() -> Iterator[Path | None]:
    """A disk of a megabyte or so; None where this user may not mount one."""
    folder = Path(tempfile.mkdtemp(prefix="counterfoil-disk-"))
    command = ["mount", "-t", "tmpfs", "-o", f"size={_DISK_KB}k", "tmpfs", str(folder)]
    is_there = _done(*command)
    try:
        yield folder if is_there else None
    finally:
        if is_there:
            _done("umount", "-l", str(folder))
        folder.rmdir()


def _done(*command: str) -> bool:
    try:
        return subprocess.run(command, capture_output=True, check=False).returncode == 0
    except FileNotFoundError:
        return False


def read_only(count: int, seed: int) -> tuple[int, list[str]]:
    """Each command by turns in a folder that may not be written to: by mounting it so, or by its
    rights where this user may not mount (which root passes over)."""
    lost, names = [], _names()
    before = seed % 2  # an empty folder is another case than one with a ledger
    with tempfile.TemporaryDirectory(prefix="counterfoil-faults-") as folder:
        template = _prepared(folder)
        for number in range(count):
            name = names[(number + before) % len(names)]
            place = Path(folder) / "place"
            shutil.copytree(template, place)
            if number // len(names) % 2:
                (place / "ledger.db").unlink()
            sizes = _sizes(place)
            with _unwritable(place):
                life = kills.once(kills.cases()[name], place)
            is_same = _sizes(place) == sizes
            if (place / "ledger.db").exists():
                lost += _checked(name, place, life)
            elif life.code in (0, 10, 11):
                lost.append(f"{name} says {life.code} without a ledger: {life.out[-200:]}")
            if life.code == 0 or not is_same:
                lost.append(f"{name}: something was written: {life.code} {life.out[-200:]}")
            shutil.rmtree(place)
    return count, lost


def _sizes(place: Path) -> dict[str, int]:
    return {str(one): one.stat().st_size for one in place.rglob("*") if one.is_file()}


@contextmanager
def _unwritable(place: Path) -> Iterator[None]:
    is_mounted = _done("mount", "--bind", str(place), str(place)) and _done(
        "mount", "-o", "remount,ro,bind", str(place)
    )
    if not is_mounted:
        for one in (*place.rglob("*"), place):
            one.chmod(0o555 if one.is_dir() else 0o444)
    try:
        yield
    finally:
        if is_mounted:
            _done("umount", "-l", str(place))
        else:
            for one in (place, *place.rglob("*")):
                one.chmod(0o755 if one.is_dir() else 0o644)


_ENTRY = "import sys; from counterfoil.main import main; sys.argv[0] = 'counterfoil'; main()"


def slow(count: int, seed: int) -> tuple[int, list[str]]:
    """Two desks at a ledger whose every flush takes a tenth of a second and more (strace's
    delays), both killed at a random moment."""
    dice, lost = random.Random(seed), []
    for _ in range(count):
        with tempfile.TemporaryDirectory(prefix="counterfoil-faults-") as folder:
            place = Path(folder)
            lives = _two_slow_desks(place, dice.randrange(100, 400), dice.uniform(0.5, 4))
            for life in lives:
                if (place / "ledger.db").exists():
                    lost += _slow_checked(place, life)
    return count, lost


def _slow_checked(place: Path, life: Life) -> list[str]:
    try:
        kills.all_recorded(place, life)
    except AssertionError as problem:
        return [f"slow: {problem!r:.300}"]
    return []


def _two_slow_desks(place: Path, delay_ms: int, after_s: float) -> list[Life]:
    started = []
    for desk in (1, 2):
        numbers = range(1000 * desk, 1000 * desk + 60)
        lines = "".join(f"{label(one)}\n{card(one)}\n/{label(one)}\n" for one in numbers)
        (place / f"{desk}.txt").write_text(lines)
        inject = f"inject=fsync,fdatasync:delay_exit={delay_ms * 1000}"
        command = ["strace", "-f", "-q", "-o", os.devnull, "-e", "trace=fsync,fdatasync"]
        command += ["-e", inject, sys.executable, "-u", "-c", _ENTRY, "counter"]
        command += ["--ledger", str(place / "ledger.db"), "--desk", f"desk {desk}"]
        with (place / f"{desk}.txt").open("rb") as given, (place / f"{desk}.out").open("wb") as out:
            started.append(
                subprocess.Popen(
                    command, stdin=given, stdout=out, stderr=subprocess.STDOUT, cwd=ROOT,
                    start_new_session=True,
                    env={**os.environ, "PYTHONPATH": f"{ROOT}:{ROOT / 'cli'}",
                         "PYTHONIOENCODING": "utf-8"},
                )
            )  # fmt: skip
    time.sleep(after_s)
    for one in started:
        if one.poll() is None:
            os.killpg(one.pid, signal.SIGKILL)
        one.wait()
    return [
        Life(out=(place / f"{desk}.out").read_text("utf-8", "replace"), code=-9, took_s=after_s)
        for desk in (1, 2)
    ]
