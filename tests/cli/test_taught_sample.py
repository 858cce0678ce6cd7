"""The commands of README and of the samples' own teach forms, from photos in the folder.

The pieces are invented (sample_scans/README.md); what must come of them is in their manifest.
"""

from __future__ import annotations

import csv
import json
import os
import re
import shlex
from pathlib import Path

import pytest
from click.testing import CliRunner

from counterfoil.main import cli
from pairing.demo import PIECES
from pairing.demo.scenario import CardDesign, Layout
from pairing.desk.cardphoto import card_in_photo
from pairing.photos.forms import folder

ROOT = Path(__file__).resolve().parents[2]


def test_readmes_command_teaches_the_form_that_the_samples_need(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    (command,) = re.findall(r"(?m)^\S*counterfoil (form learn .*)$", readme)
    with (ROOT / "sample_scans" / "manifest.csv").open(newline="", encoding="utf-8") as lines:
        rows = list(csv.DictReader(lines))
    names = {piece.name for piece in PIECES if piece.design is CardDesign.HARBOR}
    harbor = {row["piece"]: row for row in rows if row["piece"] in names}
    monkeypatch.setenv(folder.VARIABLE, os.fspath(tmp_path / "forms"))
    monkeypatch.chdir(ROOT)
    words = [*shlex.split(command), "--drawing", os.fspath(tmp_path / "seen.png")]
    learned = CliRunner().invoke(cli, words, standalone_mode=False)
    assert learned.exception is None, learned.output
    assert "comb of 22" in learned.output
    photos = [f"sample_scans/{name}" for row in harbor.values()
              for name in row["photos"].split(";")]  # fmt: skip
    read = CliRunner().invoke(cli, ["photos", "--json", "-", *photos], standalone_mode=False)
    got = {
        Path(one["photos"][0]).name[:4]: one["verdict"] for one in json.loads(read.stdout)["pieces"]
    }
    assert got == {name: row["verdict_when_taught"] for name, row in harbor.items()}
    assert set(got.values()) == {"agrees", "differs", "unread"}


def test_the_samples_readme_teaches_the_fields_that_two_pieces_lack(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    readme = (ROOT / "sample_scans" / "README.md").read_text(encoding="utf-8")
    (command,) = re.findall(r"`counterfoil (form learn harbor-card [^`]*)`", readme)
    (fields,) = re.findall(r"`(--field [^`]*)`", readme)
    monkeypatch.setenv(folder.VARIABLE, os.fspath(tmp_path / "forms"))
    monkeypatch.chdir(ROOT)
    drawing = ("--drawing", os.fspath(tmp_path / "seen.png"))
    run = CliRunner().invoke(cli, [*shlex.split(command), *shlex.split(fields), *drawing])
    assert run.exit_code == 0, run.output
    photos = [f"sample_scans/{name}-{side}.jpg" for name in ("0043", "0045")
              for side in ("label", "card")]  # fmt: skip
    read = CliRunner().invoke(cli, ["photos", "--json", "-", *photos], standalone_mode=False)
    right, nobody = json.loads(read.stdout)["pieces"]
    assert (right["verdict"], nobody["verdict"]) == ("agrees", "unread")
    assert "addressee-empty" in {one["code"] for one in nobody["findings"]}
    seen = card_in_photo(ROOT / "sample_scans" / "0046-card.jpg")
    assert (seen.is_signed, seen.is_dated) == (True, False)


def test_the_samples_readme_teaches_both_sides_of_the_card_that_has_every_field(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each piece's error, which is what was drawn, is what is said of it, and nothing else is."""
    readme = (ROOT / "sample_scans" / "README.md").read_text(encoding="utf-8")
    monkeypatch.setenv(folder.VARIABLE, os.fspath(tmp_path / "forms"))
    monkeypatch.chdir(ROOT)
    commands = re.findall(r"`counterfoil (form learn lock-card[^`]*)`", readme)
    for command in commands:
        drawing = ("--drawing", os.fspath(tmp_path / "seen.png"))
        run = CliRunner().invoke(cli, [*shlex.split(command), *drawing])
        assert run.exit_code == 0, run.output
    lock = [piece for piece in PIECES if piece.design is CardDesign.LOCK]
    out = [piece for piece in lock if piece.layout is not Layout.CARD_ALONE]
    photos = [f"sample_scans/{photo}" for piece in out for photo in piece.photos]
    read = CliRunner().invoke(cli, ["photos", "--json", "-", *photos], standalone_mode=False)
    pieces = json.loads(read.stdout)["pieces"]
    for piece, said in zip(out, pieces, strict=True):
        assert said["verdict"] == (piece.verdict_when_taught or piece.verdict), piece.name
        codes = {one["code"] for one in said["findings"]}
        empty = {"addressee-empty", "sender-empty", "service-unmarked", "box-empty"}
        assert codes == (empty if piece.error == "blank-card" else {piece.error} - {""}), piece.name
    back = {piece.error: card_in_photo(ROOT / "sample_scans" / piece.photos[0])
            for piece in lock if piece not in out}  # fmt: skip
    beside, bare = back["signature-outside"], back["unsigned"]
    assert (beside.is_signed, beside.is_dated) == (None, True)
    assert [one.code for one in beside.found] == ["signature-outside"]
    assert (bare.is_signed, bare.is_dated, bare.found) == (False, True, ())


def test_a_photo_that_follows_json_is_not_overwritten(tmp_path: Path) -> None:
    photos = [tmp_path / "1-label.jpg", tmp_path / "1-card.jpg"]
    for photo in photos:
        photo.write_bytes(b"as it was")
    run = CliRunner().invoke(cli, ["photos", "--json", *map(os.fspath, photos)])
    assert "would overwrite a photo" in str(run.exception)
    assert photos[0].read_bytes() == b"as it was"
