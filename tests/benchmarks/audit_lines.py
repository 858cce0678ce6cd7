"""Made-up readings through everything of an audit that comes after reading.

    python -m tests.benchmarks.audit_lines [--bag] PIECES...

With --bag no name tells which photos belong together. Two photos a piece: label and box by bars,
in 1 of 100 the box holds another number, in 10 of 100 nothing was read in it. Index, store,
grouping, judging, summary, tables and report are the real ones; one process each, so that its
memory can be told. Numbers are invented.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

import msgspec

from pairing.audit.reports import outcome
from pairing.audit.run import lot
from pairing.audit.run.codec import encoded
from pairing.audit.run.job import Job
from pairing.audit.run.photo_line import PhotoLine, reader_signature
from pairing.audit.run.records import Records
from pairing.audit.run.run_store import Store
from pairing.audit.run.sources import Source, Wanted
from pairing.model import How, Quad, Reading, Side
from pairing.numbers import identify
from pairing.photos.pool import Done, Task
from pairing.pieces.photo_groups import Photo
from pairing.pieces.reading import FrameReadings, PhotoReadings
from tests.audit.making import label


class MadeUp(Source):
    """Photos that are nowhere."""

    pieces: int
    is_bag: bool

    def photos(self) -> Iterator[Wanted]:
        """Label and card of each piece."""
        for n in range(self.pieces):
            for side in ("card", "label"):
                name = (
                    f"{n % 97:02}/{n:07}{side}.jpg"
                    if self.is_bag
                    else (f"{n % 97:02}/{n:07}-{side}.jpg")
                )
                yield Wanted(photo=name, size=1, stamp="1", shows="" if self.is_bag else side)


def _reading(side: Side, text: str, name: str, top: int) -> Reading:
    place = Quad(
        top_left=(0, top), top_right=(900, top), bottom_right=(900, top + 90),
        bottom_left=(0, top + 90),
    )  # fmt: skip
    return Reading(side=side, how=How.BARCODE, number=identify(text), source=name, quad=place)


def line_of(wanted: Wanted) -> PhotoLine:
    """What was read of it."""
    n = int(wanted.photo[3:10])
    side = Side.LABEL if wanted.photo.endswith("label.jpg") else Side.CARD
    if side is Side.LABEL:
        found = [_reading(Side.LABEL, label(n), wanted.photo, 0)]
    else:
        found = [_reading(Side.CARD, label(n, "95909402587"), wanted.photo, 0)]
        if n % 10 != 7:
            box = label(n + 5 if n % 100 == 1 else n)
            found.append(_reading(Side.BOX, box, wanted.photo, 200))
    frame = FrameReadings(page=1, readings=tuple(found), found=())
    photo = Photo(path=Path(wanted.photo), shows=Side(wanted.shows) if wanted.shows else None)
    read = PhotoReadings(photo=photo, frames=(frame,), missing=())
    return PhotoLine(
        **msgspec.structs.asdict(wanted),
        sha256=f"{n:063x}{side is Side.CARD:d}",
        reader=reader_signature(),
        reading=encoded(read),
    )


def _made(tasks: Iterable[Task[Any, Any]]) -> Iterator[Done[Any, Any]]:
    for wanted, _, _ in tasks:
        yield wanted, line_of(wanted)


def _tell(what: str, began: float, pieces: int) -> float:
    now = time.process_time()
    used = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
    print(f"{pieces:>9,} pieces: {what}, {1000 * (now - began) / pieces:.2f} ms of CPU a piece; "
          f"{used} MB at most so far", flush=True)  # fmt: skip
    return now


def _one(pieces: int, *, is_bag: bool) -> None:
    source = MadeUp(root="/made-up")
    object.__setattr__(source, "pieces", pieces)
    object.__setattr__(source, "is_bag", is_bag)
    with tempfile.TemporaryDirectory() as scratch:
        out, began = Path(scratch) / "out", time.process_time()
        with Store(out) as store:
            job = Job(source=source, out=out, store=store, is_unsorted=is_bag)
            lot.run(job, engine=_made, workers=1)
            _tell("kept, put together, judged (judging's own process aside)", began, pieces)
            began = time.process_time()
            asked = outcome.ReportJob(
                out=out, store=store, source=source, title="t", made="m", csv=True
            )
            summary, found, missing = outcome.summarize(asked, Records())
            outcome.write_tables(asked)
            quiet: Any = {"engine": lambda _: iter(()), "progress": lambda *_: None}
            outcome.report(asked, summary, found, missing, **quiet)
            _tell("summary, CSV, report", began, pieces)
            sizes = [one.stat().st_size // 1000 for one in out.glob("*.html")]
            store_bytes = (out / "run.db").stat().st_size // pieces
            print(f"{dict(summary.verdicts)}, {sizes} kB of pages, {store_bytes} bytes of store "
                  "a piece")  # fmt: skip
        judged = resource.getrusage(resource.RUSAGE_CHILDREN)
        print(f"judging's process: {1000 * judged.ru_utime / pieces:.2f} ms of CPU a piece, "
              f"{judged.ru_maxrss // 1024} MB")  # fmt: skip


def main() -> None:
    """Each count in a process of its own."""
    words = sys.argv[1:]
    bag = ["--bag"] if "--bag" in words else []
    counts = [word for word in words if word.isdecimal()]
    if "--one" in words:
        _one(int(counts[0]), is_bag=bool(bag))
        return
    for count in counts:
        one = [sys.executable, "-m", "tests.benchmarks.audit_lines", "--one", *bag, count]
        subprocess.run(one, check=True)


if __name__ == "__main__":
    main()
