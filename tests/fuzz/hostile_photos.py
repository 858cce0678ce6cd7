"""Whole photos that were made to do harm, read as any photo is: `python -m
tests.fuzz.hostile_photos [--count 2000] [--jobs N] [--seed N]`.

A twelfth are as large as is taken at all, in every format and color mode, black, noisy or full of
bars; the others are small or real photos with bytes changed. Printed: what became of them, how
many took the child with it (which costs that photo alone), and the most memory that a child held.
"""

from __future__ import annotations

import argparse
import io
import multiprocessing
import random
import tempfile
import time
import traceback
import warnings
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from pairing.errors import PhotoUnusable
from pairing.photos.files import MOST_PIXELS
from pairing.photos.worker import PhotoWorker
from pairing.pieces.reading import read_photo_at
from tests.fuzz.mutating import mutated
from tests.fuzz.targets import SAMPLES, pictures

_ONE_STRIP = {278: 40_000}
"""TIFF's RowsPerStrip (TIFF 6.0): the whole picture in one piece, which is decoded at once."""

LARGE: tuple[tuple[str, str, dict[str, Any]], ...] = (
    ("PNG", "L", {}), ("PNG", "RGB", {}), ("PNG", "RGBA", {}), ("PNG", "LA", {}), ("PNG", "P", {}),
    ("PNG", "1", {}), ("PNG", "I;16", {}), ("GIF", "P", {}), ("WEBP", "RGB", {}),
    ("WEBP", "RGBA", {"lossless": True}), ("JPEG", "L", {}), ("JPEG", "CMYK", {}),
    ("JPEG", "RGB", {"progressive": True, "subsampling": 0}), ("PDF", "RGB", {}), ("PDF", "1", {}),
    ("TIFF", "RGBA", {"compression": "tiff_deflate", "tiffinfo": _ONE_STRIP}),
    ("TIFF", "RGB", {"compression": "tiff_lzw", "tiffinfo": _ONE_STRIP}),
    ("TIFF", "F", {"compression": "tiff_deflate", "tiffinfo": _ONE_STRIP}),
    ("TIFF", "LAB", {"compression": "tiff_deflate", "tiffinfo": _ONE_STRIP}),
    ("TIFF", "I;16", {"compression": "tiff_deflate", "tiffinfo": _ONE_STRIP}),
    ("TIFF", "1", {"compression": "group4", "tiffinfo": _ONE_STRIP}),
)  # fmt: skip


def photo(seed: int) -> tuple[str, bytes]:
    """What it is, and the file's bytes."""
    dice = random.Random(seed)
    if seed % 12 == 0:
        kind, mode, options = LARGE[seed // 12 % len(LARGE)]
        return f"large {kind} {mode}", _large(dice, kind, mode, options)
    if seed % 6 == 1:
        whole = sorted(SAMPLES.glob("*.jpg"))
        data = bytearray(dice.choice(whole).read_bytes())
        for _ in range(dice.choice((1, 3, 30))):
            data[dice.randrange(len(data))] = dice.randrange(256)
        return "real, changed", bytes(data)
    return "small, changed", mutated(dice, pictures())


def _large(dice: random.Random, kind: str, mode: str, options: dict[str, Any]) -> bytes:
    most = 16_383 if kind == "WEBP" else 32_767  # WebP: 14 bits a side
    width = dice.choice((8_900, 8_900, most, MOST_PIXELS // most + 1))
    size = (width, min(most, MOST_PIXELS // width))
    fine = dice.choice((1, 2, 5))
    if dice.random() < 0.3:
        image = Image.new("L", size)
    elif dice.random() < 0.5:
        bars = np.random.default_rng(dice.randrange(2**32)).integers(0, 2, size[0] // fine + 1)
        row = (255 * np.repeat(bars, fine)[: size[0]]).astype(np.uint8)
        image = Image.fromarray(np.broadcast_to(row, (size[1], size[0])).copy())
    else:
        grain = np.random.default_rng(dice.randrange(2**32)).integers(0, 255, (300, 400))
        image = Image.fromarray(grain.astype(np.uint8)).resize(size)
    if mode == "LAB":
        image = Image.merge("LAB", (image, image, image))
    elif mode == "I;16":
        image = Image.fromarray(np.asarray(image).astype(np.uint16) << 8)
    elif mode != "L":
        image = image.convert("RGB").convert(mode) if mode == "CMYK" else image.convert(mode)
    file = io.BytesIO()
    if kind == "PDF":
        options = {"resolution": 300}
    elif kind == "PNG":
        options = {"compress_level": 1}
    image.save(file, kind, **options)
    return file.getvalue()


def run(seeds: range) -> tuple[Counter[str], int, list[str]]:
    """Read these; how often each came to which end, the most kilobytes that a child held, and
    what is a finding."""
    warnings.simplefilter("ignore")
    ends: Counter[str] = Counter()
    most_kb, findings = 0, []
    with tempfile.TemporaryDirectory() as folder, PhotoWorker() as worker:
        path = Path(folder) / "photo.jpg"
        for seed in seeds:
            kind, data = photo(seed)
            path.write_bytes(data)
            del data
            try:
                worker.read(partial(read_photo_at, None), path)
                end = "read"
            except PhotoUnusable as refusal:
                end = _of(refusal)
                if end == "ended its process" or "longer than" in refusal.what:
                    findings.append(f"{seed} {kind}: {refusal.what}")
            except Exception:  # whatever comes is a finding
                end = "TRACEBACK"
                findings.append(f"{seed} {kind}: {traceback.format_exc(limit=-2)}")
            held = _high_water_kb(worker)
            if held > most_kb:
                most_kb = held
                print(f"  {held // 1000} MB after {seed}, {kind}: {end}", flush=True)
            ends[f"{kind.partition(' ')[0]} {end}"] += 1
            if seed % 12 == 0:
                worker.close()  # the next one's peak is its own
    return ends, most_kb, findings


def _of(refusal: PhotoUnusable) -> str:
    return "ended its process" if "ended its process" in refusal.what else "refused"


def _high_water_kb(worker: PhotoWorker) -> int:
    """The most that the child held (proc(5): VmHWM); 0 where it is gone."""
    process = worker._process
    try:
        status = Path(f"/proc/{process.pid}/status").read_text("ascii") if process else ""
    except OSError:
        return 0
    return int(status.partition("VmHWM:")[2].split()[0]) if "VmHWM:" in status else 0


def main() -> None:
    """Spread the photos over processes and print the sums."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--count", type=int, default=2000)
    asked.add_argument("--jobs", type=int, default=1)
    asked.add_argument("--seed", type=int, default=0)
    given = asked.parse_args()
    begun = time.monotonic()
    ends: Counter[str] = Counter()
    most_kb, findings = 0, []
    spawned = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(given.jobs, mp_context=spawned) as pool:
        parts = [
            range(start, min(start + 12, given.seed + given.count))
            for start in range(given.seed, given.seed + given.count, 12)
        ]
        for of_part in pool.map(run, parts):
            ends += of_part[0]
            most_kb = max(most_kb, of_part[1])
            findings += of_part[2]
    for end, count in sorted(ends.items()):
        print(f"{count:6} {end}")
    print("\n".join(findings))
    print(
        f"{sum(ends.values()):,} hostile photos in {time.monotonic() - begun:.0f} s, "
        f"{len(findings)} findings; most memory of a reading process {most_kb / 1000:.0f} MB"
    )
    raise SystemExit(bool(findings))


if __name__ == "__main__":
    main()
