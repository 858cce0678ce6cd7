"""HEIC photos: opened where a sound library is, named in one line where it is not.

Heads of files: ISO/IEC 14496-12, section 4.3 and ISO/IEC 23008-12, annex B (brands).
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace

import pytest

from pairing.errors import PhotoUnusable
from pairing.photos import heic
from pairing.photos.files import frames
from tests.cli.calling import call

HEIC = b"\x00\x00\x00\x1cftypheic\x00\x00\x00\x00mif1heicmiaf"
LATER = b"\x00\x00\x00\x18ftypmif1\x00\x00\x00\x00mif1heix"
AVIF = b"\x00\x00\x00\x1cftypavif\x00\x00\x00\x00mif1avifmiaf"


@pytest.fixture(autouse=True)
def asked_anew() -> Iterator[None]:
    """What is installed is asked once a process."""
    heic.trouble.cache_clear()
    yield
    heic.trouble.cache_clear()


def stand_in(libheif: str, libde265: str) -> SimpleNamespace:
    """A library of these versions, worded as pillow-heif 1.8.1 words them."""
    return SimpleNamespace(
        libheif_info=lambda: {
            "libheif": libheif,
            "decoders": {"libde265": f"libde265 HEVC decoder, version {libde265}"},
        },
        register_heif_opener=lambda: None,
    )


@pytest.mark.parametrize(
    ("head", "is_so"),
    [(HEIC, True), (LATER, True), (AVIF, False), (b"", False), (b"\xff\xd8\xff\xe0", False)],
)
def test_what_a_heic_photo_begins_with(head: bytes, is_so: bool) -> None:
    assert heic.is_heic(head + bytes(40)) is is_so


@pytest.mark.parametrize(
    ("libheif", "libde265", "named"),
    [
        ("1.23.4", "1.1.3", ""),
        ("1.24.0", "1.2.0", ""),
        ("1.23.3", "1.1.3", "libheif 1.23.3"),
        ("1.23.10", "1.1.2", "libde265 1.1.2"),
        ("", "1.1.3", "libheif 0"),
    ],
)
def test_an_old_library_is_not_used(
    monkeypatch: pytest.MonkeyPatch, libheif: str, libde265: str, named: str
) -> None:
    monkeypatch.setitem(sys.modules, "pillow_heif", stand_in(libheif, libde265))
    assert named in heic.trouble()
    assert bool(heic.trouble()) is bool(named)


def test_another_decoder_is_not_held_to_a_version_of_this_one(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    other = stand_in("1.23.4", "")
    other.libheif_info = lambda: {"libheif": "1.23.4", "decoders": {"ffmpeg": "FFMPEG 7"}}
    monkeypatch.setitem(sys.modules, "pillow_heif", other)
    assert heic.trouble() == ""


def test_what_is_installed_here_is_sound() -> None:
    pytest.importorskip("pillow_heif", reason="needs the extra [heic]")
    assert heic.trouble() == ""


def test_without_the_library_the_photo_is_named_with_what_to_do(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "pillow_heif", None)
    photo = tmp_path / "0001-card.heic"
    photo.write_bytes(HEIC + bytes(100))
    with pytest.raises(
        PhotoUnusable, match=r"not installed.*pip install --upgrade 'counterfoil\[heic\]'"
    ):
        list(frames(photo))


def test_what_is_installed_is_not_called_absent(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "pillow_heif").mkdir()
    (tmp_path / "pillow_heif/__init__.py").write_text("raise ImportError('libheif.so.1')")
    monkeypatch.delitem(sys.modules, "pillow_heif", raising=False)
    monkeypatch.syspath_prepend(tmp_path)
    assert "is installed and cannot be loaded (libheif.so.1)" in heic.trouble()
    monkeypatch.delitem(sys.modules, "pillow_heif", raising=False)


def test_the_command_says_it_in_one_line(
    tmp_path: Path, samples: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The readers are other processes, which find a module that cannot be imported."""
    (tmp_path / "away" / "pillow_heif").mkdir(parents=True)
    (tmp_path / "away/pillow_heif/__init__.py").write_text("raise ImportError")
    monkeypatch.syspath_prepend(tmp_path / "away")
    (tmp_path / "lot").mkdir()
    (tmp_path / "lot/0001-card.heic").write_bytes(HEIC + bytes(100))
    (tmp_path / "lot/0001-label.jpg").write_bytes((samples / "0001-label.jpg").read_bytes())
    done = call("photos", tmp_path / "lot")
    assert done.code == 11
    assert done.err.count("counterfoil[heic]") == 1
