"""A report of a large lot in pages, and pictures in a folder beside it."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pytest

from pairing.audit.reports import crop_files, outcome, page
from pairing.audit.run.sources import Source
from pairing.errors import TableUnusable
from pairing.photos.pool import Pool
from tests.audit.making import report_job, row, with_rows


def held(path: Path, what: str) -> Any:
    """The JSON in a page."""
    found = re.search(f'id="{what}">(.*?)</script>', path.read_text("utf-8"), re.DOTALL)
    assert found
    return json.loads(found[1])


def test_pages_hold_every_piece_once_those_that_differ_first(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(page, "PAGE", 4)
    monkeypatch.setattr(page, "PAGE_AGREEING", 5)
    kinds = ("unread", "differs", "agrees", "agrees", "agrees")
    found = [row(n, kinds[n % 5]) for n in range(25)]
    (tmp_path / "report-9.html").write_text("of an earlier run")
    (tmp_path / "report-notes.html").write_text("somebody's own")
    with report_job(with_rows(tmp_path, found)) as job:
        outcome.report(
            job, outcome.Summary(), None, 0,
            engine=Pool[Any, Any](1).run, progress=lambda *_: None,
        )  # fmt: skip
    pages = [tmp_path / name for name in ("report.html", "report-2.html", "report-3.html")]
    bad = [one for path in pages for one in held(path, "exceptions")]
    assert [one["verdict"] for one in bad] == ["differs"] * 5 + ["unread"] * 5
    assert [len(held(path, "exceptions")) for path in pages] == [4, 4, 2]
    good = [one[0] for path in pages for one in held(path, "agreeing")]
    assert sorted([*good, *(one["piece"] for one in bad)]) == [f"{n:05}" for n in range(25)]
    left = sorted(path.name for path in tmp_path.glob("report*.html"))
    assert left == ["report-2.html", "report-3.html", "report-notes.html", "report.html"]
    assert 'href="report-3.html"' in pages[0].read_text("utf-8")


def test_pictures_are_cut_for_pieces_that_are_named(tmp_path: Path) -> None:
    """Agreeing ones too; names as encodeURIComponent has them."""
    name = "desk 1/0001 ä"
    photos = tmp_path / "photos" / "desk1"
    photos.mkdir(parents=True)
    gray = np.full((120, 300), 200, np.uint8)
    cv2.imwrite(str(photos / "00001-label.jpg"), gray)
    found = [row(1, piece=name), row(2)]
    with report_job(
        with_rows(tmp_path, found), source=Source(root=str(tmp_path / "photos"))
    ) as job:
        tools: Any = {"engine": Pool[Any, Any](1).run, "progress": lambda *_: None}
        folder = outcome.write_crops(job, [name], **tools)
        assert [path.name for path in folder.iterdir()] == ["desk%201%2F0001%20%C3%A4-label.jpg"]
        cut = cv2.imread(str(next(folder.iterdir())))
        assert cut is not None
        assert cut.shape[1] > 100
        with pytest.raises(TableUnusable, match="No row"):
            outcome.write_crops(job, ["nobody"], **tools)
    assert crop_files.names("a(b)~") == ("a(b)~-label.jpg", "a(b)~-box.jpg")
