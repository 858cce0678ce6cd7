"""A reader ends with its parent and by itself; Ctrl+C at the terminal ends all quietly."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
ENVIRONMENT = {**os.environ, "PYTHONPATH": os.pathsep.join((str(ROOT), str(ROOT / "cli")))}
PATIENCE_S = 120.0
"""For a busy machine; nothing here is measured."""

PARENT = """
import sys
from pathlib import Path
from pairing.photos.worker import PhotoWorker
from tests.photos.spinning import spin
with PhotoWorker(timeout_s=float(sys.argv[2]), is_confined=False) as worker:
    worker.read(spin, Path(sys.argv[1]))
"""


def is_running(pid: int) -> bool:
    """Whether the process is there and not only waiting to be asked how it ended."""
    try:
        stat = Path(f"/proc/{pid}/stat").read_text()
    except OSError:
        return False
    return stat.rpartition(")")[2].split()[0] not in "ZX"


def wait_until(is_so: Callable[[], bool]) -> bool:
    """Whether it came about."""
    end = time.monotonic() + PATIENCE_S
    while not is_so():
        if time.monotonic() > end:
            return False
        time.sleep(0.05)
    return True


@pytest.fixture
def spinning(tmp_path: Path, request: pytest.FixtureRequest) -> Iterator[tuple[int, int]]:
    """A parent and its reader, which never answers: their process numbers."""
    if not Path("/proc/self/stat").exists():
        pytest.skip("needs /proc to see whether a process runs")
    told = tmp_path / "pid"
    command = [sys.executable, "-c", PARENT, str(told), str(request.param)]
    with subprocess.Popen(command, cwd=ROOT, env=ENVIRONMENT) as parent:
        try:
            assert wait_until(told.exists)
            reader = int(told.read_text())
            yield parent.pid, reader
        finally:
            parent.kill()
            parent.wait()
    if is_running(reader):
        os.kill(reader, signal.SIGKILL)


@pytest.mark.parametrize("spinning", [120.0], indirect=True)
def test_a_reader_ends_with_a_parent_that_was_killed(spinning: tuple[int, int]) -> None:
    parent, reader = spinning
    assert is_running(reader)
    os.kill(parent, signal.SIGKILL)
    assert wait_until(lambda: not is_running(reader))


@pytest.mark.parametrize("spinning", [4.0], indirect=True)
def test_a_reader_ends_by_itself_where_nobody_ends_it(spinning: tuple[int, int]) -> None:
    parent, reader = spinning
    os.kill(parent, signal.SIGSTOP)
    assert wait_until(lambda: not is_running(reader))
    assert is_running(parent)


def test_ctrl_c_says_one_line(samples: Path) -> None:
    script = (
        "import signal; signal.signal(signal.SIGINT, signal.default_int_handler); "
        "from counterfoil.main import main; main()"
    )
    command = [sys.executable, "-c", script, "photos", str(samples), "--workers", "2"]
    for wait_s in (0.5, 3.0):  # while the readers start, and while they read
        with subprocess.Popen(
            command,
            env=ENVIRONMENT,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            start_new_session=True,
        ) as process:
            assert wait_until(lambda: len(_started(process.pid)) >= 3)
            time.sleep(wait_s)
            os.killpg(process.pid, signal.SIGINT)
            _, said = process.communicate()
        assert "Traceback" not in said
        assert said.split() == ["Stopped."]
        assert process.returncode == 130


def _started(parent: int) -> list[int]:
    """The processes that a process, with all its threads, has started."""
    lists = Path(f"/proc/{parent}/task").glob("*/children")
    return [int(child) for one in lists for child in one.read_text().split()]
