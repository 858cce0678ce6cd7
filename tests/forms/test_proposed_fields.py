"""What `form learn` proposes on an empty card. Where its fields are, and what they are called, is
known because it was drawn (`tests/benchmarks/drawn_fields.py`); captions as printed on public
forms (PS Form 3811: "Signature", "Received by", "Date of delivery"; ../shared/standards.md 2.4)."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from counterfoil.commands.form.field_naming import taken
from pairing.judge.fields import State
from pairing.photos.forms import folder
from pairing.photos.forms.caption_words import named
from pairing.photos.forms.definition import Field, Form
from pairing.photos.forms.features import Index
from pairing.photos.forms.field_ink import seen_fields
from pairing.photos.forms.proposed_fields import Proposed, proposed_fields
from pairing.photos.forms.registration import registered
from tests.benchmarks.blank_cards import blank
from tests.benchmarks.card_photos import corners, photographed
from tests.benchmarks.designs import DESIGNS
from tests.benchmarks.drawn_backs import back, taught_back
from tests.benchmarks.drawn_cards import card_number
from tests.benchmarks.drawn_fields import drawn, gray_of, places, taught_with_fields
from tests.benchmarks.proposed import is_at
from tests.cli.terminal import Terminal

GRID = DESIGNS["grid"]


@pytest.fixture(scope="module")
def form() -> Form:
    """One design's form, with its fields as they are."""
    return taught_with_fields(GRID)


@pytest.fixture(scope="module")
def proposed(form: Form) -> tuple[Proposed, ...]:
    """What is proposed where none of them is known."""
    return proposed_fields(replace(form, fields=()))


def test_fields_are_proposed_by_their_captions_and_rules(
    form: Form, proposed: tuple[Proposed, ...]
) -> None:
    for field in form.fields:
        (one,) = [one for one in proposed if is_at(one, field.place)]
        if field.name.startswith("service"):
            assert (one.kind, one.name) == ("square", ""), field.name  # no list has its name
        else:
            # The title's band hides the caption of the signature: its place alone is proposed.
            name = "" if field.name == "signature" else field.name
            assert (one.kind, one.name) == ("cell", name)


def test_the_number_box_and_known_fields_are_not_proposed(
    form: Form, proposed: tuple[Proposed, ...]
) -> None:
    assert not any(is_at(one, form.box) for one in proposed)
    left = proposed_fields(form)
    assert not any(is_at(one, field.place) for one in left for field in form.fields)


@pytest.mark.parametrize("seed", [3, 2, 8])  # ruled around, open, lines to write on
def test_the_senders_place_on_the_other_side_is_proposed(seed: int) -> None:
    known = taught_back(back(seed))
    found = proposed_fields(replace(known, fields=()))
    assert any(is_at(one, known.fields[0].place) for one in found)
    assert {one.name for one in found} <= {"", "sender"}


def test_what_is_no_word_has_no_name() -> None:
    assert named(np.zeros((20, 60), np.float32)) == ("", 0.0)
    assert named(np.ones((20, 60), np.float32)) == ("", 0.0)


NAMES = ["signature", "", "date", "", "", ""]


@pytest.mark.parametrize(
    ("line", "names"),
    [
        ("2 addressee", ["signature", "addressee", "date", "", "", ""]),
        ("2 signature", ["", "signature", "date", "", "", ""]),  # it goes from there to here
        ("3 none", ["signature", "", "", "", "", ""]),
        ("1-3 -", ["", "", "", "", "", ""]),
        ("4 service Certified", ["signature", "", "date", "service Certified", "", ""]),
        ("5-6 service", ["signature", "", "date", "", "service 5", "service 6"]),
        (" 6  postmark ", ["signature", "", "date", "", "", "postmark"]),
    ],
)
def test_a_line_names_a_place(line: str, names: list[str]) -> None:
    assert taken(line, NAMES) == names


@pytest.mark.parametrize("line", ["7 date", "0 date", "2 stamp", "4-5 date", "date", "5-4 service"])
def test_a_line_that_names_nothing_says_how(line: str) -> None:
    assert isinstance(taken(line, NAMES), str)


def test_a_box_for_restricted_delivery_is_a_mark(form: Form) -> None:
    """A mark of 2 mm is no writing, but in a small box it counts."""
    fields = tuple(
        Field(name="restricted-delivery", place=one.place) if one.name == "service Other" else one
        for one in form.fields
    )
    index = Index.of([replace(form, fields=fields)])
    for services, state in (("none", State.EMPTY), ("one", State.FILLED)):
        rng = np.random.default_rng(2)
        made = drawn(GRID, rng, services=services)
        # The box of "Other" is the one that this seed marks.
        assert made.truth["service Other"] == (state is State.FILLED)
        photo = gray_of(photographed(made.card.sheet, "clean", rng)[0])
        match = registered(photo, index)
        assert match is not None
        found = {one.name: one.state for one in seen_fields(photo, match)}
        assert found["restricted-delivery"] is state


def test_fields_are_named_at_the_terminal(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    forms = tmp_path / "forms"
    monkeypatch.setenv(folder.VARIABLE, os.fspath(forms))
    rng = np.random.default_rng(4)
    jpeg, to_photo = photographed(blank(GRID, card_number(rng)), "clean", rng)
    photo = tmp_path / "empty.jpg"
    photo.write_bytes(jpeg)

    def text(rect: tuple[float, float, float, float]) -> str:
        return " ".join(f"{x:.1f},{y:.1f}" for x, y in corners(to_photo, rect))

    desk = Terminal(
        "form", "learn", "office", str(photo), "--corners", text((0.0, 0.0, *GRID.size)),
        "--box", text(GRID.box), "--size", "150x96", "--drawing", str(tmp_path / "seen.png"),
        ledger=str(tmp_path / "none.db"),
        is_copied=False,  # a copy would ask the reader of photos that this process has
    )  # fmt: skip
    desk.until("[y/N]:")
    desk.keys("y\r")
    shown = desk.until("fields:")
    assert "addressee, by its caption" in shown
    squares = [int(line.split()[0]) for line in shown.splitlines() if "a small square" in line]
    assert len(squares) == 6
    desk.keys(f"{squares[0]} service Certified\r")
    assert "service Certified" in desk.until("fields:")
    desk.keys("99 date\r")
    assert "numbered 1 to" in desk.until("fields:")
    desk.keys("\r")
    assert desk.end() == 0
    kept = {one.name: one for one in folder.find("office").fields}
    assert set(kept) == {"addressee", "printed-name", "date", "service Certified"}
    left, top, wide, high = places(GRID)["date"]
    (a, b), (c, d) = kept["date"].place[0], kept["date"].place[2]
    assert np.allclose((a, b, c, d), (left, top, left + wide, top + high), atol=1.0)
