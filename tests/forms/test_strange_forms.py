"""A form's file comes from elsewhere: what no form of ours says is refused when it is brought in,
and is no error of this program's later."""

from __future__ import annotations

import io
import json
import struct
import zipfile
import zlib
from dataclasses import replace
from pathlib import Path
from typing import Any
from unittest import mock

import cv2
import pytest

from pairing.errors import CounterfoilError
from pairing.photos.forms.definition import Form, as_bytes, read_form
from pairing.photos.forms.folder import built_in
from tests.cli.calling import call

BOX = [[8.0, 44.5], [80.0, 44.5], [80.0, 55.0], [8.0, 55.0]]


def own_form() -> Form:
    return replace(next(one for one in built_in() if one.name == "demo-card"), name="office")


def strange(place: Path, *, png: bytes | None = None, **head: Any) -> Path:
    """A form's file with other members than it was written with."""
    with zipfile.ZipFile(io.BytesIO(as_bytes(own_form()))) as file:
        members = {**json.loads(file.read("form.json")), **head}
        picture = file.read("card.png") if png is None else png
    path = place / "strange.form"
    with zipfile.ZipFile(path, "w") as file:
        file.writestr("form.json", json.dumps(members))
        file.writestr("card.png", picture)
    return path


def one_field(name: object = "addressee", corners: object = BOX) -> list[dict[str, object]]:
    return [{"name": name, "corners_mm": corners}]


def test_what_is_not_strange_is_taken(tmp_path: Path) -> None:
    form = read_form(strange(tmp_path, fields=one_field(), only_notes=["a-code"]))
    assert form.fields[0].name == "addressee"
    assert form.only_notes == ("a-code",)


@pytest.mark.parametrize(
    "head",
    [
        {"fields": one_field(name=5)},
        {"fields": one_field(name=["a"])},
        {"fields": one_field(name=None)},
        {"fields": one_field(name="")},
        {"fields": one_field(name="a\x1b[2J")},
        {"fields": one_field(name="a" * 101)},
        {"fields": one_field(corners=[])},
        {"fields": one_field(corners=[[5, 5]])},
        {"fields": one_field(corners=[[5, 5]] * 1000)},
        {"fields": one_field() * 1000},
        {"bars_mm": []},
        {"bars_mm": [[5, 5], [6, 6]]},
        {"only_notes": [5]},
    ],
    ids=str,
)
def test_members_that_no_form_has(tmp_path: Path, head: dict[str, Any]) -> None:
    """They were taken, and `form show` ended with a traceback."""
    with pytest.raises(CounterfoilError):
        read_form(strange(tmp_path, **head))
    done = call("form", "import", strange(tmp_path, **head))
    assert done.code == 13
    assert len(done.err.splitlines()) == 1


def png_of(width: int, height: int) -> bytes:
    """A black picture (PNG specification, 5 and 11.2): 90 MP take 90 KB."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        sum_ = struct.pack(">I", zlib.crc32(kind + data))
        return struct.pack(">I", len(data)) + kind + data + sum_

    packing = zlib.compressobj()
    rows = b"".join(packing.compress(bytes(width + 1)) for _ in range(height)) + packing.flush()
    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    chunks = chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + chunks


@pytest.mark.parametrize("png", [png_of(30_000, 3_000), b"\xff\xd8\xff\xe0" + bytes(40), b""])
def test_a_picture_larger_than_any_card_is_not_opened(tmp_path: Path, png: bytes) -> None:
    """One of 30,000 x 30,000 in a file of 0.9 MB took 1.9 GB."""
    path = strange(tmp_path, png=png)
    with (
        mock.patch.object(cv2, "imdecode", side_effect=AssertionError("opened")),
        pytest.raises(CounterfoilError, match="not a PNG of a card's size"),
    ):
        read_form(path)
