"""No photo is decoded in the process of a command, whatever it does with it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pypdfium2
import pytest
from PIL import Image

from pairing.errors import PhotoUnusable
from pairing.ledger import Ledger
from pairing.photos import files
from pairing.photos.opened_apart import first_apart, frames_apart
from tests.cli.calling import call


@pytest.fixture
def no_decoder(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """In this process; readers are others."""

    def opened(*_: Any, **__: Any) -> None:
        raise AssertionError("decoded in the process of the command")

    monkeypatch.setattr(Image, "open", opened)
    monkeypatch.setattr(pypdfium2, "PdfDocument", opened)
    yield


@pytest.mark.parametrize("kind", ["jpg", "png", "tiff", "pdf"])
def test_frames_are_those_of_the_file(
    tmp_path: Path, kind: str, monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest
) -> None:
    path = tmp_path / f"photo.{kind}"
    page = Image.effect_noise((97, 61), 90)
    more: dict[str, Any] = {"save_all": True, "append_images": [page.rotate(180)] * 2}
    page.save(path, **(more if kind in ("tiff", "pdf") else {}))
    expected = list(files.frames(path))
    assert len(expected) == (3 if kind in ("tiff", "pdf") else 1)
    assert [one.page for one in files.frames(path, 2)] == [one.page for one in expected[1:]]
    request.getfixturevalue("no_decoder")
    found = list(frames_apart(path))
    assert [one.page for one in found] == [one.page for one in expected]
    assert all(np.array_equal(one.gray, own.gray) for one, own in zip(found, expected, strict=True))
    assert np.array_equal(first_apart(path).gray, expected[0].gray)


@pytest.mark.parametrize("content", [b"", b"no photo", b"%PDF-1.4"])
def test_what_is_no_photo_is_said(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "photo.jpg"
    path.write_bytes(content)
    with pytest.raises(PhotoUnusable):
        first_apart(path)


@pytest.mark.usefixtures("no_decoder")
def test_pictures_and_single_digits_are_drawn_from_it(samples: Path, tmp_path: Path) -> None:
    """They were opened once more in the command's own process, which may do anything."""
    photos = [samples / f"0016-{side}.jpg" for side in ("label", "card")]
    out = tmp_path / "out"
    done = call("photos", *photos, "--pictures", out, "--ask", stdin=b"\n\n")
    assert done.code == 10
    assert {one.name for one in out.iterdir()} >= {"0016-label.jpg", "0016-card.jpg"}


@pytest.mark.usefixtures("no_decoder")
def test_forms_are_learned_and_checked_from_it(
    samples: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COUNTERFOIL_FORMS", str(tmp_path / "forms"))
    card = samples / "0044-card.jpg"
    done = call("form", "learn", "harbor-card", card, "--size", "160x92", "--yes")
    assert done.code == 0, done.err
    assert "harbor-card" in call("form", "check", card).out


@pytest.mark.usefixtures("no_decoder")
def test_a_photo_of_a_returned_card_is_read_from_it(samples: Path, tmp_path: Path) -> None:
    Ledger.open(str(tmp_path / "ledger.db")).close()
    card = samples / "0001-card.jpg"
    done = call("returned", "--photo", card, "--ledger", tmp_path / "ledger.db")
    assert "decoded in the process" not in done.err + done.out
