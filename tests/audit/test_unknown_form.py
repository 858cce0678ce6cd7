"""A lot whose first cards are of one unknown form is offered to be learned before the rest is read.

The photos are the repository's own (drawn; sample_scans/README.md); readings are made up.
"""

from __future__ import annotations

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from click.testing import CliRunner

from counterfoil.form_offer import FormOffer
from pairing.audit.run import unknown_form
from pairing.audit.run.photo_line import PhotoLine
from pairing.audit.run.sources import Source
from pairing.audit.run.unknown_form import FIRST, FirstCards, is_box_unread, of_unknown_form
from pairing.errors import CounterfoilError
from pairing.judge.box import Unread
from pairing.model import Side
from pairing.photos.forms.features import Index

SAMPLES = Path(__file__).parents[2] / "sample_scans"
BOARD = ("0008", "0010", "0013", "0016", "0019", "0022", "0026")


@pytest.fixture
def readings(monkeypatch: pytest.MonkeyPatch) -> None:
    """A line's reading is the reason why its box was not read, as text; "label" is no card."""

    def decoded(reading: bytes, *, where: str) -> Any:
        word = reading.decode()
        side = SimpleNamespace(side=Side.LABEL if word == "label" else Side.CARD)
        seen = SimpleNamespace(reason=Unread(word) if word in set(Unread) else None)
        frame = SimpleNamespace(readings=(side,), seen=None if word == "label" else seen)
        return SimpleNamespace(frames=(frame,))

    monkeypatch.setattr(unknown_form, "decoded", decoded)


def line(number: int, word: str) -> PhotoLine:
    return PhotoLine(photo=f"{number}.jpg", size=1, stamp="", shows="", reading=word.encode())


@pytest.mark.usefixtures("readings")
@pytest.mark.parametrize(
    ("words", "is_said"),
    [
        (["struck"] * FIRST, True),
        (["form-unknown", "label", "read"] * FIRST, False),
        (["form-unknown", "label", "struck", "read"] * FIRST, True),
        (["empty"] * FIRST, False),
        (["struck"] * (FIRST - 1), False),
    ],
)
def test_it_is_said_once_when_most_of_the_first_cards_were_not_read(
    words: list[str], is_said: bool
) -> None:
    first = FirstCards()
    said = [first.add(line(at, word)) for at, word in enumerate(words)]
    assert sum(said) == is_said
    if is_said:
        cards = [word for word in words[: said.index(True) + 1] if word != "label"]
        assert len(cards) == FIRST


@pytest.mark.usefixtures("readings")
def test_what_is_read_again_once_a_form_may_have_been_taught() -> None:
    assert is_box_unread(line(1, "form-unknown"))
    assert not any(is_box_unread(line(1, word)) for word in ("empty", "read", "label"))


@pytest.mark.usefixtures("readings")
def test_at_a_terminal_the_rest_waits_and_elsewhere_it_is_told(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    source = Source(root=str(tmp_path))
    same = tuple(f"{at}.jpg" for at in range(20))
    monkeypatch.setattr(FormOffer, "_alike", lambda _: same)
    told: list[str] = []

    def read_on(offer: FormOffer) -> None:
        for at in range(2 * FIRST):
            offer.add(line(at, "struck"))

    read_on(FormOffer(source, tell=told.append, asks=lambda: False))
    (text,) = told
    assert f"counterfoil form learn NAME --filled {tmp_path / '0.jpg'} " in text
    assert str(tmp_path / "11.jpg") in text
    assert "12.jpg" not in text
    assert "--reread" in text
    for answer, is_stopped in (("n\n", True), ("\n", True), ("y\n", False)):
        offer = FormOffer(source, tell=told.append, asks=lambda: True)
        with CliRunner().isolation(input=answer):
            if is_stopped:
                with pytest.raises(CounterfoilError, match="waits until the form is taught"):
                    read_on(offer)
            else:
                read_on(offer)


def test_cards_of_one_unknown_form_are_told_from_others(monkeypatch: pytest.MonkeyPatch) -> None:
    names = [f"{name}-card.jpg" for name in BOARD]
    monkeypatch.chdir(Path.cwd())
    source = Source(root=str(SAMPLES))
    here = Path(names[0])
    assert of_unknown_form(source, names, here) == ()  # the program knows this form
    monkeypatch.setattr(unknown_form.folder, "index", lambda: Index.of([]))
    assert set(of_unknown_form(source, [*names, "0044-card.jpg"], here)) == set(names)
    assert of_unknown_form(source, [names[0], "0044-card.jpg", "0040-card.jpg"], here) == ()
