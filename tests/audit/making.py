"""Rows and readings made up for tests of what comes after reading: thousands in no time.

Numbers are invented; check digits by python-stdnum.
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import msgspec
from stdnum import ean

from pairing.audit.reports import outcome
from pairing.audit.reports.outcome import ROWS, ReportJob
from pairing.audit.run.rows import Row, write_rows
from pairing.audit.run.run_store import Head, Store
from pairing.audit.run.sources import Source

KINDS = ("one-digit", "adjacent-swap", "dropped", "card-own", "pad-neighbour")
CAUSES = ("box-digits-doubtful", "box-empty", "card-unread")


def label(serial: int, head: str = "95890710527") -> str:
    data = f"{head}{serial:010}"
    return data + ean.calc_check_digit(data)


def row(n: int, verdict: str = "agrees", **changes: Any) -> Row:
    article, card = label(n), label(n, "95909402587")
    wrong = f"{article[:12]}{(int(article[12]) + 1) % 10}{article[13:]}"
    kind, cause = KINDS[n % len(KINDS)], CAUSES[n % len(CAUSES)]
    findings = {
        "agrees": [],
        "differs": [(f"box-{kind}", f"The box <b>differs</b> ({kind}).", "clash")],
        "unread": [(cause, "The box was not read.", "doubt")],
    }[verdict]
    columns = [[a, b] for a, b in zip(article, wrong, strict=True)]
    difference = {"error": kind, "positions": [13], "columns": columns, "passes_check": False}
    corners = [[10.0, 10.0], [200.0, 10.0], [200.0, 60.0], [10.0, 60.0]]
    made = {
        "format": 1,
        "piece": f"{n:05}",
        "verdict": verdict,
        "article": article,
        "card": card,
        "written": {"agrees": article, "differs": wrong, "unread": None}[verdict],
        "written_by": None if verdict == "unread" else ("barcode", "hand", "print")[n % 3],
        "difference": difference if verdict == "differs" else None,
        "findings": [
            {"code": c, "message": m, "positions": [], "action": "Look.", "weight": w}
            for c, m, w in findings
        ],
        "photos": [
            {
                "photo": f"desk{n % 4}/{n:05}-{side}.jpg",
                "sha256": f"{n:063x}{side == 'card':d}",
                "size": 100_000,
                "day": None,
                "skipped": None,
            }
            for side in ("card", "label")
        ],
        "readings": [
            {
                "side": "label",
                "how": "barcode",
                "text": article,
                "photo": f"desk{n % 4}/{n:05}-label.jpg",
                "page": 1,
                "place_px": corners,
            }
        ],
        "box": None,
        "match": None,
        "record": None,
        "desk": f"desk{n % 4}",
        "day": f"2026-11-{1 + n % 20:02}",
        "review": None,
        **changes,
    }
    return msgspec.convert(made, Row)


def lot(count: int, *, differs: float = 0.03, unread: float = 0.12, seed: int = 1) -> Iterator[Row]:
    rng = random.Random(seed)
    for n in range(count):
        chance = rng.random()
        verdict = "differs" if chance < differs else "agrees"
        yield row(n, "unread" if 1 - chance < unread else verdict)


def with_rows(folder: Path, rows: Iterable[Row]) -> Path:
    """A folder that holds these rows."""
    write_rows(rows, folder / ROWS)
    return folder


@contextmanager
def begun(folder: Path) -> Iterator[Store]:
    """The store of a run in this folder."""
    with Store(folder) as store:
        store.begin(Head(photos=str(folder), unsorted=False))
        yield store


@contextmanager
def report_job(folder: Path, **given: Any) -> Iterator[ReportJob]:
    """A finished run whose photos lay in its own folder."""
    with begun(folder) as store:
        yield ReportJob(
            out=folder,
            store=store,
            **{
                "source": Source(root=str(folder)),
                "title": "Audit of a lot",
                "made": "Made now",
                **given,
            },
        )


def on_other_photos(one: Row) -> Row:
    """The same row as if one of its photos had been taken again."""
    first = msgspec.structs.replace(one.photos[0], sha256="f" * 64)
    return msgspec.structs.replace(one, photos=(first, *one.photos[1:]))


def take_back(given: Path, folder: Path) -> tuple[int, int]:
    """As the command does with --decisions."""
    with begun(folder) as store:
        return outcome.take_back(given, store)
