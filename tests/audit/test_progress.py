"""A line a minute while a run reads: share, rate, time left; what was not read so far, and why."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

import pytest

from counterfoil.progress import MinuteLog
from pairing.audit.run import lot
from pairing.audit.run.codec import encoded
from pairing.audit.run.job import Job
from pairing.audit.run.photo_line import PhotoLine
from pairing.audit.run.reading_tally import NOTHING, ReadingTally
from pairing.audit.run.rows import rows_in
from pairing.audit.run.sources import Source
from pairing.errors import ReadersLost
from pairing.findings import Code
from pairing.judge.box.evidence import Seen, Unread
from pairing.model import How, Quad, Reading, Side
from pairing.numbers import identify
from pairing.photos.pool import Done, Task
from pairing.pieces.photo_groups import Photo
from pairing.pieces.reading import FrameReadings, PhotoReadings
from tests.audit.making import label

PLACE = Quad(top_left=(0, 0), top_right=(9, 0), bottom_right=(9, 9), bottom_left=(0, 9))


def line(
    side: Side | None, reason: Unread | None = None, *, is_unusable: bool = False
) -> PhotoLine:
    """A photo with one symbol, and a box that was not read."""
    if is_unusable:
        return PhotoLine(photo="a", size=1, stamp="", shows="", unusable="It is damaged.")
    seen = None
    if reason is not None:
        seen = Seen(
            source="a", how=How.HAND, evidence=None, reason=reason, digit_probabilities=(),
            digit_quads=(), box=PLACE,
        )  # fmt: skip
    number = identify(label(1))
    found = Reading(side=side or Side.CARD, how=How.BARCODE, number=number, source="a", quad=PLACE)
    frame = FrameReadings(page=1, readings=(found,) if side else (), found=(), seen=seen)
    read = PhotoReadings(photo=Photo(path=Path("a"), shows=None), frames=(frame,), missing=())
    return PhotoLine(photo="a", size=1, stamp="", shows="", reading=encoded(read))


@pytest.mark.parametrize(
    ("one", "cause"),
    [
        (line(Side.LABEL), None),
        (line(Side.BOX), None),
        (line(Side.CARD, Unread.FORM_UNKNOWN), Code.FORM_UNKNOWN),
        (line(Side.CARD), Code.BOX_UNREAD),
        (line(None), NOTHING),
        (line(None, is_unusable=True), Code.PHOTO_SKIPPED),
    ],
)
def test_why_a_photo_was_not_read(one: PhotoLine, cause: str | None) -> None:
    tally = ReadingTally()
    tally.add(one)
    assert list(tally.causes) == ([] if cause is None else [cause])


def test_a_line_a_minute_and_no_more(tmp_path: Path) -> None:
    """1,201 photos in 600 s are 2 a second (the first one is done when the stage is told of), and
    2,799 more take 23 minutes."""
    now, said = [0.0], list[str]()
    log = MinuteLog(tmp_path / "progress.log", echo=said.append, clock=lambda: now[0])
    for _ in range(11):
        log.tally.add(line(Side.CARD, Unread.FORM_UNKNOWN))
    for _ in range(13):
        log.tally.add(line(Side.LABEL))
    for done in range(1, 1202):
        now[0] = (done - 1) / 2
        log.tell("photos read", done, 4000)
    assert len(said) == 10
    assert said[-1].startswith("1,201 of 4,000 photos read (30.0 %), 2.0 a second, 23 min left; ")
    assert "11 of 24 photos not read (45.8 %): 11 card's form not known (teach it" in said[-1]
    written = (tmp_path / "progress.log").read_text().splitlines()
    assert [one.partition("Z ")[2] for one in written] == said


def test_what_was_kept_is_named_when_the_readers_are_lost(tmp_path: Path) -> None:
    photos = tmp_path / "photos"
    photos.mkdir()
    for n in range(3):
        (photos / f"{n}.jpg").write_bytes(b"x")

    def engine(tasks: Iterable[Task[Any, Any]]) -> Iterator[Done[Any, Any]]:
        for wanted, _, _ in tasks:
            if wanted.photo == "2.jpg":
                raise ReadersLost("The scheduler was lost", where="tcp", remedy="Start it.")
            yield wanted, PhotoLine(photo=wanted.photo, size=1, stamp=wanted.stamp, shows="")

    job = Job(source=Source(root=str(photos)), out=tmp_path / "out")
    with pytest.raises(ReadersLost, match="2 of 3 photos are read, and kept in "):
        lot.run(job, engine=engine)


def test_a_name_that_is_no_text_leads_to_its_file(tmp_path: Path) -> None:
    """Bytes that are not UTF-8; and the same spelled out by somebody, which is another file."""
    own, spelled = os.fsdecode(b"caf\xe9.jpg"), "caf\\xe9-2.jpg"
    for name in (own, spelled):
        (tmp_path / name).write_bytes(name.encode("utf-8", "surrogateescape"))
    source = Source(root=str(tmp_path))
    found = [one.photo for one in source.photos()]
    assert found == ["caf\\xe9-2.jpg", "caf\\xe9.jpg"]
    before = Path.cwd()
    try:
        for name, content in zip(found, (spelled.encode(), b"caf\xe9.jpg"), strict=True):
            assert source.wanted(name).size == len(content)
            with source.at_hand(name) as file:
                assert file.read_bytes() == content
    finally:
        os.chdir(before)


def test_a_photo_whose_name_is_no_text_is_read(samples: Path, tmp_path: Path) -> None:
    """A confined reader may make no link to it, and passed over such photos."""
    photos = tmp_path / "photos"
    photos.mkdir()
    shutil.copy(samples / "0001-label.jpg", photos / os.fsdecode(b"caf\xe9-label.jpg"))
    job = Job(source=Source(root=str(photos)), out=tmp_path / "out")
    lot.run(job, workers=1)
    (row,) = rows_in(tmp_path / "out" / lot.ROWS)
    assert [(one.photo, one.skipped) for one in row.photos] == [("caf\\xe9-label.jpg", None)]
    assert {one.photo for one in row.readings} == {"caf\\xe9-label.jpg"}
