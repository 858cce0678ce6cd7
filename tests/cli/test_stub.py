"""How a piece looks at the counter."""

from __future__ import annotations

import click
import pytest

from counterfoil.letters import large
from counterfoil.view import stub
from pairing.desk.answers import Advice, Finished
from pairing.findings import Finding, Weight
from pairing.model import Judgment, Verdict


def finished(*findings: Finding, trouble: str = "") -> Finished:
    judgment = Judgment(
        verdict=Verdict.DIFFERS,
        article="9374890100000003985039",
        card=None,
        written="9374890100000003985093",
        written_by=None,
        findings=findings,
    )
    return Finished(readings=(), judgment=judgment, outcome=None, trouble=trouble)


@pytest.mark.parametrize("advice", Advice)
def test_every_advice_is_drawn_in_three_lines_of_one_length(advice: Advice) -> None:
    lines = large(advice, fancy=True, width=80)
    assert len(lines) == 3
    assert len({len(line) for line in lines}) == 1
    assert all(set(line) <= set(" ▀▄█") for line in lines)
    assert len(lines[0]) <= 67  # with the stub's head it fits 80 columns


@pytest.mark.parametrize(("fancy", "width"), [(False, 80), (True, 50)])
def test_where_it_cannot_be_drawn_the_letters_are_spaced(fancy: bool, width: int) -> None:
    lines = large(Advice.NOT_RECORDED, fancy=fancy, width=width)
    assert lines == ["", "N O T   R E C O R D E D", ""]


def test_what_is_not_recorded_says_so_and_why(capsys: pytest.CaptureFixture[str]) -> None:
    text = stub.piece(finished(trouble="The disk is full"), is_large=False)
    assert "Not recorded. Keep the piece open." in text
    assert "The disk is full" in text
    assert "Seal" not in text


def test_differing_digits_are_marked_below() -> None:
    rows = click.unstyle(stub.piece(finished(), is_large=False)).splitlines()
    box = next(line for line in rows if "box" in line)
    marks = rows[rows.index(box) + 1]
    assert [box[at] for at, char in enumerate(marks) if char == "^"] == ["9", "3"]


def test_a_clerk_is_not_told_how_numbers_are_made() -> None:
    notes = [
        Finding.read_back("mailer", message="Channel 92."),
        Finding.read_back("label-keyed", message="Keyed."),
        Finding.read_back("card-unread", message="Unread.", weight=Weight.DOUBT),
    ]
    text = stub.piece(finished(*notes), is_large=False)
    assert "Channel" not in text
    assert "Keyed." in text
    assert "Unread." in text
    second = Finding.read_back("second-label", message="Second.", weight=Weight.DOUBT)
    assert "Unread." not in stub.piece(finished(second, *notes), is_large=False)


def test_what_comes_from_outside_cannot_steer_the_terminal() -> None:
    evil = Finding.read_back("x", message="a\x1b[2Jb\rc", weight=Weight.CLASH)
    assert "\x1b[2J" not in stub.piece(finished(evil), is_large=False)
