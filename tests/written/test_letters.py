"""Letters in the box: a name, and an S10 number that was not read to the letter. Probabilities
are made up; the number is UPU S10's own example (S10-12, check digit)."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from pairing.judge.box import Unread
from pairing.photos.written import box
from pairing.photos.written.ctc import CHARACTERS
from pairing.photos.written.reader import LINE_KINDS, Look, WrittenLine

S10 = "RR473124829GB"
_TWIN = {"R": "8", "G": "6", "B": "8", "N": "1", "O": "0", "S": "5", "H": "4", "U": "0"}


def _chances(text: str) -> np.ndarray:
    """Each character read with 0.97, and with 0.02 as the digit that it looks like."""
    steps = []
    for char in text:
        step = np.full(len(CHARACTERS) + 1, 1e-6)
        step[1 + CHARACTERS.index(char)] = 0.97
        step[1 + CHARACTERS.index(_TWIN.get(char, char))] += 0.02
        blank = np.full(len(CHARACTERS) + 1, 1e-6)
        blank[0] = 1.0
        steps += [step / step.sum(), blank / blank.sum()]
    return np.array(steps)


def _read(text: str, monkeypatch: pytest.MonkeyPatch, kind: str = "number") -> box.BoxReading:
    def look(picture: str) -> Look:
        chances = _chances(picture)
        kinds = np.array([float(one == kind) for one in LINE_KINDS])
        return Look(chances=chances, blots=np.zeros(len(chances)), kinds=kinds)

    line = SimpleNamespace(picture=text, is_by_label=False, is_cut=False)
    monkeypatch.setattr(box, "lines_in_box", lambda *_: (line,))
    return box.read_box(None, None, SimpleNamespace(look=look))  # type: ignore[arg-type]


def test_an_s10_number_is_read_with_its_letters(monkeypatch: pytest.MonkeyPatch) -> None:
    reading = _read(S10, monkeypatch)
    assert reading.line is not None
    assert reading.line.best == S10


@pytest.mark.parametrize("text", ["RR473124829G8", "RR47312482GB", "BRONSSONGRUB"])
def test_letters_are_never_made_digits(text: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """One letter of an S10 number read as a digit, a digit left out, a name: left to a person,
    and above all not called another number than the label's."""
    reading = _read(text, monkeypatch)
    assert reading.line is None
    assert reading.reason is Unread.NO_NUMBER


@pytest.mark.parametrize(
    ("kind", "reason"),
    [
        ("print", Unread.NO_NUMBER),
        ("writing", Unread.NO_NUMBER),
        ("altered", Unread.OTHER_WRITING),
    ],
)
def test_what_the_network_takes_for_no_number_is_not_read(
    kind: str, reason: Unread, monkeypatch: pytest.MonkeyPatch
) -> None:
    """However surely its digits were read."""
    reading = _read("9589073361400182450735", monkeypatch, kind)
    assert reading.line is None
    assert reading.reason is reason


def test_digits_that_look_a_little_like_letters_are_read(monkeypatch: pytest.MonkeyPatch) -> None:
    reading = _read("9589073361400182450735", monkeypatch)
    assert reading.line is not None
    assert reading.line.best == "9589073361400182450735"


def test_what_is_no_probability_is_no_certainty() -> None:
    broken = _chances("9589073361400182450735")
    broken[-1] = np.nan
    line = WrittenLine([broken])
    assert line.log_likelihood("9589073361400182450735") == -np.inf
