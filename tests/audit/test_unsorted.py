"""Unsorted photos end in the right pieces; the command from end to end.

The photos are the repository's own (sample_scans, drawn), renamed so that nothing tells.
"""

from __future__ import annotations

import csv
import json
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from counterfoil import exits
from counterfoil.commands.audit import command
from pairing.audit.run import lot
from pairing.audit.run.rows import Row, rows_in
from pairing.ledger import Draft, Kind, Ledger
from pairing.model import Verdict

NAMES = ("0001", "0002", "0016", "0029", "0003", "0033")


def audit(*words: str) -> Result:
    return CliRunner().invoke(command, words, standalone_mode=False, catch_exceptions=False)


@pytest.fixture(scope="module")
def manifest(samples: Path) -> dict[str, dict[str, str]]:
    with (samples / "manifest.csv").open(newline="") as file:
        return {row["piece"]: row for row in csv.DictReader(file)}


@pytest.fixture(scope="module")
def bag(samples: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Photos in no order, one of them twice, the card of 0002 missing."""
    folder = tmp_path_factory.mktemp("bag")
    photos = [path for name in NAMES for path in sorted(samples.glob(f"{name}*.jpg"))]
    photos = [path for path in photos if path.name != "0002-card.jpg"]
    photos.append(samples / "0001-card.jpg")
    for n, path in enumerate(photos):
        shutil.copy2(path, folder / f"img_{(n * 7) % 23:02}.jpg")
    return folder


@pytest.fixture(scope="module")
def ledger(tmp_path_factory: pytest.TempPathFactory, manifest: dict[str, dict[str, str]]) -> str:
    """0001 and 0016 recorded as they are, 0003 with another card, and one more piece."""
    url = str(tmp_path_factory.mktemp("ledger") / "l.db")
    others = [("0001", "0001"), ("0016", "0016"), ("0003", "0005"), ("0008", "0008")]
    with Ledger.open(url) as found:
        for article, card in others:
            number = manifest[article]["article"]
            found.append(
                Draft(kind=Kind.PAIRED, desk="3", operator="a", article=number,
                      card=manifest[card]["card"], written=number, verdict=Verdict.AGREES)
            )  # fmt: skip
    return url


@pytest.fixture(scope="module")
def out(bag: Path, ledger: str, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("out")
    done = audit(str(bag), "--out", str(folder), "--unsorted", "--ledger", ledger, "--csv",
                 "--workers", "1")  # fmt: skip
    assert done.return_value == exits.DIFFERS
    assert "1 pair is recorded or expected and not photographed" in done.output
    return folder


@pytest.fixture(scope="module")
def rows(out: Path, manifest: dict[str, dict[str, str]]) -> dict[str, Row]:
    names = {row["article"]: name for name, row in manifest.items()}
    found = list(rows_in(out / lot.ROWS))
    return {names.get(row.article or "", row.piece): row for row in found}


def test_labels_and_cards_are_put_together(
    rows: dict[str, Row], manifest: dict[str, dict[str, str]]
) -> None:
    for name in ("0001", "0016", "0033"):
        found = rows[name].match
        assert found is not None
        assert found.counts == (name != "0033"), name  # which the ledger does not have
        assert rows[name].card == manifest[name]["card"]
    assert len(rows["0001"].photos) == 3
    assert rows["0003"].match is None


def test_what_a_match_rests_on_is_said(rows: dict[str, Row]) -> None:
    codes = {name: {f.code for f in rows[name].findings} for name in rows}
    for name, rests_on in (("0001", "record"), ("0016", "record"), ("0033", "box")):
        (code,) = (one for one in codes[name] if one.startswith("matched-by-"))
        assert code == f"matched-by-{rests_on}", name


def test_the_match_decides_nothing_and_hides_nothing(rows: dict[str, Row]) -> None:
    assert rows["0001"].verdict == "agrees"
    assert rows["0016"].verdict == "differs"
    assert rows["0016"].error == "adjacent-swap"


def test_where_only_the_box_speaks_for_the_match_the_piece_is_unread_and_says_what_it_would_be(
    rows: dict[str, Row],
) -> None:
    # Its bars say the label's number, so they fit; its print does not, so it would differ.
    one = rows["0033"]
    assert one.verdict == "unread"
    assert one.match is not None
    assert one.match.would == "differs"
    assert one.written is None
    (finding,) = (f for f in one.findings if f.code == "matched-by-box")
    assert "probably goes with this label" in finding.message
    assert "would differ" in finding.message


def test_a_box_with_the_number_of_another_photographed_piece_is_named(
    rows: dict[str, Row], manifest: dict[str, dict[str, str]]
) -> None:
    """0029's box holds the number of 0003, which was photographed with its own card."""
    twice = {
        row.card for row in rows.values() if any(f.code == "box-number-twice" for f in row.findings)
    }
    assert twice == {manifest["0029"]["card"]}


def test_without_a_ledger_no_match_proves_anything(bag: Path, out: Path, tmp_path: Path) -> None:
    """A card whose box holds another piece's number fits that piece's label: the box alone must
    not make it agree. What was read before is not read again."""
    shutil.copytree(out, tmp_path / "out")
    done = audit(str(bag), "--out", str(tmp_path / "out"), "--unsorted", "--workers", "1",
                 "--no-report")  # fmt: skip
    assert "11 of them read before" in done.output
    assert "2 probably differ and 1 probably agrees" in " ".join(done.output.split())
    matched = [one for one in rows_in(tmp_path / "out" / lot.ROWS) if one.match]
    assert {one.verdict.value for one in matched} == {"unread"}
    assert sorted(str(one.match.would) for one in matched if one.match) == [
        "agrees",
        "differs",
        "differs",
    ]


def test_no_card_is_made_up_for_a_label(rows: dict[str, Row]) -> None:
    # The one card left is 0029's; it holds the number of 0003, so it could be anybody's.
    codes = {name: {f.code for f in rows[name].findings} for name in ("0002", "0029")}
    for name, found in codes.items():
        assert rows[name].verdict == "unread"
        assert rows[name].written is None
        assert "no-card-photo" in found


def test_the_ledger_speaks_of_each(rows: dict[str, Row], out: Path) -> None:
    def state(name: str) -> str:
        record = rows[name].record
        return record.state.value if record else ""

    assert state("0001") == "as photographed"
    assert rows["0001"].desk == "3"
    assert state("0003") == "otherwise"
    assert rows["0003"].verdict == "differs"
    assert state("0033") == "never"
    with (out / "missing.csv").open(newline="") as file:
        assert [row["desk"] for row in csv.DictReader(file)] == ["3"]


def test_decisions_and_a_sheet_on_a_second_call(
    bag: Path, out: Path, ledger: str, rows: dict[str, Row], tmp_path: Path
) -> None:
    row = rows["0016"]
    given = tmp_path / "decisions.json"
    body = {"piece": row.piece, "photos": [one.sha256 for one in row.photos],
            "seen": row.in_short, "decision": "confirmed", "note": "seen", "by": "cd",
            "at": "2026-11-25"}  # fmt: skip
    given.write_text(json.dumps({"format": "counterfoil decisions 1", "decisions": [body]}))
    done = audit(str(bag), "--out", str(out), "--unsorted", "--ledger", ledger, "--workers", "1",
                 "--decisions", str(given), "--record", "--sheet", row.article or "")  # fmt: skip
    assert "11 photos, 11 of them read before" in done.output
    (sheet,) = out.glob("evidence-*.pdf")
    assert sheet.read_bytes().startswith(b"%PDF")
    assert sheet.with_suffix(".proof.json").exists()
    with Ledger.open(ledger) as found:
        (note,) = found.entries(kinds=(Kind.NOTE,))
        assert "confirmed" in note.remark
    report = (out / "report.html").read_text()
    assert '"decision":"confirmed"' in report


def test_what_contradicts_itself(bag: Path, tmp_path: Path) -> None:
    import click

    for words in (["--record"], ["--unsorted", "--pieces", "x.csv"], ["--confidence", "2"]):
        with pytest.raises(click.UsageError):
            audit(str(bag), "--out", str(tmp_path), *words)


def test_a_folder_without_photos(tmp_path: Path) -> None:
    (tmp_path / "in").mkdir()
    done = audit(str(tmp_path / "in"), "--out", str(tmp_path / "out"))
    assert done.return_value == exits.NOT_DONE
