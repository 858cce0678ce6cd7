"""On a bare system tests of pages are skipped with their reason; they were errors, nine of them,
where the browser is there and what its driver needs is not."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.kiosk import driving

LACKS = "error while loading shared libraries: libatomic.so.1: cannot open shared object file"
"""As Debian 12's loader says it (ld.so, from memory)."""


@pytest.fixture
def driver(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A stand-in for Playwright's driver, beside a browser that is there."""
    pytest.importorskip("playwright._impl._driver", reason="needs playwright")
    program = tmp_path / "node"
    monkeypatch.setattr(shutil, "which", lambda name: f"/usr/bin/{name}")
    monkeypatch.setattr(
        "playwright._impl._driver.compute_driver_executable", lambda: (str(program), "cli.js")
    )
    driving._driver_trouble.cache_clear()
    yield program
    driving._driver_trouble.cache_clear()


def start_with(program: Path, *lines: str) -> None:
    """Make it do this."""
    program.write_text("\n".join(("#!/bin/sh", *lines)) + "\n")
    program.chmod(0o755)


def test_a_library_that_the_driver_lacks_skips_with_what_to_install(driver: Path) -> None:
    start_with(driver, f"echo '{LACKS}' >&2", "exit 127")
    with pytest.raises(pytest.skip.Exception, match="apt install libatomic1; it says: error"):
        driving.chromium()


def test_a_driver_that_says_nothing_skips_with_its_exit_status(driver: Path) -> None:
    start_with(driver, "exit 3")
    with pytest.raises(pytest.skip.Exception, match=r"does not start \(exit status 3\)"):
        driving.chromium()


def test_a_driver_that_starts_is_used(driver: Path) -> None:
    start_with(driver, "exit 0")
    assert driving.chromium() == "/usr/bin/chromium-headless-shell"


def test_without_a_browser_it_is_said_which_to_install(
    driver: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    start_with(driver, "exit 0")
    monkeypatch.setattr(shutil, "which", lambda _: None)
    with pytest.raises(pytest.skip.Exception, match="apt install chromium-headless-shell"):
        driving.chromium()
