"""Reports of large lots, opened in a real Chromium: time, memory, and whether one can work in them.

    python -m tests.benchmarks.audit_report ROWS...

Two of each number of rows: 15 in 100 of them not agreeing, and none agreeing. Rows are made up
(`tests.audit.making`), their pictures are those of one sample piece. Of a report of several pages
the first and the last are opened. Needs Chromium.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import cv2

from pairing.audit.reports import crops, outcome
from pairing.audit.run.run_store import Crop
from pairing.photos.files import frames
from tests.audit.making import lot, report_job, row, with_rows
from tests.kiosk.driving import Browser

PHOTO = Path(__file__).resolve().parents[2] / "sample_scans" / "0015-card.jpg"
BOX_PX = ((90, 440), (760, 440), (760, 560), (90, 560))
STEPS = 40

_WORK = """async steps => {
  const rest = () => new Promise(done => requestAnimationFrame(() => setTimeout(done)));
  const timed = async work => { const t = performance.now(); work(); await rest();
    return performance.now() - t };
  const press = key => document.dispatchEvent(new KeyboardEvent("keydown", {key}));
  const next = [];
  for (let n = 0; n < steps; n++) next.push(await timed(() => press("j")));
  const look = (id, text) => timed(() => { const field = document.getElementById(id);
    field.value = text; field.dispatchEvent(new Event("input")); });
  const list = document.getElementById("list");
  const found = {next, scroll: await timed(() => list.scrollTop = 1e9),
    find: await look("find", "0007"), good: await look("good", "0007")};
  await look("find", "");
  found.decide = await timed(() => press("c"));
  return found;
}"""


def _rows(count: int, *, all_open: bool) -> Iterator[Any]:
    """Made-up rows; their photos do not exist."""
    if not all_open:
        yield from lot(count)
        return
    for n in range(count):
        yield row(n, "differs" if n % 20 == 0 else "unread")


def _one(count: int, *, all_open: bool) -> None:
    kind = "all to be looked at" if all_open else "15 in 100 to be looked at"
    with tempfile.TemporaryDirectory() as scratch:
        folder = with_rows(Path(scratch), _rows(count, all_open=all_open))
        with report_job(folder) as job:
            counts, found, missing = outcome.summarize(job, outcome.Records())
            began = time.process_time()
            path = outcome.report(
                job, counts, found, missing, engine=_cut, progress=lambda *_: None
            )
            spent = time.process_time() - began
        pages = sorted(folder.glob("*.html"))
        sizes = sum(one.stat().st_size for one in pages) / 1e6
        print(f"{count:,} rows, {kind}: written in {spent:.1f} s of CPU, {len(pages)} pages, "
              f"{sizes:.1f} MB")  # fmt: skip
        last = max(pages, key=lambda one: (len(one.name), one.name))
        for page in dict.fromkeys((path, last)):
            _opened(page)


def _cut(tasks: Any) -> Iterator[Any]:
    """The pictures of one sample piece for every row, as cutting would give them."""
    picture = _picture()
    for key, work, _ in tasks:
        yield key, Crop(key=work.args[1].key, label=picture, box=picture)


def _picture() -> bytes:
    """A crop of a sample's box, as large and as coarse as they are kept."""
    gray = next(frames(PHOTO)).gray
    cut = crops.level(gray, BOX_PX, is_label=False)
    done, encoded = cv2.imencode(".jpg", cut, (cv2.IMWRITE_JPEG_QUALITY, 50))
    assert done
    return bytes(encoded.tobytes())


def _opened(page: Path) -> None:
    """Open a page in a browser of its own, and work in it."""
    browser = Browser()
    began = time.monotonic()
    tab = browser.open(page.as_uri())
    opened = time.monotonic() - began
    done = tab.run(tab.page.evaluate(_WORK, STEPS))
    used = tab.run(tab.protocol.send("Performance.enable")) or {}
    used = tab.run(tab.protocol.send("Performance.getMetrics"))["metrics"]
    heap = next(one["value"] for one in used if one["name"] == "JSHeapUsedSize") / 1e6
    steps = sorted(done["next"])
    shown = tab.text("#count")
    print(f"  {page.name} ({page.stat().st_size / 1e6:.1f} MB): open in {opened:.1f} s, next row "
          f"{steps[len(steps) // 2]:.0f} ms (slowest {steps[-1]:.0f}), to the end "
          f"{done['scroll']:.0f}, search {done['find']:.0f}, among agreeing {done['good']:.0f}, "
          f"decide {done['decide']:.0f} ms; heap {heap:.0f} MB, browser {_browser_mb():.0f} MB; "
          f"{shown}; errors {tab.errors or 'none'}", flush=True)  # fmt: skip
    browser.close()


def _browser_mb() -> float:
    """Memory of this process's descendants that are of the browser, pages shared between them
    counted once (PSS of Linux)."""
    parents = {}
    for place in Path("/proc").glob("[0-9]*"):
        try:
            words = (place / "stat").read_text().rpartition(")")[2].split()
        except OSError:
            continue
        parents[int(place.name)] = int(words[1])
    ours, total = os.getpid(), 0.0
    for process in parents:
        above = process
        while above in parents and above != ours:
            above = parents[above]
        if above != ours or process == ours:
            continue
        try:
            if b"chrom" not in Path(f"/proc/{process}/cmdline").read_bytes():
                continue
            text = Path(f"/proc/{process}/smaps_rollup").read_text()
        except OSError:
            continue
        total += float(text.partition("Pss:")[2].split()[0]) / 1000
    return total


def main() -> None:
    """Each number of rows, twice."""
    for count in map(int, sys.argv[1:]):
        for all_open in (False, True):
            _one(count, all_open=all_open)


if __name__ == "__main__":
    main()
