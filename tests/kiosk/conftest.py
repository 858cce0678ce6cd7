"""Kiosks for the tests: the service in this process, as a process of its own, and a browser."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
import uvicorn
from starlette.testclient import TestClient

from pairing.desk import strip_timer
from pairing.kiosk import Settings, create_app, pictures
from pairing.ledger import Kind, Ledger
from tests.conftest import KeptWorker
from tests.kiosk.driving import Browser, Tab
from tests.kiosk.making import SECRETS

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(autouse=True, scope="session")
def patient_reader() -> Iterator[None]:
    """A page waits 20 s for a photo; tests on a busy machine, whose reader starts cold, longer."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(pictures, "TIMEOUT_S", 120.0)
        yield


@pytest.fixture(autouse=True)
def quick_hands(monkeypatch: pytest.MonkeyPatch) -> None:
    """A script turns pieces over in no time; how soon is too soon, tests/desk checks."""
    monkeypatch.setattr(strip_timer, "TURN_OVER_S", 0.0)


class LentReader:
    """The reader of a kiosk whose pictures are not what is tested: one that other tests have
    started already (`readers_are_kept`)."""

    def __init__(self, **_: object) -> None:
        pass

    def read(self, work: Callable[[Path], Any], path: Path) -> Any:
        """As `PhotoWorker.read`."""
        with KeptWorker() as one:
            return one.read(work, path)

    def close(self) -> None:
        """It stays with the tests."""


@pytest.fixture
def lent_reader(monkeypatch: pytest.MonkeyPatch) -> None:
    """No kiosk of this test starts a reader of its own."""
    monkeypatch.setattr(pictures, "PhotoWorker", LentReader)


@pytest.fixture
def ledger(tmp_path: Path) -> Iterator[Ledger]:
    """A new ledger."""
    with Ledger.open(str(tmp_path / "ledger.db")) as opened:
        yield opened


@pytest.fixture
def client(ledger: Ledger) -> Iterator[TestClient]:
    """The service on loopback, in this process."""
    app = create_app(ledger, settings=Settings(desk="desk 1"), secrets=SECRETS)
    with TestClient(app, base_url="http://127.0.0.1", raise_server_exceptions=False) as opened:
        yield opened


@dataclass
class Service:
    """`counterfoil kiosk` as a process. It can be killed and started again."""

    folder: Path
    more: tuple[str, ...] = ()
    port: int = 0
    address: str = ""
    process: subprocess.Popen[str] | None = None
    ledger_path: Path = field(init=False)

    def __post_init__(self) -> None:
        self.ledger_path = self.folder / "ledger.db"
        secrets = self.folder / "kiosk.json"
        secrets.write_text(f'{{"pin": "{SECRETS.pin}", "token": "{SECRETS.token}"}}')

    def start(self) -> None:
        """Start it, on the port that it had before."""
        command = [
            *(sys.executable, "-c", "from counterfoil.main import main; main()", "kiosk"),
            *("--port", str(self.port), "--ledger", str(self.ledger_path), "--desk", "desk 1"),
            *("--secrets", str(self.folder / "kiosk.json"), *self.more),
        ]
        given = os.environ.get("PYTHONPATH")
        paths = os.pathsep.join((str(ROOT), str(ROOT / "cli"), *([given] if given else ())))
        self.process = subprocess.Popen(
            command,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
            env={**os.environ, "PYTHONPATH": paths},
        )
        assert self.process.stdout is not None
        line = self.process.stdout.readline()
        assert "http://" in line, line
        self.address = line.split()[4]
        self.port = int(self.address.rstrip("/").rpartition(":")[2])

    def kill(self) -> None:
        """As when the power goes."""
        if self.process is not None:
            self.process.send_signal(signal.SIGKILL)
            self.process.wait()
            assert self.process.stdout is not None
            self.process.stdout.close()
            self.process = None

    def ledger(self) -> Ledger:
        """Its ledger, opened beside it."""
        return Ledger.open(str(self.ledger_path))


class Hosted:
    """The service on a port, in a thread of this process; quick to start."""

    def __init__(self, ledger: Ledger, settings: Settings) -> None:
        self.kept = ledger
        self._socket = socket.create_server(("127.0.0.1", 0))
        self.address = f"http://127.0.0.1:{self._socket.getsockname()[1]}/"
        app = create_app(ledger, settings=settings, secrets=SECRETS)
        config = uvicorn.Config(app, log_level="error", lifespan="on", ws="none")
        self._server = uvicorn.Server(config)
        self._thread = threading.Thread(target=self._server.run, args=([self._socket],))
        self._thread.start()

    @contextmanager
    def ledger(self) -> Iterator[Ledger]:
        """Its ledger."""
        yield self.kept

    def kinds(self) -> list[Kind]:
        """What its ledger has, in order."""
        return [entry.kind for entry in self.kept.entries()]

    def close(self) -> None:
        """Stop it."""
        self._server.should_exit = True
        self._thread.join()
        self._socket.close()


@pytest.fixture
def service(ledger: Ledger) -> Iterator[Hosted]:
    """A running kiosk."""
    made = Hosted(ledger, Settings(desk="desk 1"))
    yield made
    made.close()


@pytest.fixture
def restless(ledger: Ledger) -> Iterator[Hosted]:
    """A kiosk that wipes its page after eight seconds."""
    made = Hosted(ledger, Settings(idle_s=8))
    yield made
    made.close()


@pytest.fixture
def make_service(tmp_path: Path) -> Iterator[Callable[..., Service]]:
    """Starts a kiosk with further options."""
    made: list[Service] = []

    def start(*more: str) -> Service:
        made.append(Service(tmp_path, more))
        made[-1].start()
        return made[-1]

    yield start
    for one in made:
        one.kill()


@pytest.fixture
def tab(browser: Browser, service: Hosted) -> Iterator[Tab]:
    """The kiosk's page."""
    opened = browser.open(service.address)
    yield opened
    assert opened.errors == []
    opened.close()
