"""The start of a form's laying that has no perspective: as OpenCV refines it, in little memory."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import cv2
import numpy as np
import pytest

from pairing.photos.forms import registration

ROOT = Path(__file__).resolve().parent.parent.parent
_MOST_ADDED_BYTES = 16_000_000
"""A reading process may add 420 MB; OpenCV's own refinement mapped 128 MB (5.0.0)."""


def _places() -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(0)
    here = (100 * rng.random((200, 2))).astype(np.float32)
    way = np.array([[1, 0.1], [-0.1, 1]], np.float32)
    there = here @ way.T + 5 + rng.normal(0, 0.5, here.shape).astype(np.float32)
    there[:60] = 100 * rng.random((60, 2))
    return here, there


def test_it_is_what_opencv_refines() -> None:
    here, there = _places()
    cv2.setRNGSeed(1)
    found, near = registration._level(here, there)
    cv2.setRNGSeed(1)
    other, other_near = cv2.estimateAffine2D(
        here, there, method=cv2.RANSAC, ransacReprojThreshold=registration._OFF_AFFINE_PX
    )
    assert found is not None
    assert near is not None
    assert np.array_equal(near, other_near)
    assert found == pytest.approx(other, abs=1e-4)


@pytest.mark.skipif(not Path("/proc/self/statm").exists(), reason="no /proc on this system")
def test_it_maps_little_memory() -> None:
    """In a process of its own: what a library maps once it keeps."""
    script = (
        "import cv2\n"
        "from tests.forms.test_level_start import _places\n"
        "from pairing.photos.forms import registration\n"
        "def mapped(): return 4096 * int(open('/proc/self/statm').read().split()[0])\n"
        "import numpy as np; np.linalg.lstsq(np.eye(3), np.ones(3), rcond=None)\n"
        "here, there = _places(); before = mapped()\n"
        "registration._level(here, there); print(mapped() - before)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, cwd=ROOT, check=False,
        timeout=120,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert int(done.stdout) < _MOST_ADDED_BYTES
