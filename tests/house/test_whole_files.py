"""Files that are read whole: one that never ends, and one that is somebody else's."""

from __future__ import annotations

import errno
import json
from collections.abc import Callable
from pathlib import Path

import pytest

from pairing import whole_file
from pairing.audit.run.records import pairs_in
from pairing.audit.run.review import Decisions
from pairing.audit.statistics.piece_lists import pieces_in
from pairing.errors import CounterfoilError, OutputRefused, TableUnusable
from pairing.kiosk import secret
from pairing.photos.forms.definition import read_form
from pairing.pieces.photo_groups import from_table

ENDLESS = Path("/dev/zero")


@pytest.fixture
def endless(tmp_path: Path) -> Path:
    if not ENDLESS.exists():
        pytest.skip("this system has no device of endless zeros")
    link = tmp_path / "decisions.json"
    link.symlink_to(ENDLESS)
    return link


def test_no_more_is_read_than_is_sensible(tmp_path: Path) -> None:
    path = tmp_path / "table"
    path.write_bytes(b"123456")
    assert whole_file.read(path, 6) == b"123456"
    with pytest.raises(OSError) as raised:
        whole_file.read(path, 5)
    assert raised.value.errno == errno.EFBIG


def test_a_link_to_a_device_that_never_ends_is_refused(endless: Path) -> None:
    with pytest.raises(TableUnusable, match="cannot be read"):
        Decisions.read(endless)
    with pytest.raises(CounterfoilError, match="cannot be read"):
        read_form(endless)
    with pytest.raises(OutputRefused, match="cannot be read"):
        secret.load(endless)


@pytest.mark.parametrize(
    "read",
    [from_table, lambda path: list(pieces_in(path)), lambda path: list(pairs_in(path))],
    ids=["photos --pieces", "sample --from", "audit --expected"],
)
def test_a_table_of_one_line_without_an_end_is_refused(
    endless: Path, read: Callable[[Path], object]
) -> None:
    """Its line was read until the memory was full."""
    with pytest.raises(TableUnusable, match="cannot be read"):
        read(endless)


def test_a_file_of_something_else_is_no_file_of_secrets(tmp_path: Path) -> None:
    """It would be written over by the next token or PIN."""
    path = tmp_path / "settings.json"
    path.write_text(json.dumps({"volume": 3}))
    with pytest.raises(OutputRefused, match="volume"):
        secret.load(path)
    secret.save(path, secret.Secrets(token="", pin=""))
    assert secret.load(path) == secret.Secrets()
