"""Photographed court mail: one path from photos to the rule, chosen or not. Drawn by the
demonstration's studio; the numbers are invented, the rule's source is in
`tests/numbers/test_derived.py`."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from pairing.audit.run.photo_line import reader_parts
from pairing.demo.scenario import BoxBy, Piece
from pairing.demo.studio import take_photos
from pairing.errors import RuleMisused
from pairing.findings import Code
from pairing.model import Verdict
from pairing.pieces import office_rules
from pairing.pieces.batch import PieceResult, judge_all
from pairing.pieces.photo_groups import find_photos, group
from pairing.pieces.reading import read_piece
from tests.judge.readings import codes
from tests.numbers.test_derived import ARTICLE, RULE

SWAPPED = "761234567859"
ROOT = Path(__file__).resolve().parents[2]


def drawn(folder: Path, *, card_of: str = ARTICLE, box: str = ARTICLE) -> None:
    piece = Piece(
        name="0002",
        purpose="",
        addressee="Osric Dunmallow",
        article=ARTICLE,
        card=RULE.card_text(card_of),
        box=box,
        box_bars=box,
        box_by=BoxBy.STRIP_BARCODE,
    )
    for name, data in take_photos(piece, seed=5).items():
        (folder / name).write_bytes(data)


def judged(folder: Path, *, card_of: str = ARTICLE, box: str = ARTICLE) -> PieceResult:
    drawn(folder, card_of=card_of, box=box)
    # In this process: others have the environment with which they were started.
    (found,) = judge_all([read_piece(one) for one in group(find_photos([folder]))]).pieces
    return found


@pytest.fixture(name="chosen")
def _chosen(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(office_rules.VARIABLE, RULE.name)


@pytest.mark.usefixtures("chosen")
def test_label_card_and_strip_agree(tmp_path: Path) -> None:
    found = judged(tmp_path).judgment
    assert (found.verdict, found.article, found.card) == (
        Verdict.AGREES,
        ARTICLE,
        RULE.card_text(ARTICLE),
    )


@pytest.mark.usefixtures("chosen")
def test_another_pieces_card_differs_though_its_strip_agrees(tmp_path: Path) -> None:
    found = judged(tmp_path, card_of=SWAPPED).judgment
    assert found.verdict is Verdict.DIFFERS
    assert Code.CARD_NOT_DERIVED in codes(found.findings)


@pytest.mark.usefixtures("chosen")
def test_another_strip_differs_though_label_and_card_fit(tmp_path: Path) -> None:
    found = judged(tmp_path, box=SWAPPED).judgment
    assert found.verdict is Verdict.DIFFERS
    assert Code.CARD_NOT_DERIVED not in codes(found.findings)


def test_without_the_rule_they_are_not_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv(office_rules.VARIABLE, raising=False)
    found = judged(tmp_path).judgment
    assert (found.verdict, found.article, found.card) == (Verdict.UNREAD, None, None)
    assert Code.RULE_UNCHOSEN in codes(found.findings)


@pytest.mark.parametrize(("rules", "code"), [(RULE.name, 0), ("", 11)])
def test_processes_that_read_photos_have_the_rule_too(
    rules: str, code: int, tmp_path: Path
) -> None:
    drawn(tmp_path)
    paths = os.pathsep.join((str(ROOT), str(ROOT / "cli")))
    done = subprocess.run(
        [sys.executable, "-c", "from counterfoil.main import main; main()", "photos", tmp_path],
        capture_output=True,
        check=False,
        env={**os.environ, "PYTHONPATH": paths, office_rules.VARIABLE: rules},
    )
    assert done.returncode == code, done.stderr


def test_the_offices_choice(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(office_rules.VARIABLE, raising=False)
    assert office_rules.chosen() == office_rules.wedge_setup().rules == ()
    monkeypatch.setenv(office_rules.VARIABLE, f" {RULE.name}, {RULE.name}")
    assert office_rules.chosen() == office_rules.wedge_setup().rules == (RULE.name,)
    monkeypatch.setenv(office_rules.VARIABLE, "court")
    with pytest.raises(RuleMisused):
        office_rules.chosen()


def test_an_audit_knows_by_which_rules_a_photo_was_read(monkeypatch: pytest.MonkeyPatch) -> None:
    reader_parts.cache_clear()
    monkeypatch.delenv(office_rules.VARIABLE, raising=False)
    assert "rules" not in reader_parts()
    reader_parts.cache_clear()
    monkeypatch.setenv(office_rules.VARIABLE, RULE.name)
    assert reader_parts()["rules"] == [RULE.name]
    reader_parts.cache_clear()
