"""`counterfoil kiosk`: what it shows once, what it keeps, and what it refuses to start with."""

from __future__ import annotations

import json
import socket
import stat
from pathlib import Path
from typing import Any

import pytest
from argon2 import PasswordHasher
from click.testing import CliRunner, Result

from counterfoil.commands import kiosk
from pairing.errors import CounterfoilError
from pairing.kiosk import secret
from pairing.kiosk.settings import Settings, is_loopback


@pytest.fixture
def started(monkeypatch: pytest.MonkeyPatch) -> list[tuple[Settings, secret.Secrets]]:
    """What would have been served."""
    found: list[tuple[Settings, secret.Secrets]] = []

    def serve(_: object, *, settings: Settings, secrets: secret.Secrets, **__: Any) -> None:
        found.append((settings, secrets))

    monkeypatch.setattr(kiosk, "serve", serve)
    return found


def run(tmp_path: Path, *more: str) -> Result:
    """The command with a ledger and a file of its own."""
    own = ["--ledger", str(tmp_path / "ledger.db"), "--secrets", str(tmp_path / "kiosk.json")]
    return CliRunner().invoke(kiosk.command, [*own, *more], standalone_mode=False)


def shown(result: Result, what: str) -> str:
    """The secret behind `what: `; "" where none was shown."""
    lines = [line for line in result.stderr.splitlines() if line.startswith(what)]
    return lines[0].rpartition(": ")[2] if lines else ""


def test_the_pin_is_shown_once_and_kept_hashed(
    tmp_path: Path, started: list[tuple[Settings, secret.Secrets]]
) -> None:
    first = run(tmp_path)
    pin = shown(first, "Operator's PIN")
    assert len(pin) == secret.PIN_DIGITS
    assert pin.isdigit()
    file = tmp_path / "kiosk.json"
    assert pin not in file.read_text()
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert secret.is_right(pin, started[0][1].pin)
    assert not secret.is_right(pin[::-1] + "0", started[0][1].pin)
    again = run(tmp_path)
    assert shown(again, "Operator's PIN") == ""
    assert started[1][1] == started[0][1]
    new = shown(run(tmp_path, "--new-pin"), "Operator's PIN")
    assert secret.is_right(new, started[2][1].pin)
    assert not secret.is_right(pin, started[2][1].pin)


def test_an_open_address_needs_a_token_and_asks_for_tls(
    tmp_path: Path, started: list[tuple[Settings, secret.Secrets]]
) -> None:
    local = run(tmp_path)
    assert shown(local, "Access token") == ""
    assert started[0][0].is_loopback
    opened = run(tmp_path, "--host", "0.0.0.0")
    token = shown(opened, "Access token")
    assert secret.is_right(token, started[1][1].token)
    assert token not in (tmp_path / "kiosk.json").read_text()
    assert "TLS" in opened.stderr
    behind = run(tmp_path, "--host", "0.0.0.0", "--tls-in-front")
    assert shown(behind, "Access token") == ""
    assert "put a proxy" not in behind.stderr
    assert started[2][0].is_tls_in_front


@pytest.mark.parametrize("is_root", [True, False])
def test_running_as_root_is_said(
    tmp_path: Path,
    started: list[tuple[Settings, secret.Secrets]],
    monkeypatch: pytest.MonkeyPatch,
    is_root: bool,
) -> None:
    monkeypatch.setattr(kiosk, "is_root", lambda: is_root)
    assert ("runs as root" in run(tmp_path).stderr) is is_root
    assert started


@pytest.mark.parametrize(
    ("host", "is_own"),
    [("127.0.0.1", True), ("::1", True), ("[::1]", True), ("localhost", True),
     ("0.0.0.0", False), ("::", False), ("192.0.2.1", False), ("example.org", False)],
)  # fmt: skip
def test_loopback(host: str, is_own: bool) -> None:
    assert is_loopback(host) is is_own


@pytest.mark.parametrize("content", ["", "[]", "{", "null", "[" * 100_000, '{"pin": 1}'])
def test_a_damaged_file_of_secrets_is_said(
    tmp_path: Path, started: list[tuple[Settings, secret.Secrets]], content: str
) -> None:
    """Starting with a new PIN instead would let in whoever could damage the file."""
    (tmp_path / "kiosk.json").write_text(content)
    assert isinstance(run(tmp_path).exception, CounterfoilError)
    assert started == []


@pytest.mark.parametrize("stored", ["", "scrypt$$", "scrypt$x$y", "md5$AA==$AA==", "$$$"])
def test_what_is_no_hash_lets_nobody_in(stored: str) -> None:
    assert not secret.is_right("", stored)
    assert not secret.Checked(stored).is_right("anything")


def test_an_address_in_use_is_said(tmp_path: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        result = run(tmp_path, "--port", str(taken.getsockname()[1]))
    assert isinstance(result.exception, CounterfoilError)
    assert "--port" in str(result.exception)


def test_the_systemd_unit() -> None:
    result = CliRunner().invoke(kiosk.command, ["--systemd"])
    assert result.exit_code == 0
    assert "{" not in result.output
    line = next(line for line in result.output.splitlines() if line.startswith("ExecStart="))
    assert line.endswith(" kiosk")
    for wanted in ("[Unit]", "[Service]", "[Install]", "Restart=always", "NoNewPrivileges=yes"):
        assert wanted in result.output


OLD_PIN = "31415926"
OLD_HASH = "scrypt$JaZM/sGc9STlXXvX96WFpQ==$M4ahNa3vu1s548Ukl4ogiocWwc/TY5WVsbFU1ZCR4AI="
"""As version 0.1.0 stored a PIN, written by commit c60a107: scrypt, its cost not stored."""


def test_hashes_are_salted_and_hold_their_parameters() -> None:
    """RFC 9106: argon2id; PHC string format. The same secret never looks the same twice."""
    one, other = secret.hashed("secret"), secret.hashed("secret")
    assert one != other
    assert one.startswith("$argon2id$v=19$m=65536,t=3,p=4$")
    assert secret.is_right("secret", one)
    assert secret.is_right("secret", other)
    assert not secret.is_right("Secret", one)


def test_a_hash_of_another_cost_is_still_right_and_is_renewed() -> None:
    cheap = PasswordHasher(time_cost=1, memory_cost=1024, parallelism=1).hash("secret")
    renewed: list[str] = []
    checked = secret.Checked(cheap, renewed.append)
    assert not checked.is_right("other")
    assert renewed == []
    assert checked.is_right("secret")
    assert len(renewed) == 1
    assert not secret.needs_rehash(renewed[0])
    assert secret.is_right("secret", renewed[0])


def test_an_old_file_of_secrets_opens_and_its_hash_is_renewed(tmp_path: Path) -> None:
    file = tmp_path / "kiosk.json"
    token = secret.hashed("token")
    file.write_text(json.dumps({"token": token, "pin": OLD_HASH}))
    kept = secret.load(file)
    renew = secret.SecretFile(file, kept).renew
    checked = secret.Checked(kept.pin, lambda new: renew(pin=new))
    assert not checked.is_right("31415927")
    assert secret.load(file) == kept
    assert checked.is_right(OLD_PIN)
    after = secret.load(file)
    assert after.token == token
    assert after.pin.startswith("$argon2id$")
    assert secret.is_right(OLD_PIN, after.pin)
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
