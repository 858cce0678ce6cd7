"""Erasing and keeping beside the entries: with the entry that says so, or not at all."""

from __future__ import annotations

import errno
import os
from datetime import UTC, datetime
from hashlib import sha256
from pathlib import Path

import pytest

from pairing.errors import LedgerUnusable
from pairing.ledger import Ledger
from pairing.ledger.database import Database
from tests.ledger.making import label, pair


def test_what_is_erased_is_noted_in_the_same_transaction(url: str, tmp_path: Path) -> None:
    """A disk that fills up in between used to leave names erased, "nothing was recorded" said,
    and nothing that would ever record it."""
    is_full = False

    def clock() -> datetime:
        if is_full:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        return datetime(2026, 3, 2, 9, tzinfo=UTC)

    with Ledger.open(url, clock=clock, files=tmp_path / "files") as ledger:
        ledger.append(pair(1, 1, particulars={"name": "Invented One"}))
        is_full = True
        with pytest.raises(LedgerUnusable, match="Nothing was recorded"):
            ledger.forget(label(1), desk="d", operator="o")
        with pytest.raises(LedgerUnusable, match="Nothing was recorded"):
            ledger.keep_photo(b"a photo")
        assert ledger.photo(sha256(b"a photo").hexdigest()) is None
        assert ledger.particulars(1) == {"name": "Invented One"}
        is_full = False
        assert ledger.forget(label(1), desk="d", operator="o") == 1
        assert ledger.particulars(1) is None
        report = ledger.verify()
        assert report.is_clean
        assert report.gone == ()


def test_an_erasing_that_stays_in_the_files_is_said_and_done_again(
    ledger: Ledger, monkeypatch: pytest.MonkeyPatch
) -> None:
    ledger.append(pair(1, 1, particulars={"name": "Invented One"}))

    def full(_database: Database) -> None:
        raise LedgerUnusable("The disk is full", where="x", remedy="Nothing was recorded.")

    with monkeypatch.context() as patched:
        patched.setattr(Database, "flush_erased", full)
        for _ in range(2):
            with pytest.raises(LedgerUnusable, match="erased and recorded, but"):
                ledger.forget(label(1), desk="d", operator="o")
    assert ledger.forget(label(1), desk="d", operator="o") == 0
    assert ledger.verify().gone == ()
