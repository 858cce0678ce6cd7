"""Two versions of the program on one ledger, and a server that goes away in the middle."""

from __future__ import annotations

import os
import pwd
import random
import shutil
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from pairing.errors import LedgerUnusable
from pairing.ledger import Ledger
from tests.faults import kills
from tests.faults.forked import Life
from tests.ledger.making import card, label, pair

ROOT = Path(__file__).resolve().parents[2]
OLDER = "COUNTERFOIL_OLDER"
"""The environment variable that names the older commit; by default the one that last
changed the ledger's tables (an older one is refused by what it finds, `pairing.ledger.schema`)."""

_ENTRY = "import sys; from counterfoil.main import main; sys.argv[0] = 'counterfoil'; main()"
_PIECES = 12


def versions(count: int, seed: int) -> tuple[int, list[str]]:
    """So many ledgers, each begun by either version, at which a desk of each records at once;
    every other time both are killed at a random moment."""
    dice, lost = random.Random(seed), []
    with tempfile.TemporaryDirectory(prefix="counterfoil-faults-") as folder:
        older = Path(folder) / "older"
        older.mkdir()
        tables = ("log", "-1", "--format=%H", "--", "pairing/ledger/schema.py")
        commit = os.environ.get(OLDER) or _git(*tables).decode().strip()
        packed = _git("archive", commit, "pairing", "cli")
        subprocess.run(["tar", "-x", "-C", str(older)], input=packed, check=True)
        for number in range(count):
            place = Path(folder) / "place"
            place.mkdir()
            roots = [ROOT, older]
            dice.shuffle(roots)
            after_s = dice.uniform(1.5, 5) if number % 2 else None
            lives = _desks(place, roots, after_s)
            lost += [f"versions {number}: {one}" for one in _said(place, lives, after_s)]
            if after_s is None and _run(older, place, "ledger", "verify").returncode:
                lost.append(f"versions {number}: the older one does not verify it")
            shutil.rmtree(place)
    return count, lost


def _git(*words: str) -> bytes:
    return subprocess.run(["git", *words], cwd=ROOT, capture_output=True, check=True).stdout


def _said(place: Path, lives: list[Life], after_s: float | None) -> Iterator[str]:
    for life in lives:
        try:
            if after_s is None:
                assert life.out.count("Seal.") >= _PIECES, life.out[-300:]
            assert "Traceback" not in life.out, life.out[-300:]
            if (place / "ledger.db").exists():
                kills.all_recorded(place, life)
        except AssertionError as problem:
            yield f"{problem!r:.400}"


def _environ(root: Path) -> dict[str, str]:
    return {**os.environ, "PYTHONPATH": f"{root}:{root / 'cli'}", "PYTHONIOENCODING": "utf-8"}


def _run(root: Path, place: Path, *words: str) -> subprocess.CompletedProcess[bytes]:
    command = [sys.executable, "-u", "-c", _ENTRY, *words, "--ledger", str(place / "ledger.db")]
    return subprocess.run(command, capture_output=True, cwd=root, env=_environ(root), check=False)


def _desks(place: Path, roots: list[Path], kill_after_s: float | None) -> list[Life]:
    started = []
    for desk, root in enumerate(roots, 1):
        numbers = range(1000 * desk, 1000 * desk + _PIECES)
        lines = "".join(f"{label(one)}\n{card(one)}\n/{label(one)}\n" for one in numbers)
        (place / f"{desk}.txt").write_text(f"{lines}end\n")
        command = [sys.executable, "-u", "-c", _ENTRY, "counter", "--desk", f"desk {desk}"]
        command += ["--ledger", str(place / "ledger.db")]
        with (place / f"{desk}.txt").open("rb") as given, (place / f"{desk}.out").open("wb") as out:
            started.append(
                subprocess.Popen(
                    command, stdin=given, stdout=out, stderr=subprocess.STDOUT, cwd=root,
                    env=_environ(root),
                )
            )  # fmt: skip
        if desk == 1:
            time.sleep(0.4)  # it begins the ledger
    if kill_after_s is not None:
        time.sleep(kill_after_s)
        for one in started:
            one.kill()
    codes = [one.wait(timeout=120) for one in started]
    return [
        Life(out=(place / f"{desk}.out").read_text("utf-8", "replace"), code=code, took_s=0)
        for desk, code in enumerate(codes, 1)
    ]


def server_gone(count: int, seed: int) -> tuple[int, list[str]]:
    """A PostgreSQL server whose connections are ended, or which is stopped at once (`immediate`, as
    after a power cut) and started again, so many times while a desk records: what was acknowledged
    is there, what failed was said, and the same desk goes on."""
    import psycopg  # only where there is a server

    with _server() as server:
        if server is None:
            return 0, ["needs a PostgreSQL server's programs, and a user for it"]
        folder, run = server
        url = f"postgresql://desk@/postgres?host={folder}"
        with Ledger.open(url, files=Path(folder) / "files", patience_s=5) as ledger:
            desk = _Desk(ledger)
            thread = threading.Thread(target=desk.work)
            thread.start()
            dice = random.Random(seed)
            for number in range(count):
                time.sleep(dice.uniform(0.05, 0.5))
                if number % 3 == 2:
                    run("pg_ctl", "-m", "immediate", "stop")
                    run("pg_ctl", "start")
                else:
                    with psycopg.connect(url) as connection:
                        connection.execute(_END)
            time.sleep(0.5)
            desk.is_over = True
            thread.join(60)
            report = ledger.verify()
            there = {one.sequence: one.article for one in ledger.entries()}
        lost = [f"entry {one}" for one, said in desk.told.items() if there.get(one) != said]
        lost += [desk.wrong] if desk.wrong else []
        lost += [] if report.is_clean else [str(report.problem)]
        print(f"  {len(desk.told)} recorded, {desk.failed} said not to be, {len(there)} entries")
        return count, lost


_END = (
    "SELECT pg_terminate_backend(pid) FROM pg_stat_activity "
    "WHERE pid <> pg_backend_pid() AND backend_type = 'client backend'"
)


class _Desk:
    """Records pieces, each offered again with its key until it is taken."""

    def __init__(self, ledger: Ledger) -> None:
        self._ledger = ledger
        self.told: dict[int, str | None] = {}
        self.failed = 0
        self.is_over = False
        self.wrong = ""

    def work(self) -> None:
        """Until it is over."""
        number = 0
        while not self.is_over:
            number += 1
            draft = pair(number, number, key=f"piece {number}")
            while not self.is_over:
                try:
                    outcome = self._ledger.append(draft)
                except LedgerUnusable:
                    self.failed += 1
                    time.sleep(0.01)
                    continue
                except Exception as problem:
                    self.wrong = repr(problem)
                    return
                if not outcome.may_seal:
                    self.wrong = f"piece {number} was not sealed: {outcome}"
                    return
                self.told[outcome.entry.sequence] = outcome.entry.article
                break


@contextmanager
def _server() -> Iterator[tuple[Path, Callable[..., None]] | None]:
    """A server's folder, and what runs its programs; None where there are none."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin"))
    user = _user()
    if not found or user is None:
        yield None
        return
    folder = Path(tempfile.mkdtemp(prefix="counterfoil-pg-"))
    shutil.chown(folder, user)

    def run(program: str, *words: str) -> None:
        options = f"-k {folder} -c listen_addresses=''"
        more = {
            "initdb": ("-D", str(folder / "data"), "-U", "desk", "-A", "trust", "-E", "UTF8"),
            "pg_ctl": ("-D", str(folder / "data"), "-w", "-l", str(folder / "log"), "-o", options),
        }[program]
        subprocess.run(
            [str(found[-1] / program), *more, *words], check=True, user=user, cwd=folder,
            stdout=subprocess.DEVNULL,
        )  # fmt: skip

    run("initdb")
    run("pg_ctl", "start")
    try:
        yield folder, run
    finally:
        run("pg_ctl", "-m", "immediate", "stop")
        shutil.rmtree(folder)


def _user() -> str | int | None:
    """The server does not run as root."""
    if os.geteuid() != 0:
        return os.geteuid()
    for name in ("postgres", "nobody"):
        try:
            return pwd.getpwnam(name).pw_name
        except KeyError:
            continue
    return None
