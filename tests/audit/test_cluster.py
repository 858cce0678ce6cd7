"""The same work on a Dask cluster: a scheduler and workers started by the test."""

from __future__ import annotations

import json
import os
import pickle
import shutil
import signal
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path

import pytest

from pairing.audit.run import cluster, lot
from pairing.audit.run.cluster import Cluster
from pairing.audit.run.job import Job
from pairing.audit.run.sources import Source
from pairing.errors import CounterfoilError
from pairing.photos import confinement, handed
from tests.photos.children import content, say

ROOT = Path(__file__).resolve().parent.parent.parent

pytest.importorskip("distributed", reason="needs counterfoil[cluster]")
pytest.importorskip("fsspec", reason="needs counterfoil[cluster]")


def started(*words: str, **env: str) -> subprocess.Popen[bytes]:
    return subprocess.Popen(
        [sys.executable, "-m", "distributed.cli." + words[0], *words[1:]],
        env={**os.environ, "PYTHONPATH": str(ROOT), **env},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        start_new_session=True,
    )


def worker(address: str, *more: str, **env: str) -> subprocess.Popen[bytes]:
    return started(
        "dask_worker", address, "--nthreads", "1", "--no-dashboard", "--local-directory",
        tempfile.gettempdir(), *more, **env,
    )  # fmt: skip


@contextmanager
def a_scheduler(file: Path) -> Iterator[tuple[subprocess.Popen[bytes], str]]:
    scheduler = started(
        "dask_scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard",
        "--scheduler-file", str(file),
    )  # fmt: skip
    for _ in range(300):
        if file.exists() and file.stat().st_size:
            break
        time.sleep(0.1)
    yield scheduler, json.loads(file.read_text())["address"]
    if scheduler.poll() is None:
        os.killpg(scheduler.pid, signal.SIGKILL)
        scheduler.wait()


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    with a_scheduler(tmp_path_factory.mktemp("dask") / "scheduler.json") as (_, found):
        yield found


@pytest.fixture(scope="module")
def photos(samples: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("photos")
    for name in ("0001", "0014", "0028"):
        for photo in samples.glob(f"{name}*.jpg"):
            shutil.copy2(photo, folder / photo.name)
    return folder


def test_a_cluster_gives_the_rows_of_one_machine_though_a_worker_is_killed(
    address: str, photos: Path, tmp_path: Path
) -> None:
    lot.run(Job(source=Source(root=str(photos)), out=tmp_path / "own"), workers=1)
    first = worker(address, "--no-nanny")
    second: list[subprocess.Popen[bytes]] = []

    some_read = threading.Event()

    def tell(stage: str, done: int, _: int) -> None:
        if stage == "photos read" and done >= 2:
            some_read.set()

    def disturb() -> None:
        some_read.wait(30)
        # Worker and reading process all at once, in the middle of a photo.
        os.killpg(first.pid, signal.SIGKILL)
        # The other way to start one.
        second.append(worker(address, DASK_DISTRIBUTED__WORKER__DAEMON="False"))

    thread = threading.Thread(target=disturb)
    thread.start()
    job = Job(source=Source(root=str(photos)), out=tmp_path / "out")
    with Cluster(address, **job.source.reading) as connected:
        lot.run(job, workers=1, engine=connected.run, progress=tell)
    thread.join()
    first.wait()
    assert (tmp_path / "out" / lot.ROWS).read_bytes() == (tmp_path / "own" / lot.ROWS).read_bytes()
    os.killpg(second[0].pid, signal.SIGKILL)
    second[0].wait()


def test_photos_at_an_address_give_the_same_rows(
    address: str, photos: Path, tmp_path: Path
) -> None:
    """file:// goes the way of every other fsspec address: fetched, read, thrown away."""
    lot.run(Job(source=Source(root=str(photos)), out=tmp_path / "own"), workers=1)
    lot.run(Job(source=Source(root=f"file://{photos}"), out=tmp_path / "out"), workers=1)
    assert (tmp_path / "out" / lot.ROWS).read_text() == (tmp_path / "own" / lot.ROWS).read_text()


def test_a_worker_that_comes_later_gets_work(address: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """More than was sent while there was none, for each of its threads."""
    monkeypatch.setattr(cluster, "_COUNTED_EVERY_S", 0.0)
    monkeypatch.setattr(cluster, "_FEWEST_OUT", 2)
    out = most = 0

    def tasks() -> Iterator[tuple[int, partial[str], Path]]:
        nonlocal out
        for n in range(40):
            out += 1
            yield n, partial(say, "x"), Path(str(n))

    late: list[subprocess.Popen[bytes]] = []
    timer = threading.Timer(
        1, lambda: late.append(worker(address, "--no-nanny", "--nthreads", "2"))
    )
    timer.start()
    with Cluster(address) as connected:
        for _ in connected.run(tasks()):
            most = max(most, out)
            out -= 1
    os.killpg(late[0].pid, signal.SIGKILL)
    late[0].wait()
    assert out == 0
    # One of them is the result in hand.
    assert most - 1 == 2 * cluster._AHEAD > 2


def test_a_reader_on_a_worker_opens_its_photo_alone(tmp_path: Path) -> None:
    """It read the whole lot. (What else is refused: tests/photos/test_confinement.py.)"""
    if said := confinement.trouble():
        pytest.skip(said)
    path = tmp_path / "0001.jpg"
    path.write_text("a photo")
    wanted = (handed.ToOpen("0001.jpg", path, os.fspath(tmp_path)),)
    for own, expected in ((Path("0001.jpg"), "a photo"), (path, "PermissionError")):
        work = pickle.dumps(partial(content, own))
        assert cluster.done_there(work, Path("0001.jpg"), wanted) == expected
    first = cluster._mine.kept[1]
    assert cluster._reader(is_confined=True) is first
    assert cluster._reader(is_confined=False) is not first  # a lot at an address
    assert first._process is None
    del cluster._mine.kept


def test_workers_that_may_not_start_processes_are_told(address: str) -> None:
    process = worker(address, DASK_DISTRIBUTED__WORKER__DAEMON="True")
    with Cluster(address) as connected:
        connected._client.wait_for_workers(1, timeout=60)
        assert connected.troubles() == ((said,) if (said := confinement.trouble()) else ())
        ((_, answer),) = connected.run([(1, partial(say, "x"), Path("x"))])
    os.killpg(process.pid, signal.SIGKILL)
    process.wait()
    assert isinstance(answer, CounterfoilError)
    assert "DAEMON=False" in answer.remedy


def test_a_scheduler_that_is_lost_in_mid_run(tmp_path: Path) -> None:
    tasks = ((n, partial(say, "x"), Path(str(n))) for n in range(10_000))
    with a_scheduler(tmp_path / "scheduler.json") as (scheduler, own):
        process = worker(own, "--no-nanny")
        with Cluster(own) as connected, pytest.raises(CounterfoilError, match="was lost") as caught:
            for n, (_, answer) in enumerate(connected.run(tasks)):
                if isinstance(answer, CounterfoilError):
                    raise answer
                if n == 3:
                    os.killpg(scheduler.pid, signal.SIGKILL)
                    scheduler.wait()
        os.killpg(process.pid, signal.SIGKILL)
        process.wait()
    assert "what was read is kept" in caught.value.remedy


def test_no_scheduler() -> None:
    with pytest.raises(CounterfoilError, match="does not answer"):
        Cluster("tcp://127.0.0.1:9", patience_s=1)
