"""Shared between tests: where the reference material lies, and how slow machines are treated."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, settings

from pairing.photos.barcodes.engines import load_engines
from tests.kiosk.driving import Browser

ROOT = Path(__file__).resolve().parent.parent
SHARED = ROOT.parent / "shared"

# Time per example says nothing about correctness, and CI machines are busy.
settings.register_profile(
    "counterfoil", deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("counterfoil")


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
