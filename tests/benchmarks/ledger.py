"""How fast the ledger is, beside bare SQLite and bare hashing on the same machine.

    python -m tests.benchmarks.ledger [ENTRIES] [PIECES]

ENTRIES (200000): the size of the ledger that is verified and looked up in.
PIECES (2000): how many durable pieces are timed, in turns with bare commits.
"""

from __future__ import annotations

import resource
import sqlite3
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from hashlib import sha256
from itertools import count
from pathlib import Path

from sqlalchemy import insert

from pairing.findings import Finding
from pairing.ledger import Draft, Kind, Ledger, Observed, Via
from pairing.ledger.database import Database
from pairing.ledger.drafts import Ruling, made
from pairing.ledger.entries import columns, encode
from pairing.ledger.schema import ENTRIES
from pairing.ledger.tip import NO_LEAF, Tip
from pairing.ledger.tree import HASH_BYTES, Frontier, leaf_hash
from pairing.model import How, Side, Verdict
from pairing.numbers.checkdigit import mod10

ROUNDS = 5


def draft(number: int, *, kind: Kind = Kind.PAIRED, key: str = "") -> Draft:
    """A piece as the counter offers it: label and card scanned, the box keyed."""
    article, card = _number(f"92{number:019d}"), _number(f"959094{number:015d}")
    return Draft(
        kind=kind,
        desk="desk 1",
        operator="clerk 7",
        article=article,
        card=card,
        written=article,
        verdict=Verdict.AGREES,
        readings=(
            Observed(
                side=Side.LABEL,
                how=How.BARCODE,
                via=Via.SCAN,
                text=article,
                given=f"]C142028212\x1d{article}",
            ),
            Observed(side=Side.CARD, how=How.BARCODE, via=Via.SCAN, text=card),
            Observed(side=Side.BOX, how=How.KEYED, via=Via.KEYED, text=article),
        ),
        findings=(Finding.read_back("box-keyed", message="The box was keyed by a person."),),
        key=key,
    )


def main() -> None:
    """Run all and print one line each."""
    entries = int(sys.argv[1]) if len(sys.argv) > 1 else 200_000
    pieces = int(sys.argv[2]) if len(sys.argv) > 2 else 2_000
    # Here and not in the folder for temporary files, which may lie in memory.
    with tempfile.TemporaryDirectory(dir=Path.cwd(), prefix=".benchmark-") as name:
        folder = Path(name)
        _appending(folder, pieces)
        small, large = folder / "small.db", folder / "large.db"
        _fill(small, 5_000)
        _fill(large, entries)
        _lookups(small, 5_000, large, entries)
        _verifying(large)


def _appending(folder: Path, pieces: int) -> None:
    ledger = Ledger.open(str(folder / "appended.db"))
    keyed = Ledger.open(str(folder / "keyed.db"))
    sample = [encode(ledger.append(draft(10**9 + number)).entry) for number in range(100)]
    bare = _Bare(folder / "bare.db", sample[-1])
    number = count()
    # What is offered is made beforehand: that is the counter's work, not the ledger's.
    offers = iter([draft(next(number)) for _ in range(pieces + ROUNDS)])
    named = iter([draft(n := next(number), key=f"kiosk-{n:032x}") for _ in range(pieces + ROUNDS)])
    runs: dict[str, list[float]] = {"bare": [], "ledger": [], "ledger, with key": []}
    works: dict[str, Callable[[], object]] = {
        "bare": bare.commit,
        "ledger": lambda: ledger.append(next(offers)),
        "ledger, with key": lambda: keyed.append(next(named)),
    }
    for _ in range(ROUNDS):
        for name, work in works.items():
            runs[name].append(_each_us(work, pieces // ROUNDS))
    base = statistics.median(runs["bare"])
    for name, each in runs.items():
        middle = statistics.median(each)
        print(
            f"{name:17} {1e6 / middle:7.0f} durable pieces/s {middle:7.0f} us each, "
            f"ratio to bare {base / middle:.2f}   ({len(sample[-1])} bytes)"
        )
    ledger.close()
    keyed.close()


class _Bare:
    """The same bytes, committed as durably, and nothing else."""

    def __init__(self, path: Path, data: bytes) -> None:
        self._data = data
        self._connection = sqlite3.connect(path, isolation_level=None)
        self._connection.execute("PRAGMA journal_mode = WAL")
        self._connection.execute("PRAGMA synchronous = FULL")
        self._connection.execute("CREATE TABLE bare (sequence INTEGER PRIMARY KEY, data BLOB)")

    def commit(self) -> None:
        self._connection.execute("BEGIN IMMEDIATE")
        self._connection.execute("INSERT INTO bare (data) VALUES (?)", (self._data,))
        self._connection.execute("COMMIT")


def _fill(path: Path, entries: int) -> None:
    """A ledger of this size, written in bulk; the same rows as one append after the other."""
    database = Database(str(path))
    start_s = time.perf_counter()
    with database.writing() as connection:
        chunk = []
        for row in _rows(entries):
            chunk.append(row)
            if len(chunk) == 5_000:
                connection.execute(insert(ENTRIES), chunk)
                chunk = []
        if chunk:
            connection.execute(insert(ENTRIES), chunk)
    database.close()
    print(f"{entries} entries written in bulk in {time.perf_counter() - start_s:.0f} s")


def _rows(entries: int) -> Iterator[dict[str, object]]:
    frontier, leaf = Frontier(), NO_LEAF
    ruling = Ruling(is_accepted=True, refers=None)
    for number in range(entries):
        at = f"2026-{1 + number * 11 // entries:02d}-01T08:00:00.{number % 1000000:06d}Z"
        entry = made(draft(10**10 + number), ruling, Tip(frontier, leaf), at, "")
        data = encode(entry)
        leaf = leaf_hash(data)
        nodes = frontier.push(leaf)
        assert nodes[:HASH_BYTES] == leaf
        yield {**columns(entry), "nodes": nodes, "canonical": data}


def _lookups(small: Path, few: int, large: Path, many: int) -> None:
    """What a verdict looks up, and the append after it, in a small and a large ledger."""
    ledgers = {few: Ledger.open(str(small)), many: Ledger.open(str(large))}
    looks: dict[int, list[float]] = {few: [], many: []}
    adds: dict[int, list[float]] = {few: [], many: []}
    number = count(10**11)
    step = count(1)
    for _ in range(ROUNDS):
        for size, ledger in ledgers.items():

            def look(ledger: Ledger = ledger, size: int = size) -> None:
                known = draft(10**10 + next(step) * 7919 % size)
                ledger.earlier(article=known.article, card=draft(next(number)).card)

            def add(ledger: Ledger = ledger) -> None:
                ledger.append(draft(next(number)))

            looks[size].append(_each_us(look, 300))
            adds[size].append(_each_us(add, 300))
    for name, each in (("lookup", looks), ("append", adds)):
        middle = {size: statistics.median(found) for size, found in each.items()}
        print(
            f"{name:10} {middle[few]:7.0f} us at {few} entries, {middle[many]:7.0f} us at {many}: "
            f"ratio {middle[many] / middle[few]:.2f}"
        )
    for ledger in ledgers.values():
        ledger.close()


def _verifying(path: Path) -> None:
    with Ledger.open(str(path)) as ledger:
        before_mb = _peak_mb()
        start_s, start_cpu_s = time.perf_counter(), time.process_time()
        report = ledger.verify()
        verify_s, verify_cpu_s = time.perf_counter() - start_s, time.process_time() - start_cpu_s
        after_mb = _peak_mb()
        assert report.is_clean, report.problem
    connection = sqlite3.connect(path)
    rows = connection.execute("SELECT canonical FROM entries")
    hash_s = hash_cpu_s = 0.0
    while some := rows.fetchmany(10_000):
        data = [row[0] for row in some]
        start_s, start_cpu_s = time.perf_counter(), time.process_time()
        for one in data:
            sha256(one).digest()
        hash_s += time.perf_counter() - start_s
        hash_cpu_s += time.process_time() - start_cpu_s
    print(
        f"verify {report.entries} entries: {verify_s:.2f} s ({verify_cpu_s:.2f} s of CPU on all "
        f"cores), hashing the same bytes {hash_s:.2f} s ({hash_cpu_s:.2f} s of CPU): ratio "
        f"{verify_s / hash_s:.1f} by the clock, {verify_cpu_s / hash_cpu_s:.1f} by CPU; peak "
        f"memory {before_mb:.0f} MB before, {after_mb:.0f} MB after"
    )


def _each_us(work: Callable[[], object], times: int) -> float:
    start_s = time.perf_counter()
    for _ in range(times):
        work()
    return (time.perf_counter() - start_s) / times * 1e6


def _number(front: str) -> str:
    return front + mod10(front)


def _peak_mb() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


if __name__ == "__main__":
    main()
