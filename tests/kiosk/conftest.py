"""Kiosks for the tests: the service in this process, as a process of its own, and a browser."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from pairing.kiosk import Settings, create_app
from pairing.ledger import Ledger
from tests.kiosk.driving import Browser, chromium
from tests.kiosk.making import PIN, SECRETS

ROOT = Path(__file__).resolve().parents[2]


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
        paths = os.pathsep.join((str(ROOT), str(ROOT / "cli")))
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


@pytest.fixture
def service(tmp_path: Path) -> Iterator[Service]:
    """A running kiosk."""
    made = Service(tmp_path)
    made.start()
    yield made
    made.kill()


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


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Chromium, without a screen."""
    chromium()
    opened = Browser()
    yield opened
    opened.close()


__all__ = ["PIN", "Service"]
