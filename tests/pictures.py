"""Makes README's pictures anew from `sample_scans`: `python -m tests.pictures`. Look at them after.

Needs Chromium. Nothing in them is drawn by hand: the marks are those of `counterfoil photos
--pictures`, the terminal shows what `counterfoil counter` wrote, the two pages are the pages.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.kiosk import Settings
from pairing.ledger import Ledger
from tests.kiosk.conftest import Hosted
from tests.kiosk.driving import Browser
from tests.kiosk.making import copied_pieces

ROOT = Path(__file__).resolve().parent.parent
TARGET = ROOT / "pairing" / "demo" / "pictures"
PIECE = "0015"
"""Two neighboring digits swapped, by hand; the box passes its own check."""
AUDITED = ("0001", "0003", "0005", "0009", "0012", PIECE, "0028", "0032")
WIDE_PX = 960
QUALITY = 55


def counterfoil(*words: str, lines: str = "", folder: Path = ROOT) -> str:
    """What the command line writes to standard output."""
    paths = os.pathsep.join((str(ROOT), str(ROOT / "cli")))
    done = subprocess.run(
        [sys.executable, "-c", "from counterfoil.main import main; main()", *words],
        input=lines,
        capture_output=True,
        text=True,
        check=False,
        cwd=folder,
        env={**os.environ, "PYTHONPATH": paths, "PYTHONIOENCODING": "utf-8", "TZ": "UTC"},
    )
    return done.stdout


def save(name: str, picture: NDArray[np.uint8]) -> None:
    """A small WebP, no wider than README's column."""
    high, wide = picture.shape[:2]
    if wide > WIDE_PX:
        size = (WIDE_PX, round(high * WIDE_PX / wide))
        picture = np.asarray(cv2.resize(picture, size, interpolation=cv2.INTER_AREA), np.uint8)
    TARGET.mkdir(exist_ok=True)
    cv2.imwrite(str(TARGET / f"{name}.webp"), picture, (cv2.IMWRITE_WEBP_QUALITY, QUALITY))


def read(path: Path) -> NDArray[np.uint8]:
    """A picture as (height, width, 3) BGR."""
    found = cv2.imread(str(path))
    assert found is not None, path
    return np.asarray(found, np.uint8)


def checked_pair(folder: Path) -> None:
    """Label and card as they were read, and under them the box with its digits."""
    photos = [str(one) for one in sorted((ROOT / "sample_scans").glob(f"{PIECE}*.jpg"))]
    counterfoil("photos", *photos, "--pictures", str(folder))
    sides = [read(one) for one in sorted(folder.glob(f"{PIECE}-*.jpg"))]
    high = 520
    row = [cv2.resize(one, (round(one.shape[1] * high / one.shape[0]), high)) for one in sides]
    top = np.hstack(row)
    box = read(folder / f"{PIECE}-box.png")
    scaled = cv2.resize(box, (top.shape[1], round(box.shape[0] * top.shape[1] / box.shape[1])))
    save("pair", np.asarray(np.vstack([top, scaled]), np.uint8))


def terminal(browser: Browser, folder: Path) -> None:
    """What the counter wrote of that piece."""
    row = next(one for one in copied_pieces() if one["piece"] == PIECE)
    lines = f"{row['article']}\n{row['card']}\n/{row['box']}\n"
    ledger = str(folder / "counter.db")
    shown = counterfoil("counter", "--ledger", ledger, "--desk", "desk 1", lines=lines)
    page = folder / "terminal.html"
    style = "body{margin:0;background:#12161f;color:#f0ede4}pre{font:16px/1.3 'DejaVu Sans Mono',"
    style += "monospace;margin:14px}"
    escaped = shown.partition("Today:")[0].replace("&", "&amp;").replace("<", "&lt;").rstrip()
    body = f"<meta charset=utf-8><style>{style}</style><body data-ready=yes><pre>{escaped}</pre>"
    page.write_text(body, "utf-8")
    tab = browser.open(page.as_uri(), viewport={"width": 960, "height": 300})
    clip = tab.run(tab.page.query_selector("pre"))
    tab.run(clip.screenshot(path=str(folder / "terminal.png")))
    save("counter", read(folder / "terminal.png"))


def kiosk(browser: Browser, folder: Path) -> None:
    """The kiosk's page after that piece, and the operator's."""
    row = next(one for one in copied_pieces() if one["piece"] == PIECE)
    with Ledger.open(str(folder / "kiosk.db")) as ledger:
        service = Hosted(ledger, Settings(desk="desk 1"))
        tab = browser.open(service.address, viewport={"width": 1024, "height": 600})
        tab.scan(row["article"])
        tab.scan(row["card"])
        tab.key_in(row["box"])
        tab.answer()
        tab.wait(0.5)
        tab.shot(folder / "kiosk.png")
        service.close()
    save("kiosk", read(folder / "kiosk.png"))


def audit(browser: Browser, folder: Path) -> None:
    """The report of a small lot."""
    lot = folder / "lot"
    lot.mkdir()
    for piece in AUDITED:
        for photo in (ROOT / "sample_scans").glob(f"{piece}*.jpg"):
            shutil.copy(photo, lot)
    counterfoil("audit", "lot", "--out", "run", folder=folder)
    report = folder / "run" / "report.html"
    tab = browser.open(report.as_uri(), viewport={"width": 1100, "height": 900})
    tab.wait(0.5)
    tab.shot(folder / "audit.png")
    save("audit", read(folder / "audit.png"))


def main() -> None:
    """All of them."""
    browser = Browser()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        checked_pair(folder / "pair")
        terminal(browser, folder)
        kiosk(browser, folder)
        audit(browser, folder)
    browser.close()
    for one in sorted(TARGET.glob("*.webp")):
        print(one.relative_to(ROOT), f"{one.stat().st_size:,} bytes")


if __name__ == "__main__":
    main()
