"""Random tampering with a ledger's file: `python -m tests.ledger.tampering [COUNT] [SEED]`.

Rows removed, swapped or replaced, heads cut, columns and tables altered, bytes of entries
flipped. A change that leaves every row of every table as it was does not count.
"""

from __future__ import annotations

import random
import shutil
import sqlite3
import sys
import tempfile
from contextlib import closing
from pathlib import Path

from pairing.errors import CounterfoilError
from pairing.ledger import Ledger
from tests.ledger.making import Clock, pair

_SIZE = 20
_TABLES = ("entries", "heads", "signers", "particulars", "photos")


def make(path: Path) -> None:
    """A closed ledger with names, a photo and a signed head."""
    with Ledger.open(str(path), clock=Clock()) as ledger:
        for number in range(_SIZE):
            ledger.append(pair(number, number, particulars={"name": f"Invented {number}"}))
        ledger.keep_photo(b"a photo")
        ledger.sign_head()
        ledger.append(pair(900, 900))
    with closing(sqlite3.connect(path)) as tool:
        tool.execute("PRAGMA journal_mode = DELETE")


def tampered(path: Path, dice: random.Random) -> str:
    """Do one thing to the file; what it was."""
    with closing(sqlite3.connect(path, isolation_level=None)) as tool:
        for name in ("entries_no_update", "entries_no_delete"):
            tool.execute(f"DROP TRIGGER {name}")
        table = dice.choice(_TABLES)
        rows = [row for (row,) in tool.execute(f"SELECT rowid FROM {table}")]
        row = dice.choice(rows)
        columns = [one[1] for one in tool.execute(f"PRAGMA table_info({table})")]
        column = dice.choice(columns)
        what = dice.randrange(5)
        try:
            if what == 0:
                tool.execute(f"DELETE FROM {table} WHERE rowid = ?", (row,))
            elif what == 1:
                tool.execute(f"DELETE FROM {table} WHERE rowid >= ?", (row,))
            elif what == 2:
                other = dice.choice(rows)
                tool.execute(
                    f"UPDATE {table} SET {column} = (SELECT {column} FROM {table} "
                    "WHERE rowid = ?) WHERE rowid = ?", (other, row),
                )  # fmt: skip
            else:
                _flip(tool, table, column, row, dice)
        except sqlite3.IntegrityError:
            pass  # the tables' own rules refused it: nothing was changed
    return f"{table}.{column} row {row}, way {what}"


def _flip(tool: sqlite3.Connection, table: str, column: str, row: int, dice: random.Random) -> None:
    """Another bit, character or count in one cell."""
    (value,) = tool.execute(f"SELECT {column} FROM {table} WHERE rowid = ?", (row,)).fetchone()
    new: object
    if isinstance(value, bytes):
        data = bytearray(value)
        data[dice.randrange(len(data))] ^= 1 << dice.randrange(8)
        new = bytes(data)
    elif isinstance(value, int):
        new = value + dice.choice((-1, 1, 1000))
    else:
        new = (value or "") + dice.choice("0az")
    tool.execute(f"UPDATE {table} SET {column} = ? WHERE rowid = ?", (new, row))


def dump(path: Path) -> list[object]:
    """Every row of every table."""
    with closing(sqlite3.connect(path)) as tool:
        return [tool.execute(f"SELECT * FROM {one} ORDER BY 1, 2").fetchall() for one in _TABLES]


def is_named(path: Path) -> bool:
    """Whether `verify` says that something is wrong or is gone, or the ledger cannot be read."""
    try:
        with Ledger.open(str(path)) as ledger:
            report = ledger.verify()
    except CounterfoilError:
        return True
    told = (report.gone, report.photos_gone, report.unrecorded, report.unsigned)
    return not report.is_clean or any(told)


def unnamed(folder: Path, count: int, seed: int) -> list[str]:
    """Of so many tamperings those that were not named."""
    dice, missed, done = random.Random(seed), [], 0
    template = folder / "template"
    template.mkdir()
    make(template / "ledger.db")
    assert not is_named(template / "ledger.db"), "untouched, everything fits"
    before = dump(template / "ledger.db")
    while done < count:
        place = folder / "place"
        shutil.copytree(template, place)
        what = tampered(place / "ledger.db", dice)
        if dump(place / "ledger.db") != before:
            done += 1
            if not is_named(place / "ledger.db"):
                missed.append(what)
        shutil.rmtree(place)
    return missed


def main() -> None:
    """Count, and list what was missed."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    seed = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    with tempfile.TemporaryDirectory() as folder:
        missed = unnamed(Path(folder), count, seed)
    print(*missed, sep="\n")
    print(f"{count - len(missed)} of {count} tamperings named")
    sys.exit(bool(missed))


if __name__ == "__main__":
    main()
