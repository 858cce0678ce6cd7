"""The audit of a lot: right verdicts, bags, kills, speed, memory.

    python -m tests.benchmarks.audit draw COUNT FOLDER [PROCESSES [SEED]]   (1 to 4 s of CPU each)
    python -m tests.benchmarks.audit verdicts FOLDER
    python -m tests.benchmarks.audit bag FOLDER [SHARE_MISSING [OUT]]   (OUT is kept, for the next)
    (AUDIT_PROCESSES says how many read for verdicts, bag and memory, 2 without it)
    python -m tests.benchmarks.audit simulated COUNT [MISSING [LISTED [BAGS [PROCESSES [REACH]]]]]
    python -m tests.benchmarks.audit kills FOLDER COUNT [postgresql://...]
    python -m tests.benchmarks.audit workers FOLDER COUNT
    python -m tests.benchmarks.audit speed FOLDER [PIECES]
    python -m tests.benchmarks.audit memory COUNT...

What a lot holds is planted by `audit_lot`; nothing but its truth is compared with.
"""

from __future__ import annotations

import json
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
from collections import Counter, defaultdict
from collections.abc import Sequence
from contextlib import closing
from pathlib import Path
from typing import Any

import cv2
import msgspec
import numpy as np
import zxingcpp

from pairing.audit.run import lot
from pairing.audit.run.job import Job
from pairing.audit.run.rows import Row, rows_in
from pairing.audit.run.run_store import FILE
from pairing.audit.run.sources import Source
from pairing.model import Side
from tests.benchmarks.audit_bags import simulated
from tests.benchmarks.audit_lot import draw, truths_in

ROOT = Path(__file__).resolve().parent.parent.parent
PATH = os.pathsep.join(filter(None, (str(ROOT), os.environ.get("PYTHONPATH"))))
"""Of the processes that are started."""

_CLEAR = 0.9

_ANOTHERS = ("other_piece", "pad_neighbor")
"""Errors by which a box holds the number of another piece of the lot."""


PROCESSES = int(os.environ.get("AUDIT_PROCESSES", "2"))


def audit(folder: Path, out: Path, *, is_unsorted: bool = False) -> list[Row]:
    """Run, and give the rows."""
    job = Job(source=Source(root=str(folder)), out=out, is_unsorted=is_unsorted)
    lot.run(job, workers=PROCESSES)
    return list(rows_in(out / lot.ROWS))


def verdicts(folder: Path) -> None:
    """Planted errors by verdict; none may agree."""
    truths = truths_in(folder)
    with tempfile.TemporaryDirectory() as out:
        found = {row.piece: row for row in audit(folder, Path(out))}
    table: dict[str, Counter[str]] = defaultdict(Counter)
    for name, row in found.items():
        truth = truths[name]
        table[f"{truth.error or 'right'}, {truth.by}"][row.verdict] += 1
        if truth.error and row.verdict == "agrees":
            print("WRONG", truth, row.written)
    _print(table)


def bag(folder: Path, missing: float = 0.0, out: Path | None = None) -> None:
    """The same photos without names, some of them taken away."""
    truths = truths_in(folder)
    rng = random.Random(5)
    whose: dict[str, str] = {}
    with tempfile.TemporaryDirectory() as scratch:
        place = Path(scratch) / "bag"
        place.mkdir()
        photos = [one for one in sorted(folder.glob("*.jpg")) if rng.random() >= missing]
        rng.shuffle(photos)
        for n, path in enumerate(photos):
            _put(path, place / f"{n:06}.jpg")
            whose[f"{n:06}.jpg"] = path.name
        rows = audit(place, out or Path(scratch) / "out", is_unsorted=True)
    _tell_bag(truths, whose, rows)


def _put(photo: Path, place: Path) -> None:
    """No symbolic link: an audit follows none that leads out of its folder."""
    try:
        place.hardlink_to(photo)
    except OSError:  # another file system
        shutil.copyfile(photo, place)


def _tell_bag(truths: dict[str, Any], whose: dict[str, str], rows: list[Row]) -> None:
    both = Counter(name[:5] for name in whose.values())
    table: dict[str, Counter[str]] = defaultdict(Counter)
    accused = _accused(rows, whose)
    short = _accused(rows, whose, "box-group-missing") - accused
    twice = _accused(rows, whose, "box-number-twice") - accused - short
    read = {whose[photo.photo][:5] for row in rows if _is_read(row) for photo in row.photos
            if "card" in whose[photo.photo]}  # fmt: skip
    for what, some in (("", set(both)), (" whose boxes were read", read)):
        print(f"{_named(truths, accused, both, some)}{what}: named, as differing or probably so")
        print(f"{_named(truths, short, both, some)}{what}: besides, as lacking a group or more")
        print(f"{_named(truths, twice, both, some)}{what}: besides, one number in several boxes")
    partner: dict[str, str] = {}
    labels: set[str] = set()
    boxes: set[str] = set()
    for row in rows:
        _note_legible(row, whose, labels, boxes)
        names = {whose[photo.photo][:5] for photo in row.photos}
        is_joined = len(row.photos) > 1 and row.match is not None and row.match.counts
        for name in names:
            if is_joined:
                partner[name] = "right" if len(names) == 1 else "wrong"
        if len(names) > 1 and row.verdict == "agrees":
            print("WRONG PARTNER AGREES", names, row.article, row.match)
        for name in names:
            if truths[name].error and row.verdict == "agrees":
                print("PLANTED ERROR AGREES", truths[name])
    # Two boxes with the same number, one of them by mistake: nothing tells which is which.
    elsewhere = {one.box for one in truths.values() if one.error in _ANOTHERS}
    for name, photos in both.items():
        if photos == 2:
            kind = truths[name].error or f"right, {truths[name].by}"
            if truths[name].article in elsewhere:
                kind += ", another box holds its number"
            is_legible = name in labels and name in boxes
            alone = "left open" if is_legible else "a number unread"
            table[kind][partner.get(name, alone)] += 1
    _print(table)


def _accused(rows: list[Row], whose: dict[str, str], code: str = "box-no-article") -> set[str]:
    """Pieces of whose card a row says that its box differs from a label's number, or probably
    does, or that has this finding."""
    return {
        whose[photo.photo][:5]
        for row in rows
        if row.verdict == "differs"
        or (row.match is not None and row.match.would == "differs")
        or any(finding.code == code for finding in row.findings)
        for photo in row.photos
        if "card" in whose[photo.photo]
    }


def _is_read(row: Row) -> bool:
    """Whether its box was read by bars, or each character at 9 to 1 and more."""
    if any(one.side is Side.BOX for one in row.readings):
        return True
    chances = row.box.digit_probabilities if row.box and row.box.read else ()
    return min(chances, default=0.0) >= _CLEAR


def _named(truths: dict[str, Any], accused: set[str], both: Counter[str], some: set[str]) -> str:
    """Shares of some pieces with both photos."""
    whole = {name for name, photos in both.items() if photos == 2 and name in some}
    wrong = {name for name in whole if truths[name].error}
    right = whole - wrong
    return (
        f"{len(wrong & accused)} of {len(wrong)} planted errors, "
        f"{len(right & accused)} of {len(right)} right pieces"
    )


def _note_legible(row: Row, whose: dict[str, str], labels: set[str], boxes: set[str]) -> None:
    """Whose label was read in the row's photos, and in whose box something was."""
    for photo in row.photos:
        name = whose[photo.photo]
        if "label" in name and row.article:
            labels.add(name[:5])
        if "card" in name and (row.written or (row.box and row.box.read)):
            boxes.add(name[:5])


_RUN = (
    "import sys\nfrom pathlib import Path\nfrom pairing.audit.run.job import Job\n"
    "from pairing.audit.run.lot import run\n"
    "from pairing.audit.run.sources import Source\n"
    "if __name__ == '__main__':\n"
    "    engine = store = None\n"
    "    if sys.argv[4:] and sys.argv[4].startswith('postgresql:'):\n"
    "        from pairing.audit.run.run_store import Store\n"
    "        store = Store(Path(sys.argv[2]), results=sys.argv[4], name=sys.argv[5])\n"
    "    elif sys.argv[4:]:\n"
    "        from pairing.audit.run.cluster import Cluster\n"
    "        engine = Cluster(sys.argv[4]).run\n"
    "    job = Job(source=Source(root=sys.argv[1]), out=Path(sys.argv[2]), store=store)\n"
    "    run(job, workers=int(sys.argv[3]), engine=engine)\n"
    "    import resource\n"
    "    own = resource.getrusage(resource.RUSAGE_SELF)\n"
    "    print(f'(own process: {own.ru_utime + own.ru_stime:.1f} s of CPU, '\n"
    "          f'{own.ru_maxrss // 1024} MB at most)')\n"
)


def _started(folder: Path, out: Path, workers: int, *more: str) -> subprocess.Popen[bytes]:
    script = out.parent / "go.py"
    script.write_text(_RUN)
    return subprocess.Popen(
        [sys.executable, str(script), str(folder), str(out), str(workers), *more],
        env={**os.environ, "PYTHONPATH": PATH},
        start_new_session=True,
    )


def kills(folder: Path, count: int, url: str = "") -> None:
    """kill -9 at random moments; then to the end, and the rows compared. With a database each
    try goes on where the last one was killed in a folder of its own, as on another machine."""
    rng = random.Random(1)
    with tempfile.TemporaryDirectory() as scratch:
        place = Path(scratch)
        undisturbed = _started(folder, place / "own", 2)
        undisturbed.wait()
        out, run = place / "out", 0
        killed = 0
        while killed < count:
            more = (url, f"run {run}") if url else ()
            process = _started(folder, out, 2, *more)
            try:
                process.wait(timeout=rng.uniform(0.3, 6))
                print("ended before it was killed; begun again")
                shutil.rmtree(out)
                run += 1
            except subprocess.TimeoutExpired:
                os.kill(process.pid, signal.SIGKILL)
                process.wait()
                killed += 1
                if url:
                    out = place / f"out{killed}"
        _started(folder, out, 2, *((url, f"run {run}") if url else ())).wait()
        _compare(place / "own", out, f"{killed} kills")
        if url:
            _compare_kept(place / "own", url, f"run {run}")


def _compare_kept(own: Path, url: str, name: str) -> None:
    import psycopg

    there = "FROM {} JOIN audit_runs USING (run) WHERE name = %s"
    with psycopg.connect(url) as connection:
        kept = [row for (row,) in connection.execute(
            'SELECT "row" ' + there.format("audit_rows") + " ORDER BY place", (name,)
        )]  # fmt: skip
        (read,) = next(
            connection.execute("SELECT count(*) " + there.format("audit_photos"), (name,))
        )
    same = [msgspec.convert(row, Row) for row in kept] == list(rows_in(own / lot.ROWS))
    print(f"database: rows {'the same' if same else 'NOT THE SAME'}; {read} photos read")


def workers(folder: Path, count: int) -> None:
    """A Dask worker killed again and again, with all its processes; the rows compared."""
    rng = random.Random(2)
    with tempfile.TemporaryDirectory() as scratch:
        place = Path(scratch)
        _started(folder, place / "own", 2).wait()
        scheduler, address = _scheduler(place)
        hands = [_worker(address, place), _worker(address, place)]
        run = _started(folder, place / "out", 2, address)
        killed = 0
        while run.poll() is None and killed < count:
            time.sleep(rng.uniform(1, 5))
            hand = hands.pop(0)
            os.killpg(hand.pid, signal.SIGKILL)
            hand.wait()
            killed += 1
            hands.append(_worker(address, place))
        run.wait()
        for one in (*hands, scheduler):
            os.killpg(one.pid, signal.SIGKILL)
            one.wait()
        _compare(place / "own", place / "out", f"{killed} workers killed")


_FRUGAL = {
    "DASK_DISTRIBUTED__WORKER__PROFILE__ENABLED": "False",
    "DASK_DISTRIBUTED__ADMIN__TICK__INTERVAL": "1s",
}
"""As AUDIT.md tells to start them."""


def _scheduler(place: Path) -> tuple[subprocess.Popen[bytes], str]:
    file = place / "scheduler.json"
    process = _dask("dask_scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard",
                    "--scheduler-file", str(file))  # fmt: skip
    while not (file.exists() and file.stat().st_size):
        time.sleep(0.2)
    return process, json.loads(file.read_text())["address"]


def _worker(address: str, place: Path) -> subprocess.Popen[bytes]:
    return _dask("dask_worker", address, "--no-nanny", "--memory-limit", "0", "--nthreads", "1",
                 "--no-dashboard",
                 "--local-directory", str(place / "dask"))  # fmt: skip


def _dask(*words: str) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [sys.executable, "-m", f"distributed.cli.{words[0]}", *words[1:]],
        env={**os.environ, "PYTHONPATH": PATH, **_FRUGAL},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )


def _compare(own: Path, out: Path, words: str) -> None:
    same = (own / lot.ROWS).read_bytes() == (out / lot.ROWS).read_bytes()
    with closing(sqlite3.connect(out / FILE)) as db:
        (read,) = db.execute("SELECT count(*) FROM audit_photos").fetchone()
    print(f"{words}: rows {'the same' if same else 'NOT THE SAME'}; {read} photos read")


def speed(folder: Path, count: int = 40) -> None:
    """Pieces a second on one process, two, and two Dask workers; CPU beside decoding alone."""
    with tempfile.TemporaryDirectory() as scratch:
        place = Path(scratch)
        photos = place / "photos"
        photos.mkdir()
        chosen = sorted(folder.glob("*.jpg"))[: 2 * count]
        for path in chosen:
            _put(path, photos / path.name)
        print(f"load average {os.getloadavg()[0]:.1f} on {os.cpu_count()} processors")
        one, _ = _timed("one process", lambda: _started(photos, place / "one", 1), count)
        two, two_cpu = _timed("two processes", lambda: _started(photos, place / "two", 2), count)
        scheduler, address = _scheduler(place)
        hands = [_worker(address, place), _worker(address, place)]
        time.sleep(8)
        groups = [process.pid for process in (*hands, scheduler)]
        before = _cpu_of(groups)
        dask, dask_cpu = _timed(
            "two Dask workers", lambda: _started(photos, place / "dask", 2, address), count
        )
        spent = _cpu_of(groups) - before
        print(f"(and on scheduler and workers {spent / count * 1000:.0f} ms of CPU a piece)")
        for process in (*hands, scheduler):
            os.killpg(process.pid, signal.SIGKILL)
            process.wait()
        print(f"efficiency of two {one / two / 2:.2f}; Dask beside two {two / dask:.2f}")
        # The same where other work on the machine makes times worthless.
        print(f"in CPU alone, Dask beside two {two_cpu / (dask_cpu + spent):.2f}")
        _alone(chosen, count)


def _timed(name: str, start: Any, count: int) -> tuple[float, float]:
    """Seconds, and seconds of CPU of what was started."""
    before, began = resource.getrusage(resource.RUSAGE_CHILDREN), time.monotonic()
    start().wait()
    wall = time.monotonic() - began
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    cpu = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    print(f"{name}: {count / wall:.2f} pieces/s; {cpu / count * 1000:.0f} ms of CPU a piece")
    return wall, cpu


def _cpu_of(groups: Sequence[int]) -> float:
    """Seconds of CPU of all living processes in these groups (proc(5): /proc/PID/stat)."""
    ticks = 0
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            fields = (folder / "stat").read_text().rpartition(")")[2].split()
        except OSError:
            continue
        if int(fields[2]) in groups:
            ticks += int(fields[11]) + int(fields[12])
    return ticks / os.sysconf("SC_CLK_TCK")


def _alone(chosen: list[Path], count: int) -> None:
    cv2.setNumThreads(1)
    start = time.process_time()
    for path in chosen:
        gray = cv2.imread(str(path), cv2.IMREAD_GRAYSCALE)
        zxingcpp.read_barcodes(
            gray, formats=zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.Code128)
        )
    spent = time.process_time() - start
    print(f"JPEG decoding and zxing-cpp alone: {spent / count * 1000:.0f} ms of CPU a piece")


def memory(counts: Sequence[int]) -> None:
    """Peak of the parent for so many small photos (its memory does not know their size)."""
    gray = np.random.default_rng(3).normal(200, 12, (60, 80)).clip(0, 255).astype(np.uint8)
    data = cv2.imencode(".jpg", gray)[1].tobytes()
    for count in counts:
        with tempfile.TemporaryDirectory() as scratch:
            photos = Path(scratch) / "photos"
            photos.mkdir()
            for n in range(count // 2):
                for side in ("label", "card"):
                    # No two have one digest; what follows the picture is none of it.
                    name = f"{n:06}-{side}.jpg"
                    (photos / name).write_bytes(data + name.encode())
            (Path(scratch) / "go.py").write_text(_RUN)
            began = time.monotonic()
            done = subprocess.run(
                [sys.executable, str(Path(scratch) / "go.py"), str(photos),
                 str(Path(scratch) / "out"), str(PROCESSES)],
                env={**os.environ, "PYTHONPATH": PATH}, capture_output=True, text=True,
                check=True,
            )  # fmt: skip
            taken = time.monotonic() - began
            print(f"{count} photos in {taken:.0f} s: {done.stdout.strip()}", flush=True)


def _print(table: dict[str, Counter[str]]) -> None:
    columns = sorted({name for counts in table.values() for name in counts})
    print(f"{'':56}" + "".join(f"{name:>11}" for name in columns))
    for name, counts in sorted(table.items()):
        print(f"{name:56}" + "".join(f"{counts[one]:>11}" for one in columns))


def main() -> None:
    """One of the above, by its name."""
    what, *rest = sys.argv[1:]
    match what:
        case "draw":
            processes, seed = (int(one) for one in (*rest[2:], *("2", "7")[len(rest) - 2 :]))
            draw(int(rest[0]), seed, Path(rest[1]), processes)
        case "verdicts":
            verdicts(Path(rest[0]))
        case "bag":
            out = Path(rest[2]) if rest[2:] else None
            bag(Path(rest[0]), float(rest[1]) if rest[1:] else 0.0, out)
        case "simulated":
            simulated(rest)
        case "kills":
            kills(Path(rest[0]), int(rest[1]), *rest[2:])
        case "workers":
            workers(Path(rest[0]), int(rest[1]))
        case "speed":
            speed(Path(rest[0]), int(rest[1]) if rest[1:] else 40)
        case "memory":
            memory([int(one) for one in rest])


if __name__ == "__main__":
    main()
