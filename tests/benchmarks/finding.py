"""How fast the ledger's search is.

    python -m tests.benchmarks.finding [PIECES] [URL]

PIECES (1000000): the size of the ledger, each piece with name, address and reference.
URL: an empty PostgreSQL database; by default a new SQLite file, in the working folder.
"""

from __future__ import annotations

import itertools
import random
import sys
import tempfile
import time
from collections.abc import Iterator
from itertools import islice
from pathlib import Path

from sqlalchemy import insert

from pairing.ledger import Ledger
from pairing.ledger.database import Database
from pairing.ledger.drafts import Ruling, made
from pairing.ledger.entries import columns, encode
from pairing.ledger.erasable import seal
from pairing.ledger.schema import ENTRIES, PARTICULARS
from pairing.ledger.tip import NO_LEAF, Tip
from pairing.ledger.tree import HASH_BYTES, Frontier, leaf_hash
from pairing.numbers import printed
from tests.benchmarks.ledger import draft

SEARCHES = 400
SHOWN = 20
"""Hits fetched of each search: a screenful."""

AT_ONCE = 10_000

SYLLABLES = (
    *("or", "rick", "hal", "dane", "wea", "ther", "by", "bran", "dt", "fer", "rand", "pen"),
    *("brook", "tam", "sin", "cor", "win", "ada", "line", "otti", "lie", "mar", "low", "ash"),
    *("ton", "quil", "haven", "sluice", "weir", "kit", "tle", "stan", "mere", "gar", "vey"),
    *("dun", "more", "elm", "hurst"),
)
STREETS = ("Street", "Lane", "Avenue", "Road", "Court", "Square")


def particulars(number: int) -> dict[str, str]:
    """An invented addressee."""
    chance = random.Random(number)
    first, last, street = (
        "".join(chance.choices(SYLLABLES, k=chance.randint(2, 3))).capitalize() for _ in range(3)
    )
    return {
        "name": f"{first} {last}",
        "address": f"{chance.randint(1, 999)} {street} {chance.choice(STREETS)}, Quillhaven",
        "reference": f"20{chance.randint(20, 26)}-CV-{number:07d}",
    }


def main() -> None:
    """Fill a ledger, search in it, and print one line for each kind of search."""
    pieces = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    with tempfile.TemporaryDirectory(dir=Path.cwd(), prefix=".benchmark-") as name:
        url = sys.argv[2] if len(sys.argv) > 2 else str(Path(name) / "ledger.db")
        began = time.perf_counter()
        _fill(url, pieces)
        print(f"{pieces} pieces written in {time.perf_counter() - began:.0f} s{_size(url)}")
        with Ledger.open(url, files=Path(name) / "server") as ledger:
            began = time.perf_counter()
            list(islice(ledger.find("orrick"), SHOWN))
            print(f"taken into the index in {time.perf_counter() - began:.0f} s{_size(url)}")
            _search(ledger, pieces)
            began = time.perf_counter()
            number = draft(pieces // 2).article or ""
            ledger.forget(number, desk="", operator="")
            print(f"one piece erased in {time.perf_counter() - began:.1f} s{_size(url)}")
            gone = list(ledger.find(particulars(pieces // 2)["reference"]))
            print(f"found of it by its reference afterward: {len(gone)}")


def _size(url: str) -> str:
    path = Path(url)
    return f"; {path.stat().st_size / 1e6:.0f} MB" if path.is_file() else ""


def _search(ledger: Ledger, pieces: int) -> None:
    chance = random.Random(7)
    every: list[tuple[float, float]] = []
    for kind, texts in _texts(chance, pieces).items():
        each, none = [], 0
        for text in islice(texts, SEARCHES):
            began, worked = time.perf_counter(), time.process_time()
            hits = list(islice(ledger.find(text), SHOWN))
            spent = time.perf_counter() - began, time.process_time() - worked
            each.append((spent[0] * 1e3, spent[1] * 1e3))
            none += not hits
        every += each
        print(f"{kind:34} {_figures(each)}; nothing found {none} of {SEARCHES}")
    print(f"{'all of these':34} {_figures(every)}")


def _figures(each: list[tuple[float, float]]) -> str:
    """Time on the clock, and in brackets that of this process alone: the machine has others."""

    def at(share: float) -> str:
        on_clock, own = (sorted(kind)[int(len(each) * share)] for kind in zip(*each, strict=True))
        return f"{on_clock:6.1f} ({own:5.1f})"

    return f"median {at(0.5)} ms, 99th percentile {at(0.99)} ms"


def _texts(chance: random.Random, pieces: int) -> dict[str, Iterator[str]]:
    def any_piece() -> Iterator[int]:
        return (chance.randrange(pieces) for _ in itertools.count())

    def numbers() -> Iterator[str]:
        return (draft(one).article or "" for one in any_piece())

    def names(field: str) -> Iterator[str]:
        return (particulars(one)[field] for one in any_piece())

    return {
        "whole name": names("name"),
        "last name": (one.split()[1] for one in names("name")),
        "six letters of a name": (one[1:7].strip() for one in names("name")),
        "first name and half a reference": (
            f"{one['name'].split()[0]} {one['reference'][-4:]}"
            for one in map(particulars, any_piece())
        ),
        "street and number": (one.split(",")[0] for one in names("address")),
        "reference": names("reference"),
        "last five of a reference": (one[-5:] for one in names("reference")),
        "whole number, in groups": (printed(one) for one in numbers()),
        "last six of a number": (one[-6:] for one in numbers()),
        "last four of a number": (one[-4:] for one in numbers()),
        "two printed groups of a number": (printed(one)[20:29] for one in numbers()),
        "a word that most have": itertools.cycle(("Quillhaven", "Street", "cv")),
        "a name that nobody has": (f"Zyx{one}" for one in names("name")),
    }


def _fill(url: str, size: int) -> None:
    """As import does, with hashes, nodes and commitments."""
    database = Database(url, files=Path(url).with_name("server") if "://" in url else None)
    frontier, leaf = Frontier(), NO_LEAF
    entries, names = [], []
    for number in range(size):
        at = f"2026-03-02T09:{number // 60 % 60:02d}:{number % 60:02d}.{number % 10**6:06d}Z"
        offered = draft(number)
        ruling = Ruling(is_accepted=True, refers=None)
        sealed = seal(particulars(number))
        entry = made(offered, ruling, Tip(frontier, leaf, at), at, sealed.commitment)
        data = encode(entry)
        nodes = frontier.push(leaf_hash(data))
        leaf = nodes[:HASH_BYTES]
        entries.append({**columns(entry), "nodes": nodes, "canonical": data})
        names.append({"sequence": number + 1, "salt": sealed.salt, "content": sealed.content})
        if len(entries) == AT_ONCE or number == size - 1:
            with database.writing() as connection:
                connection.execute(insert(ENTRIES), entries)
                connection.execute(insert(PARTICULARS), names)
            entries, names = [], []
    database.close()


if __name__ == "__main__":
    main()
