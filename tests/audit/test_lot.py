"""A lot from photos to rows: the same rows whatever happens to the run.

The photos are the repository's own (drawn; sample_scans/README.md), their verdicts those of
its manifest.
"""

from __future__ import annotations

import csv
import json
import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import zlib
from contextlib import closing
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

import jsonschema
import msgspec
import numpy as np
import pytest

from pairing.audit.run import codec, judging, lot, photo_line, rows
from pairing.audit.run.job import Job
from pairing.audit.run.listing import Listing
from pairing.audit.run.photo_line import PhotoLine, read_line
from pairing.audit.run.rows import Row, rows_in
from pairing.audit.run.run_store import FILE, Store
from pairing.audit.run.sources import Source, Wanted
from pairing.errors import CounterfoilError, OutputRefused, PhotoUnusable, TableUnusable
from pairing.model import Side
from pairing.photos.pool import Pool
from pairing.pieces.photo_groups import Photo, PhotoPiece, group
from pairing.pieces.reading import PhotoReadings, read_photo
from tests.audit.making import begun
from tests.photos.children import die, say

ROOT = Path(__file__).resolve().parent.parent.parent
NAMES = ("0001", "0005", "0014", "0016", "0028", "0029", "0003", "0030")


SCRIPT = """
import sys
from pathlib import Path
from pairing.audit.run.job import Job
from pairing.audit.run.lot import run
from pairing.audit.run.sources import Source

def tell(stage, done, every):
    print(stage, flush=True)

if __name__ == "__main__":
    run(Job(source=Source(root=sys.argv[1]), out=Path(sys.argv[2])), workers=1, progress=tell)
"""


@pytest.fixture(scope="module")
def photos(samples: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("photos")
    for name in NAMES:
        for photo in samples.glob(f"{name}*.jpg"):
            shutil.copy2(photo, folder / photo.name)
    (folder / "0990-label.jpg").write_bytes(b"\xff\xd8 no photo")
    (folder / "notes.txt").write_text("no photo")
    return folder


@pytest.fixture(scope="module")
def done(photos: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A run that nothing disturbed."""
    out = tmp_path_factory.mktemp("out")
    job = Job(source=Source(root=str(photos)), out=out)
    lot.run(job, workers=1)
    return out


def found(out: Path) -> dict[str, Row]:
    return {row.piece: row for row in rows_in(out / lot.ROWS)}


def kept(out: Path) -> list[tuple[str, str, str]]:
    """Photo, digest and reason for being of no use of all that the run keeps."""
    return asked(out, "SELECT photo, sha256, unusable FROM audit_photos ORDER BY photo")


def asked(out: Path, statement: str) -> list[Any]:
    """The store of a run that nobody has open."""
    with closing(sqlite3.connect(out / FILE)) as db, db:
        return db.execute(statement).fetchall()


def test_the_verdicts_are_those_of_the_manifest(done: Path, samples: Path) -> None:
    with (samples / "manifest.csv").open(newline="") as file:
        known = {row["piece"]: row for row in csv.DictReader(file)}
    verdicts = {name: row.verdict for name, row in found(done).items()}
    assert verdicts == {name: known[name]["verdict"] for name in NAMES} | {"0990": "unread"}


def test_a_list_that_says_otherwise_is_read_anew(samples: Path, tmp_path: Path) -> None:
    folder, out = tmp_path / "photos", tmp_path / "out"
    folder.mkdir()
    for side, name in ((Side.LABEL, "a.jpg"), (Side.CARD, "b.jpg")):
        shutil.copy2(samples / f"0001-{side.value}.jpg", folder / name)

    def audited(*shows: Side) -> tuple[int, str]:
        photos = tuple(
            Photo(path=Path(name), shows=side)
            for name, side in zip(("a.jpg", "b.jpg"), shows, strict=True)
        )
        piece = PhotoPiece(name="1", photos=photos, is_declared=True)
        job = Job(source=Source(root=str(folder)), out=out, listed=(piece,))
        return lot.run(job, workers=1).read_now, found(out)["1"].verdict

    assert audited(Side.CARD, Side.LABEL) == (2, "unread")  # the list has them exchanged
    assert audited(Side.LABEL, Side.CARD) == (2, "agrees")
    assert audited(Side.LABEL, Side.CARD) == (0, "agrees")


def test_a_list_that_contradicts_itself(samples: Path, tmp_path: Path) -> None:
    pieces = tuple(
        PhotoPiece(name=name, photos=(Photo(path=Path("a.jpg"), shows=side),))
        for name, side in (("1", Side.LABEL), ("2", Side.CARD))
    )
    with pytest.raises(TableUnusable, match="'1' and '2' have the same photo"):
        lot.run(Job(source=Source(root=str(samples)), out=tmp_path / "out", listed=pieces))


def test_a_photo_that_changes_while_it_is_read_is_of_no_use(
    samples: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shutil.copy2(samples / "0003.jpg", tmp_path / "a.jpg")

    def overtaken(photo: Photo, *, file: Path) -> PhotoReadings:
        read = read_photo(photo, file=file)
        return replace(read, sha256="0" * 64)  # what lies there when it has been read

    monkeypatch.setattr(photo_line, "read_photo", overtaken)
    source = Source(root=str(tmp_path))
    monkeypatch.chdir(tmp_path)
    line = read_line(source, source.wanted("a.jpg"), Path("a.jpg"))
    assert line.reading is None
    assert "changed while it was read" in line.unusable


def test_a_worker_that_reads_with_something_else_stops_the_run(
    samples: Path, tmp_path: Path
) -> None:
    """A cluster's workers install what they like; the run says what it was read with."""
    shutil.copy2(samples / "0003.jpg", tmp_path / "0003.jpg")

    def another(tasks: Any) -> Any:
        for wanted, line in Pool[Any, Any](1).run(tasks):
            assert isinstance(line, PhotoLine)
            yield wanted, msgspec.structs.replace(line, reader="another version")

    job = Job(source=Source(root=str(tmp_path)), out=tmp_path.with_name("out"))
    with pytest.raises(CounterfoilError, match="another version"):
        lot.run(job, engine=another, workers=1)
    assert lot.run(job, workers=1).read_now == 1


def test_rows_keep_to_their_schema_and_name_what_the_others_are(done: Path) -> None:
    validator = jsonschema.Draft202012Validator(rows.schema())
    all_rows = found(done)
    for row in all_rows.values():
        validator.validate(json.loads(msgspec.json.encode(row)))
    assert all_rows["0990"].photos[0].skipped
    (finding,) = (f for f in all_rows["0029"].findings if f.weight == "clash")
    assert "piece 0003" in finding.message
    assert all_rows["0016"].error == "adjacent-swap"


def test_what_was_read_comes_back_from_its_line(samples: Path) -> None:
    read = read_photo(Photo(path=samples / "0016-card.jpg", shows=Side.CARD))
    again = codec.decoded(codec.encoded(read), where="0016-card.jpg")
    seen, other = read.frames[0].seen, again.frames[0].seen
    assert seen is not None
    assert seen.evidence is not None
    assert other is not None
    assert other.evidence is not None
    assert seen.evidence.best == other.evidence.best
    texts = [seen.evidence.best, seen.evidence.best[:-1], "9" + seen.evidence.best[1:]]
    assert other.evidence.log_likelihoods(texts) == pytest.approx(
        seen.evidence.log_likelihoods(texts), abs=2e-3
    )
    assert again.frames[0].readings == read.frames[0].readings


def test_only_known_kinds_come_back(samples: Path) -> None:
    def packed(value: object) -> bytes:
        return zlib.compress(msgspec.msgpack.encode(value))

    for damaged in (packed({"~": "Popen", "args": ["true"]}), packed({"a": 1}), b"x"):
        with pytest.raises(TableUnusable, match="damaged") as caught:
            codec.decoded(damaged, where="a.jpg")
        assert "a.jpg" in str(caught.value)
    with pytest.raises(TypeError):
        codec._plain(object())
    gray = np.arange(12, dtype=np.uint8).reshape(3, 4)
    assert (codec._value(codec._plain(gray)) == gray).all()


def test_a_second_run_reads_nothing_again(photos: Path, done: Path, tmp_path: Path) -> None:
    shutil.copytree(done, tmp_path / "out")
    before = kept(tmp_path / "out")
    again = lot.run(Job(source=Source(root=str(photos)), out=tmp_path / "out"), workers=1)
    assert again.read_now == 0
    assert kept(tmp_path / "out") == before
    assert (tmp_path / "out" / lot.ROWS).read_bytes() == (done / lot.ROWS).read_bytes()


def test_a_photo_that_changed_is_read_again(photos: Path, done: Path, tmp_path: Path) -> None:
    """The folder was moved, too: what did not change is known."""
    shutil.copytree(photos, tmp_path / "photos", copy_function=shutil.copy2)
    shutil.copytree(done, tmp_path / "out")
    (tmp_path / "photos" / "0005.jpg").write_bytes(
        (photos / "0003.jpg").read_bytes() + b"\0"  # another file, the same picture
    )
    job = Job(source=Source(root=str(tmp_path / "photos")), out=tmp_path / "out")
    assert lot.run(job, workers=1).read_now == 1
    assert found(tmp_path / "out")["0005"].article == found(done)["0003"].article


def test_touched_and_renamed_photos_are_known_by_their_bytes(
    photos: Path, done: Path, tmp_path: Path
) -> None:
    """What was read names the photo as it is called now."""
    shutil.copytree(done, tmp_path / "out")
    (tmp_path / "photos" / "day 2").mkdir(parents=True)
    for photo in photos.iterdir():
        shutil.copy(photo, tmp_path / "photos" / "day 2" / photo.name)  # with a new time
    job = Job(source=Source(root=str(tmp_path / "photos")), out=tmp_path / "out")
    assert lot.run(job, workers=1).read_now == 1  # the one that is no photo has no reading
    before, after = found(done), found(tmp_path / "out")
    assert {name.removeprefix("day 2/"): row.verdict for name, row in after.items()} == {
        name: row.verdict for name, row in before.items()
    }
    for row in after.values():
        places = {one.photo for one in row.photos} | {one.photo for one in row.readings}
        assert all(place.startswith("day 2/") for place in places)
        assert row.box is None or row.box.photo.startswith("day 2/")


def test_another_lot_does_not_take_the_place_of_the_one_that_is_there(
    samples: Path, done: Path, tmp_path: Path
) -> None:
    shutil.copytree(done, tmp_path / "out")
    (tmp_path / "other").mkdir()
    shutil.copy2(samples / "0033-card.jpg", tmp_path / "other")
    before = (tmp_path / "out" / lot.ROWS).read_bytes()
    with pytest.raises(OutputRefused, match="another audit"):
        lot.run(Job(source=Source(root=str(tmp_path / "other")), out=tmp_path / "out"), workers=1)
    assert (tmp_path / "out" / lot.ROWS).read_bytes() == before


def test_what_another_reader_has_read_stays_unless_it_is_asked_for(
    photos: Path, done: Path, tmp_path: Path
) -> None:
    """An upgrade of the program does not read a lot again by itself."""
    shutil.copytree(done, tmp_path / "out")
    asked(
        tmp_path / "out",
        "UPDATE audit_readings SET reader = 'earlier' WHERE sha256 = "
        "(SELECT sha256 FROM audit_photos WHERE photo = '0003.jpg')",
    )
    job = Job(source=Source(root=str(photos)), out=tmp_path / "out")
    kept_as_read = lot.run(job, workers=1)
    assert (kept_as_read.read_now, kept_as_read.read_otherwise) == (0, 1)
    again = lot.run(replace(job, rereads=True), workers=1)
    assert (again.read_now, again.read_otherwise) == (1, 0)
    assert (tmp_path / "out" / lot.ROWS).read_bytes() == (done / lot.ROWS).read_bytes()


def test_killed_again_and_again_it_ends_in_the_same_rows(photos: Path, tmp_path: Path) -> None:
    (tmp_path / "few").mkdir()
    for photo in (*photos.glob("0001*"), *photos.glob("0016*"), *photos.glob("0990*")):
        shutil.copy2(photo, tmp_path / "few")
    photos, done = tmp_path / "few", tmp_path / "done"
    lot.run(Job(source=Source(root=str(photos)), out=done), workers=1)
    (tmp_path / "go.py").write_text(SCRIPT)
    command = [sys.executable, str(tmp_path / "go.py"), str(photos), str(tmp_path / "out")]
    env = {**os.environ, "PYTHONPATH": str(ROOT)}
    read = 0
    for _ in range(2):
        process = subprocess.Popen(
            command, env=env, start_new_session=True, stdout=subprocess.PIPE, text=True
        )
        assert process.stdout is not None
        # Killed as soon as one more photo is kept, so that there is something to lose.
        assert process.stdout.readline() == "photos read\n"
        process.send_signal(signal.SIGKILL)
        process.wait()
        assert len(kept(tmp_path / "out")) > read
        read = len(kept(tmp_path / "out"))
    last = subprocess.run(command, env=env, check=True, capture_output=True, text=True)
    assert last.stdout.count("photos read\n") == len(kept(done)) - read
    assert (tmp_path / "out" / lot.ROWS).read_bytes() == (done / lot.ROWS).read_bytes()
    assert kept(tmp_path / "out") == kept(done)


def test_a_folder_that_holds_another_audit(photos: Path, done: Path) -> None:
    with pytest.raises(OutputRefused, match="another audit"):
        lot.run(Job(source=Source(root=str(photos)), out=done, is_unsorted=True), workers=1)


@pytest.mark.parametrize("is_unsorted", [False, True])
def test_a_call_that_named_a_wrong_folder_leaves_nothing_in_the_way(
    samples: Path, tmp_path: Path, *, is_unsorted: bool
) -> None:
    out = tmp_path / "out"
    with pytest.raises(PhotoUnusable, match="no such folder"):
        lot.run(Job(source=Source(root=str(tmp_path / "gone")), out=out), workers=1)
    (tmp_path / "right").mkdir()
    shutil.copy2(samples / "0033-card.jpg", tmp_path / "right")
    job = Job(source=Source(root=str(tmp_path / "right")), out=out, is_unsorted=is_unsorted)
    assert lot.run(job, workers=1).read_now == 1
    assert lot.run(job, workers=1).read_now == 0


def test_two_runs_at_once(photos: Path, tmp_path: Path) -> None:
    with Store(tmp_path), pytest.raises(OutputRefused, match="Another run is at work"):
        lot.run(Job(source=Source(root=str(photos)), out=tmp_path), workers=1)


def test_a_folder_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(PhotoUnusable, match="no such folder"):
        lot.run(Job(source=Source(root=str(tmp_path / "gone")), out=tmp_path / "out"), workers=1)


def test_results_among_the_photos(photos: Path) -> None:
    with pytest.raises(OutputRefused, match="among the photos"):
        lot.run(Job(source=Source(root=str(photos)), out=photos / "out"), workers=1)


def test_pages_of_one_file_are_told_apart() -> None:
    lines = [
        PhotoLine(photo=name, size=1, stamp="", shows="") for name in ("a.pdf", "b page 2.jpg")
    ]
    assert judging._where("a.pdf page 3", lines) == ("a.pdf", 3)
    assert judging._where("b page 2.jpg", lines) == ("b page 2.jpg", 1)


def test_a_folder_that_workers_cannot_reach_stops_the_run(tmp_path: Path) -> None:
    """It does not make every photo of the lot unusable."""
    (tmp_path / "in").mkdir()
    source = Source(root=str(tmp_path / "in"))
    (tmp_path / "in").rmdir()
    wanted = Wanted(photo="a.jpg", size=1, stamp="", shows="")
    with pytest.raises(CounterfoilError, match="cannot be reached"):
        read_line(source, wanted, Path("a.jpg"))


def test_a_list_says_what_belongs_together(photos: Path, tmp_path: Path) -> None:
    photo_pieces = group([Path("0001-label.jpg"), Path("0001-card.jpg")])
    listed = tuple(type(one)(name="A", photos=one.photos, is_declared=True) for one in photo_pieces)
    job = Job(source=Source(root=str(photos)), out=tmp_path / "out", listed=listed)
    assert lot.run(job, workers=1).photos == 2
    assert found(tmp_path / "out")["A"].verdict == "agrees"


def test_a_photo_that_is_said_to_show_something_else_is_read_again(
    photos: Path, tmp_path: Path
) -> None:
    """Which side a photo shows tells where its bars may be: the reading depends on it."""
    source, out = Source(root=str(photos)), tmp_path / "out"
    (piece,) = group([Path("0001-label.jpg"), Path("0001-card.jpg")])
    lot.run(Job(source=source, out=out, listed=(piece,)), workers=1)
    unsaid = tuple(Photo(path=one.path, shows=None) for one in piece.photos)
    other = type(piece)(name="0001", photos=unsaid, is_declared=True)
    assert lot.run(Job(source=source, out=out, listed=(other,)), workers=1).read_now == 2
    assert lot.run(Job(source=source, out=out, listed=(other,)), workers=1).read_now == 0


def test_a_damaged_reading_is_said_with_its_photo(photos: Path, done: Path, tmp_path: Path) -> None:
    shutil.copytree(done, tmp_path / "out")
    asked(
        tmp_path / "out",
        "UPDATE audit_readings SET reading = x'78' WHERE sha256 = "
        "(SELECT sha256 FROM audit_photos WHERE photo = '0003.jpg')",
    )
    with pytest.raises(TableUnusable, match="damaged") as caught:
        lot.run(Job(source=Source(root=str(photos)), out=tmp_path / "out"), workers=1)
    assert "0003.jpg" in str(caught.value)


def test_a_worker_that_dies_costs_one_task() -> None:
    tasks = [(n, die if n == 2 else partial(say, str(n)), Path(str(n))) for n in range(6)]
    pool: Pool[int, str] = Pool(2)
    answers = dict(pool.run(tasks))
    assert isinstance(answers.pop(2), CounterfoilError)
    assert answers == {n: str(n) for n in (0, 1, 3, 4, 5)}


def test_tasks_are_taken_no_faster_than_they_are_done() -> None:
    """Memory does not grow with the lot: no more than a few are held."""
    taken = 0

    def tasks() -> Any:
        nonlocal taken
        for n in range(60):
            taken += 1
            yield n, partial(say, "x"), Path(str(n))

    pool: Pool[int, str] = Pool(2)
    for given, _ in enumerate(pool.run(tasks()), 1):
        assert taken - given <= 6


def test_the_listing_gives_photos_in_order_and_leaves_out_those_done(tmp_path: Path) -> None:
    names = [f"{n:04}" for n in range(450)]
    with begun(tmp_path) as store:
        listing = Listing(store)
        listing.want(Wanted(photo=name, size=1, stamp="", shows="") for name in names)
        store.keep(
            PhotoLine(photo=name, size=1, stamp="", shows="", sha256=name, reading=b"x")
            for name in names[::3]
        )
        left = [name for n, name in enumerate(names) if n % 3]
        assert [one.photo for one in listing.pending()] == left
        assert listing.count() == (450, 150)
        assert [line.photo for line in listing.lines()] == names[::3]
