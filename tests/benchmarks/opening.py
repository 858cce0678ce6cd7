"""Memory and CPU of opening the largest photo that is read.

    python -m tests.benchmarks.opening

Each file is opened in a process of its own, so that its peak is its own.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

import numpy as np
from PIL import Image

from pairing.photos.files import MOST_PIXELS, frames

SIZES_PX = ((4000, 3000), (10_000, MOST_PIXELS // 10_000 - 10))


def main() -> None:
    """Draw noise photos, open each in a fresh process, print one line for each."""
    if len(sys.argv) == 2:
        _open(Path(sys.argv[1]))
        return
    grain = np.random.default_rng(0).integers(0, 255, (300, 400, 3), dtype=np.uint8)
    Image.MAX_IMAGE_PIXELS = None
    cases: tuple[tuple[str, dict[str, Any]], ...] = (
        ("a.jpg", {"quality": 88}),
        ("a.png", {"compress_level": 1}),
    )
    with tempfile.TemporaryDirectory() as folder:
        for size in SIZES_PX:
            for name, options in cases:
                path = Path(folder) / name
                Image.fromarray(grain).resize(size).save(path, **options)
                subprocess.run([sys.executable, "-m", __spec__.name, str(path)], check=True)


def _open(path: Path) -> None:
    start_s = time.process_time()
    (frame,) = frames(path)
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    height, width = frame.gray.shape
    spent_s = time.process_time() - start_s
    print(f"{path.suffix[1:]:5}{width * height / 1e6:6.1f} MP  {spent_s:6.2f} s  {peak_mb:6.0f} MB")


if __name__ == "__main__":
    main()
