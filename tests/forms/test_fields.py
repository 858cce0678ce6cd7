"""The other fields of drawn cards: what is filled, what is empty, what cannot be told. What is
true of each card is known because it was drawn (`tests/benchmarks/drawn_fields.py`); no state
here comes from the program's own reading."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import cv2
import jsonschema
import numpy as np
import pytest
from click.testing import CliRunner
from numpy.typing import NDArray

from counterfoil.main import cli
from pairing.demo.hand import HANDS
from pairing.desk.cardphoto import card_in_photo
from pairing.findings import Weight
from pairing.judge.fields import FieldSeen, Mark, State, before_mailing, on_return
from pairing.model import Side
from pairing.photos.forms import folder
from pairing.photos.forms.definition import Field, Form, as_bytes, checked, read_form
from pairing.photos.forms.features import Index
from pairing.photos.forms.field_ink import seen_fields
from pairing.photos.forms.registration import registered
from pairing.photos.written.plane import mapped, rectangle
from pairing.pieces.batch import judge_all
from pairing.pieces.photo_groups import Photo, PhotoPiece
from pairing.pieces.reading import read_piece
from pairing.pieces.report import as_json, schema
from tests.benchmarks import drawn_designs
from tests.benchmarks.blank_cards import blank
from tests.benchmarks.card_photos import corners
from tests.benchmarks.card_photos import photographed as photographed_by_day
from tests.benchmarks.designs import DESIGNS
from tests.benchmarks.drawn_cards import Filled, card_number
from tests.benchmarks.drawn_fields import (
    Drawn,
    drawn,
    gray_of,
    places,
    signature,
    taught_with_fields,
)
from tests.forms.small_photos import photographed

GRID = DESIGNS["grid"]


@pytest.fixture(scope="module")
def form() -> Form:
    """The form of one design, with its fields."""
    return taught_with_fields(GRID)


@pytest.fixture
def office(form: Form, tmp_path: Path) -> Iterator[Path]:
    """A folder with that form."""
    before = os.environ[folder.VARIABLE]
    os.environ[folder.VARIABLE] = str(tmp_path / "forms")
    folder.save(form)
    yield tmp_path
    os.environ[folder.VARIABLE] = before


def picture(seed: int, level: str = "clean", **how: object) -> tuple[Drawn, NDArray[np.uint8]]:
    rng = np.random.default_rng([seed, 41])
    made = drawn(GRID, rng, **how)  # type: ignore[arg-type]
    return made, gray_of(photographed(made.card.sheet, level, rng)[0])


def fields_of(form: Form, photo: NDArray[np.uint8]) -> dict[str, FieldSeen]:
    match = registered(photo, Index.of([form]))
    assert match is not None
    return {one.name: one for one in seen_fields(photo, match)}


@pytest.mark.parametrize("seed", range(3))
def test_filled_and_empty_fields_are_told(form: Form, seed: int) -> None:
    made, photo = picture(seed, "phone", services="one")
    found = fields_of(form, photo)
    assert found.keys() == made.truth.keys()
    for name, is_filled in made.truth.items():
        assert found[name].state is (State.FILLED if is_filled else State.EMPTY), name
        place = found[name].place
        assert place is not None
        assert (found[name].share > 0.005) == is_filled


@pytest.mark.parametrize(
    ("services", "codes"),
    [
        ("one", []),
        ("none", ["service-unmarked"]),
        ("two", ["service-two"]),
        ("between", ["service-between"]),
        ("corrected", ["service-corrected"]),
    ],
)
def test_marks_in_service_boxes(form: Form, services: str, codes: list[str]) -> None:
    _, photo = picture(7, services=services, filled=1.0)
    assert [one.code for one in before_mailing(list(fields_of(form, photo).values()))] == codes


def test_a_signature_beside_its_field(form: Form) -> None:
    # Without a field for the name, the signature that slipped down is in no field.
    bare = replace(form, fields=tuple(one for one in form.fields if one.name == "signature"))
    rng = np.random.default_rng([3, 41])
    made = drawn(GRID, rng, services="one", filled=0.0)
    left, top, wide, high = places(GRID)["signature"]
    signature(made.card, (left, top + high + 2.0, wide, 10.0))
    photo = gray_of(photographed(made.card.sheet, "clean", rng)[0])
    found = fields_of(bare, photo)["signature"]
    assert (found.state, found.mark) == (State.EMPTY, Mark.OUTSIDE)
    assert [one.code for one in on_return([found])[2]] == ["signature-outside"]
    _, photo = picture(3, services="one", filled=0.0)
    assert fields_of(bare, photo)["signature"].mark is Mark.NONE


def test_a_field_out_of_the_photo_or_under_a_reflection_cannot_be_told(form: Form) -> None:
    _, photo = picture(4, services="one", filled=0.0)
    match = registered(photo, Index.of([form]))
    assert match is not None
    place = places(GRID)["signature"]
    quad = np.array(corners(match.to_photo, place))
    low, high = quad.min(0).astype(int), quad.max(0).astype(int)
    cut = photo[:, : (low[0] + high[0]) // 2].copy()
    states = {one.name: one.state for one in seen_fields(cut, match)}
    assert states["signature"] is State.UNTOLD
    assert states["addressee"] is State.EMPTY
    glare = photo.copy()
    middle = tuple(int(v) for v in quad.mean(0))
    cv2.circle(glare, middle, int(0.6 * (high[1] - low[1])), (255,), -1)
    states = {one.name: one.state for one in seen_fields(glare, match)}
    assert states["signature"] is State.UNTOLD


def test_forms_of_before_are_read(form: Form, tmp_path: Path) -> None:
    """A file without fields, as the version before wrote it."""
    bare = replace(form, fields=())
    path = tmp_path / "grid.form"
    path.write_bytes(as_bytes(bare))
    assert b"only_notes" not in path.read_bytes()
    assert read_form(path).fields == ()
    path.write_bytes(as_bytes(replace(form, only_notes=("addressee-empty",))))
    again = read_form(path)
    assert again.only_notes == ("addressee-empty",)
    assert [one.name for one in again.fields] == [one.name for one in form.fields]


def test_a_piece_says_what_is_missing_on_its_card(office: Path) -> None:
    made, _ = picture(11, services="none", filled=0.0)
    rng = np.random.default_rng(3)
    path = office / "0001-card.jpg"
    path.write_bytes(photographed(made.card.sheet, "clean", rng)[0])
    piece = PhotoPiece(name="0001", photos=(Photo(path=path, shows=Side.CARD),))
    batch = judge_all([read_piece(piece)])
    (result,) = batch.pieces
    codes = {one.code: one.weight for one in result.judgment.findings}
    assert codes["addressee-empty"] is Weight.DOUBT
    assert codes["service-unmarked"] is Weight.DOUBT
    report = as_json(batch)
    jsonschema.validate(report, schema())
    fields = {one["name"]: one["state"] for one in report["pieces"][0]["fields"]}
    assert fields["signature"] == "empty"
    json.dumps(report)


def test_a_returned_card_is_signed_and_dated_by_its_photo(office: Path) -> None:
    for filled, expected in ((1.0, (True, True)), (0.0, (False, False))):
        made, _ = picture(12, services="one", filled=filled)
        path = office / f"{filled}.jpg"
        path.write_bytes(photographed(made.card.sheet, "clean", np.random.default_rng(5))[0])
        read = card_in_photo(path)
        assert (read.is_signed, read.is_dated) == expected


def test_the_other_side_without_the_senders_address(office: Path) -> None:
    """Taught by the command line, as a side of its own with one field."""
    rng = np.random.default_rng(8)
    design = DESIGNS["free-frame"]
    jpeg, to_photo = photographed(blank(design, card_number(rng)), "clean", rng)
    photo = office / "other.jpg"
    photo.write_bytes(jpeg)

    def text(rect: tuple[float, float, float, float]) -> str:
        return " ".join(f"{x:.1f},{y:.1f}" for x, y in corners(to_photo, rect))

    field = design.fields[0][0]
    words = [
        "form", "learn", "office-back", str(photo), "--corners", text((0.0, 0.0, *design.size)),
        "--size", f"{design.size[0]:g}x{design.size[1]:g}", "--other-side", "--field", "sender",
        text(field), "--only-note", "addressee-empty", "--drawing", str(office / "drawn.png"),
        "--yes",
    ]  # fmt: skip
    done = CliRunner().invoke(cli, words)
    assert done.exit_code == 0, done.output
    shown = CliRunner().invoke(cli, ["form", "show", "office-back"])
    assert "sender:" in shown.output
    assert "the other side" in shown.output
    piece = PhotoPiece(name="0001", photos=(Photo(path=photo, shows=None),))
    (result,) = judge_all([read_piece(piece)]).pieces
    assert "sender-empty" in {one.code for one in result.judgment.findings}
    wrong = CliRunner().invoke(cli, [*words[:-8], "--field", "stamp", text(field), "--yes"])
    assert wrong.exit_code == 2
    assert "A field is" in wrong.output


def test_what_is_laid_astray_at_the_box_is_not_taken() -> None:
    """A card with three small captions near its box, where the alignment of the box's neighborhood
    went astray: its upper corners lay 15 mm off, and all its fields were taken for filled."""
    design = drawn_designs.drawn(1028)
    form = taught_with_fields(design)
    rng = np.random.default_rng([3500, *design.name.encode(), *b"clean", 6])
    made = drawn(design, rng, sign_beside=bool(rng.random() < 0.1))
    jpeg, to_photo = photographed_by_day(made.card.sheet, "clean", rng)
    photo = gray_of(jpeg)
    match = registered(photo, Index.of([form]))
    assert match is not None
    for laid, place in (
        (match.whole_to_photo, (0.0, 0.0, *design.size)),
        (match.to_photo, design.box),
    ):
        true = np.array(corners(to_photo, place))
        off = np.linalg.norm(mapped(laid, rectangle(*place)) - true, axis=1).max()
        px_per_mm = np.linalg.norm(true[1] - true[0]) / place[2]
        assert off < 0.6 * px_per_mm
    states = {one.name: one.state for one in seen_fields(photo, match)}
    assert states == {
        name: State.FILLED if is_filled else State.EMPTY for name, is_filled in made.truth.items()
    }


def test_a_field_off_the_card_is_refused(form: Form) -> None:
    far = ((0.0, 0.0), (900.0, 0.0), (900.0, 9.0), (0.0, 9.0))
    with pytest.raises(Exception, match="outside the card"):
        checked(replace(form, fields=(Field(name="date", place=far),)))


@pytest.mark.parametrize(("from_left", "from_top", "pen"), [(0.7, 0.5, 0.4), (0.65, 0.55, 0.35)])
def test_a_mark_that_lies_beside_its_box_for_the_most_part_is_its_mark(
    form: Form, from_left: float, from_top: float, pen: float
) -> None:
    """A fine tick whose long stroke goes out: little of it is off the box's own rules."""
    rng = np.random.default_rng(17)
    card = Filled(
        sheet=blank(GRID, card_number(rng)), design=GRID, hand=HANDS["caveat"], article="",
        card="", rng=rng,
    )  # fmt: skip
    boxes = {name: rect for name, rect in places(GRID).items() if name.startswith("service")}
    name, (x, y, wide, high) = next(iter(boxes.items()))
    card.stroke(
        (x + from_left * wide, y + from_top * high), (x + 1.9 * wide, y - 0.6 * high), pen=pen
    )
    found = fields_of(form, gray_of(photographed(card.sheet, "clean", rng)[0]))
    assert {one for one in boxes if found[one].state is State.FILLED} == {name}
    assert all(found[one].state is State.EMPTY for one in boxes if one != name)
