"""Shared between tests: where the reference material lies, and how slow machines are treated."""

from __future__ import annotations

import os
import shutil
import sys
import tempfile
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import ClassVar, Self, TypeVar

import cv2
import pytest
from hypothesis import HealthCheck, settings

from pairing.desk import cardphoto
from pairing.photos import pool
from pairing.photos.barcodes.engines import load_engines
from pairing.photos.handed import ToOpen
from pairing.photos.worker import PhotoWorker
from tests.kept_readings import KeptReadings
from tests.kiosk.driving import Browser

Result = TypeVar("Result")

ROOT = Path(__file__).resolve().parent.parent
SHARED = ROOT.parent / "shared"

# Time per example says nothing about correctness, and CI machines are busy.
settings.register_profile(
    "counterfoil", deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("counterfoil")

cv2.setNumThreads(1)


def pytest_configure(config: pytest.Config) -> None:
    """Where Python may write no bytecode beside its sources (PYTHONDONTWRITEBYTECODE), it goes to a
    folder of this run: some hundred processes would each compile the same modules again."""
    if not sys.dont_write_bytecode or sys.pycache_prefix is not None:
        return
    folder = tempfile.mkdtemp(prefix="counterfoil-bytecode-")
    config.add_cleanup(partial(shutil.rmtree, folder, ignore_errors=True))
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)  # or it was -B
    os.environ["PYTHONPYCACHEPREFIX"] = sys.pycache_prefix = folder
    sys.dont_write_bytecode = False


@pytest.fixture(scope="session", autouse=True)
def no_forms_of_this_machine(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """A developer's own forms take no part in any test."""
    before = os.environ.get("COUNTERFOIL_FORMS")
    os.environ["COUNTERFOIL_FORMS"] = os.fspath(tmp_path_factory.mktemp("forms"))
    yield
    if before is None:
        del os.environ["COUNTERFOIL_FORMS"]
    else:
        os.environ["COUNTERFOIL_FORMS"] = before


class KeptWorker(PhotoWorker):
    """A reader that outlives the run that started it and is given to the next one: to start one
    takes as long as to read a photo. It knows the folder, the modules and the forms of its
    start."""

    MOST_IDLE: ClassVar[int] = 4
    idle: ClassVar[list[tuple[tuple[object, ...], PhotoWorker]]] = []
    readings: ClassVar[KeptReadings | None] = None

    def __enter__(self) -> Self:
        forms = os.environ.get("COUNTERFOIL_FORMS", "")
        self._place = (str(Path.cwd()), *sys.path, forms, self._is_confined)
        fitting = (one for one in reversed(self.idle) if one[0] == self._place)
        try:
            self.idle.remove(found := next(fitting))
            self._kept = found[1]
        except (StopIteration, ValueError):  # none, or another thread took it
            self._kept = PhotoWorker(is_confined=self._is_confined)
        return self

    def __exit__(self, *_: object) -> None:
        self.idle.append((self._place, self._kept))
        if len(self.idle) > self.MOST_IDLE:
            self.idle.pop(0)[1].close()

    def read(
        self,
        work: Callable[[Path], Result],
        path: Path,
        files: tuple[ToOpen, ...] | None = None,
    ) -> Result:
        """As `PhotoWorker.read`."""
        if self.readings is None or files is not None:
            return self._kept.read(work, path, files)
        found: Result = self.readings.read(self._kept.read, work, path)
        return found


@pytest.fixture(scope="session", autouse=True)
def readers_are_kept(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Runs in this process share their readers, and all runs of the session what was read;
    `tests/photos/test_worker.py` tests readers of its own."""
    base = tmp_path_factory.getbasetemp()
    shared = base.parent if "PYTEST_XDIST_WORKER" in os.environ else base
    KeptWorker.readings = KeptReadings(shared / "readings")
    with pytest.MonkeyPatch.context() as patch:
        for module in (pool, cardphoto):
            patch.setattr(module, "PhotoWorker", KeptWorker)
        yield
    for _, worker in KeptWorker.idle:
        worker.close()


@pytest.fixture(scope="session")
def shared() -> Path:
    """The folder of reference photos and standards beside the repository; skips without it."""
    if not SHARED.is_dir():
        pytest.skip("needs the folder `shared` beside the repository (reference photos, facts)")
    return SHARED


@pytest.fixture(scope="session")
def samples() -> Path:
    """The demo photos of the repository."""
    return ROOT / "sample_scans"


@pytest.fixture(scope="session")
def both_decoders() -> None:
    """Skips where one of the two decoders is missing (libzbar0 is not installed)."""
    if load_engines().missing:
        pytest.skip(" ".join(load_engines().missing))


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Chromium, without a screen; started once."""
    opened = Browser()
    yield opened
    opened.close()
