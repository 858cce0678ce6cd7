"""`counterfoil counter` on a pseudo terminal and through a pipe, and when things go wrong."""

from __future__ import annotations

import io
import os
import random
import resource
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path

import pytest

from counterfoil.commands.counter import work
from pairing.ledger import Kind, Ledger
from tests.cli.calling import Done, call
from tests.cli.terminal import PACE_MS, ROOT, Terminal
from tests.ledger.making import card, label
from tests.rights import as_nobody

PACKAGE = "9374890100000003985039"  # BCOCA Reference, IMpb example
OTHER = "9400111201080805483016"  # tracking_number_data
CARD = "9590940258780038231151"  # NC DEQ public record NOV-2020-DV-0495
KILLS = int(os.environ.get("COUNTERFOIL_KILLS", "5"))
"""How often a counter is killed; 300 for the long run."""

ENTRY = "import sys; from counterfoil.main import main; sys.argv[0] = 'counterfoil'; main()"
ENVIRON = {
    **os.environ,
    "PYTHONPATH": os.pathsep.join((str(ROOT), str(ROOT / "cli"))),
    "PYTHONIOENCODING": "utf-8",
}


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "ledger.db"


@pytest.fixture
def desk(path: Path) -> Iterator[Terminal]:
    words = ("counter", "--desk", "desk 1", "--operator", "Theda Orrick", "--pace", str(PACE_MS))
    terminal = Terminal(*words, ledger=str(path))
    terminal.prompt()
    yield terminal
    if terminal.process.poll() is None:
        terminal.process.kill()
        terminal.process.wait()


COUNTER = ("counter", "--desk", "desk 1", "--operator", "Theda Orrick")


def counter(path: Path, lines: str) -> Done:
    """The counter within this process, fed these lines."""
    return call(*COUNTER, "--ledger", path, stdin=lines.encode())


def expect(path: Path, *words: object) -> Done:
    """`counterfoil expect` within this process."""
    return call("expect", *words, "--ledger", path)


def counter_apart(
    path: Path, lines: str, limit: Callable[[], None] | None = None
) -> subprocess.CompletedProcess[str]:
    """The counter in a process of its own, fed these lines. limit: called in it first."""
    return subprocess.run(
        [sys.executable, "-c", ENTRY, *COUNTER, "--ledger", str(path)],
        input=lines,
        capture_output=True,
        text=True,
        check=False,
        cwd=ROOT,
        env=ENVIRON,
        preexec_fn=limit,
    )


def piece(number: int) -> str:
    """The lines of a piece that agrees."""
    return f"{label(number)}\n{card(number)}\nbox {label(number)}\n"


def kinds(path: Path) -> list[Kind]:
    with Ledger.open(str(path)) as ledger:
        report = ledger.verify()
        assert report.is_clean, report.problem
        return [entry.kind for entry in ledger.entries()]


def test_the_labels_number_is_not_on_the_screen_before_the_box_is(desk: Terminal) -> None:
    desk.scan(PACKAGE)
    desk.scan(CARD)
    desk.scan(PACKAGE)
    desk.type("hello")
    assert not {PACKAGE[index : index + 3] for index in range(20)} & set(_triples(desk.screen))
    shown = desk.type(f"/{PACKAGE}")
    assert "Seal." in shown
    assert "9374 8901 0000 0003 9850 39" in shown
    assert desk.last("end") == 0


def _triples(text: str) -> Iterator[str]:
    digits = "".join(text.split())
    return (digits[index : index + 3] for index in range(len(digits)))


def test_a_label_that_is_still_on_the_screen_is_wiped_off(desk: Terminal) -> None:
    desk.scan(PACKAGE)
    desk.scan(CARD)
    assert "Do not seal." in desk.type(f"/{OTHER}")
    assert "Started over" in desk.type("again")
    shown = desk.scan(PACKAGE)
    assert "[screen wiped]" in shown
    assert PACKAGE[:4] not in shown.partition("[screen wiped]")[2]
    assert "[screen wiped]" not in desk.scan(CARD)
    assert "Seal." in desk.type(f"/{PACKAGE}")
    assert desk.last("") == 10


def test_a_scan_that_came_before_the_program_was_ready_is_wiped_off(path: Path) -> None:
    desk = Terminal("counter", ledger=str(path), is_copied=False)
    os.write(desk.master, f"{PACKAGE}\r".encode())
    desk.until(PACKAGE)  # the terminal itself has echoed it
    shown = desk.until("card, box > ")
    assert "[screen wiped]" in shown
    assert PACKAGE[:4] not in shown.partition("[screen wiped]")[2]
    assert desk.last("") == 11


def test_scanners_that_end_with_cr_lf_or_tab_or_nothing(desk: Terminal) -> None:
    desk.scan(PACKAGE, end="\r\n")
    shown = desk.scan(CARD, end="\t")
    assert "what is written there" in shown
    desk.type("strip")
    assert "Seal." in desk.scan(f"]C1{PACKAGE}", end="")
    assert desk.last("end") == 0


def test_a_box_that_was_scanned_or_pasted_is_not_keyed(desk: Terminal) -> None:
    desk.scan(PACKAGE)
    desk.scan(CARD)
    desk.keys("box ")
    assert "type strip, press Enter" in desk.scan(PACKAGE).replace("\n           ¦", "")
    assert "too fast" in desk.scan(f"box {PACKAGE}")
    assert "Scan again." in desk.type("next")
    assert "Type yes to end" in desk.type("end").replace("\n           ¦", "")
    assert desk.last("yes") == 11


def test_hanging_up_keeps_what_was_recorded(desk: Terminal, path: Path) -> None:
    desk.scan(PACKAGE)
    desk.scan(CARD)
    desk.type(f"/{PACKAGE}")
    desk.scan(OTHER)
    desk.process.send_signal(signal.SIGHUP)
    desk.end()
    assert kinds(path) == [Kind.PAIRED]


def test_the_interrupt_signal_ends_it(desk: Terminal, path: Path) -> None:
    desk.process.send_signal(signal.SIGINT)
    assert desk.end() == 130
    assert "Ended between two pieces" in desk.screen
    assert kinds(path) == []


def test_the_interrupt_signal_in_the_middle_of_a_piece_says_that_it_is_not_recorded(
    desk: Terminal, path: Path
) -> None:
    desk.scan(PACKAGE)
    desk.scan(CARD)
    desk.process.send_signal(signal.SIGINT)
    assert desk.end() == 130
    assert "it is not recorded. Scan it again" in " ".join(desk.screen.split())
    assert kinds(path) == []


def test_a_locked_ledger_and_retry(desk: Terminal, path: Path) -> None:
    desk.scan(PACKAGE)
    desk.scan(CARD)
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        shown = desk.type(f"/{PACKAGE}")
        other.execute("ROLLBACK")
    assert "Not recorded." in shown
    assert "locked" in shown
    assert "Seal." not in shown
    assert "1 not recorded; label, card, box > " in shown
    assert "Seal." in desk.type("retry")
    assert desk.last("end") == 0
    assert kinds(path) == [Kind.PAIRED]


def test_a_day_through_a_pipe(path: Path) -> None:
    done = counter_apart(
        path, piece(1) + f"{label(2)}\n\n{label(3)}\n9780471117094\ncount\nend\nnote x"
    )
    assert done.returncode == 11
    assert "entry 1 ¦ Seal. Label and box agree" in done.stdout
    assert "entry 2 ¦ Scan again." in done.stdout
    assert "Stopped today and not settled:" in done.stdout
    assert "line 7: Not counted as the label: This is an ISBN" in done.stderr
    assert "Today: 1 sealed" in done.stdout
    assert " > " not in done.stdout + done.stderr
    assert "▄" not in done.stdout
    assert kinds(path) == [Kind.PAIRED, Kind.STOPPED, Kind.STOPPED]


def test_a_terminal_without_unicode(path: Path) -> None:
    words = [sys.executable, "-c", ENTRY, "counter", "--ledger", str(path)]
    environ = {**ENVIRON, "PYTHONIOENCODING": "ascii"}
    done = subprocess.run(
        words, input=piece(1).encode(), capture_output=True, check=False, cwd=ROOT, env=environ
    )
    assert b"entry 1 : Seal." in done.stdout


def test_a_read_only_ledger_seals_nothing_and_goes_on(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = Path(tempfile.mkdtemp(prefix="counterfoil-"))
    try:
        path = folder / "ledger.db"
        assert counter(path, piece(1)).code == 0
        with Ledger.open(str(path)) as ledger:
            ledger.warnings()  # nobody may not load what the interpreter still lacks
        folder.chmod(0o777)
        path.chmod(0o444)
        lines = io.TextIOWrapper(io.BytesIO((piece(2) + "note x\n" + piece(3)).encode()))
        monkeypatch.setattr("sys.stdin", lines)
        with as_nobody(), Ledger.open(str(path)) as ledger:
            assert work(ledger, desk="desk 1", operator="Theda Orrick") == 13
        told = capsys.readouterr()
        assert told.out.count("Not recorded. Keep the piece open.") == 2
        assert "Seal." not in told.out
        assert "Not recorded: 2 pieces." in told.out
        assert "line 4: Not recorded. The ledger may only be read" in told.err
        path.chmod(0o600)
        assert kinds(path) == [Kind.PAIRED]
    finally:
        shutil.rmtree(folder)


def test_a_full_disk_stops_no_day(path: Path) -> None:
    """RLIMIT_FSIZE: the ledger's files may not grow any more, as on a full disk."""
    assert counter(path, piece(1)).code == 0
    size = max(file.stat().st_size for file in path.parent.iterdir())

    def limit() -> None:
        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (size + 30_000, size + 30_000))

    lines = "".join(piece(number) for number in range(2, 60))
    done = counter_apart(path, lines + "retry\nnote full\ncount\n", limit)
    assert done.returncode == 13
    sealed, stuck = done.stdout.count("¦ Seal."), done.stdout.count("¦ Not recorded.")
    assert sealed + stuck >= 58
    assert stuck > 0
    assert "Not recorded: " in done.stdout
    recorded = [kind for kind in kinds(path) if kind is not Kind.NOTE]
    assert recorded == [Kind.PAIRED] * (sealed + 1)
    assert counter(path, piece(99)).code == 0


def test_a_clock_set_back_is_said_and_recorded(path: Path) -> None:
    for start in ("2026-11-25T10:00:00", "2026-11-25T09:00:00"):
        number = 1 if start.endswith("10:00:00") else 2
        done = subprocess.run(
            [
                sys.executable,
                "-m",
                "tests.cli.fixed_clock",
                start,
                "counter",
                "--ledger",
                str(path),
            ],
            input=piece(number),
            capture_output=True,
            text=True,
            check=False,
            cwd=ROOT,
            env=ENVIRON,
        )
        assert done.returncode == 0
    assert "later than this machine's clock" in done.stderr
    assert "The clock said 2026-11-25T10:0" in done.stdout.replace("\n           ¦", "")
    with Ledger.open(str(path)) as ledger:
        entry = ledger.entry(2)
    assert entry is not None
    assert "clock-set-back" in {finding.code for finding in entry.findings}


def test_what_is_missing_is_named_at_the_end_and_when_asked(path: Path, tmp_path: Path) -> None:
    pairs = tmp_path / "pairs.csv"
    pairs.write_text(f"article,card\n{label(1)},{card(1)}\n{label(2)},{card(2)}\n,{card(3)}\n")
    assert expect(path, "--missing").code == 13  # there is no ledger yet
    done = expect(path, pairs)
    assert done.code == 12
    assert "2 pairs added, 0 known already, 1 row refused" in done.out
    assert "line 4: There is no article number." in done.err
    assert "0 pairs added, 2 known already" in expect(path, pairs).out
    told = counter(path, piece(1)).out
    assert "Of 2 expected pairs, 1 sealed, 0 not sealed, 1 missing." in told
    done = expect(path, "--missing")
    assert done.code == 11
    assert "missing     9200 0000 0000 0000 0000 25" in done.out
    counter(path, piece(2))
    assert expect(path, "--missing", "--since", "today").code == 0
    done = expect(path, pairs, "--article", "label")
    assert done.code == 13
    assert "There are: 'article', 'card'" in done.err
    assert expect(path).code == 2


def test_a_killed_counter_loses_nothing_that_it_said(path: Path) -> None:
    chance = random.Random(int.from_bytes(os.urandom(4)))
    said: dict[str, int] = {}
    number = 0
    for _ in range(KILLS):
        said |= _until_killed(path, number, chance.uniform(0, 0.3))
        number += 100_000
    with Ledger.open(str(path)) as ledger:
        report = ledger.verify()
        assert report.is_clean, report.problem
        entries = {entry.sequence: entry for entry in ledger.entries()}
        assert ledger.warnings() == ()
    assert len(said) >= KILLS
    for article, sequence in said.items():
        assert (entries[sequence].kind, entries[sequence].article) == (Kind.PAIRED, article)
    # At most the one piece under way at each kill was recorded and not said.
    assert len(entries) - len(said) <= KILLS


def _until_killed(path: Path, first: int, after_s: float) -> dict[str, int]:
    """Feed pieces to a counter, kill it some time after its first word; what it said was
    sealed, by the label's number, with the entry."""
    words = [sys.executable, "-u", "-c", ENTRY, "counter", "--ledger", str(path)]
    lines = "".join(piece(first + number) for number in range(5_000)).encode()
    feed = path.parent / "lines.txt"
    feed.write_bytes(lines)
    with (
        feed.open("rb") as given,
        subprocess.Popen(words, cwd=ROOT, env=ENVIRON, stdin=given, stdout=subprocess.PIPE) as desk,
    ):
        assert desk.stdout is not None
        told = desk.stdout.readline()
        time.sleep(after_s)
        desk.send_signal(signal.SIGKILL)
        told += desk.stdout.read()
    said, entry = {}, 0
    for line in told.decode("utf-8", "ignore").splitlines(keepends=True):
        if "Seal." in line:
            entry = int(line.split()[1])
        elif line.startswith("     label") and line.endswith("\n"):
            said["".join(line.split()[2:])] = entry
    return said
