"""Whose keys are they? Scripted: what is in one text comes without a pause between."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence

import hypothesis
import pytest
from hypothesis import given
from hypothesis import strategies as st

from counterfoil.keyboard import Keyboard, Typed
from pairing.desk.words import Arrived

LABEL = "9374890100000003985039"  # BCOCA Reference, IMpb example
SILENCE = ""
"""In a script: nothing comes for longer than any scan is interrupted."""


class Script:
    """Keys in the order of a script, a pause between two texts."""

    def __init__(self, *texts: str) -> None:
        self._texts = list(texts)
        self._is_paused = False

    def is_ready(self, timeout_s: float | None) -> bool:
        if self._texts and self._texts[0] == SILENCE:
            if timeout_s is not None and timeout_s > 0.1:
                self._texts.pop(0)
            return False
        if timeout_s is None or not self._is_paused:
            return True
        self._is_paused = timeout_s > 0.1
        return self._is_paused

    def read(self) -> bytes:
        self._is_paused = True
        return self._texts.pop(0).encode() if self._texts else b""


class Desk:
    """A keyboard with a script, and the screen."""

    def __init__(self, *texts: str) -> None:
        self.screen = ""
        pauses = itertools.accumulate(itertools.cycle((0.2, 0.3)))
        self._clock: Callable[[], float] = pauses.__next__
        self._keyboard = Keyboard(Script(*texts), self._show, ticks=self._now)

    def _now(self) -> float:
        return self._clock()

    def set_clock(self, clock: Callable[[], float]) -> None:
        self._clock = clock

    def _show(self, text: str) -> None:
        self.screen += text

    def read(self) -> Typed | None:
        return self._keyboard.read()

    @property
    def shown(self) -> str:
        """The line as a person sees it."""
        out: list[str] = []
        for char in self.screen.replace("\b \b", "\b"):
            if char == "\b":
                out.pop()
            else:
                out.append(char)
        return "".join(out).rstrip("\n")


def typed(line: str) -> list[str]:
    """The keys of a line that a person types, Enter included."""
    return [*line, "\r"]


@pytest.mark.parametrize("end", ["\r", "\n", "\r\n", "\t"])
def test_a_scan_is_not_echoed(end: str) -> None:
    desk = Desk(LABEL + end, *typed("count"))
    assert desk.read() == Typed(text=LABEL, arrived=Arrived.SCANNED)
    assert desk.shown == "(scan)"
    assert desk.read() == Typed(text="count", arrived=Arrived.TYPED)


@given(st.lists(st.integers(1, len(LABEL)), max_size=4))
def test_a_scan_that_comes_in_parts_shows_nothing(cuts: list[int]) -> None:
    """Pauses inside a scan, as from a slow radio link."""
    ends = [0, *sorted(set(cuts)), len(LABEL)]
    parts = [LABEL[a:b] for a, b in itertools.pairwise(ends) if a < b]
    desk = Desk(*parts[:-1], parts[-1] + "\r")
    line = desk.read()
    assert line is not None
    assert line.text == LABEL
    assert not any(char.isdigit() for char in desk.screen)


def test_what_a_person_types_is_echoed() -> None:
    desk = Desk(*typed("box 9374 8901"))
    assert desk.read() == Typed(text="box 9374 8901", arrived=Arrived.TYPED)
    assert desk.shown == "box 9374 8901"


def test_rolling_fingers_are_still_a_person() -> None:
    desk = Desk("bo", "x ", "937", "48", "\r")
    assert desk.read() == Typed(text="box 93748", arrived=Arrived.TYPED)
    assert desk.shown == "box 93748"


def test_a_number_without_a_word_is_not_shown() -> None:
    """A scanner that is set slow looks like a person."""
    for number in (LABEL, "EE876543216CA"):
        desk = Desk(*typed(number))
        assert desk.read() == Typed(text=number, arrived=Arrived.TYPED)
        assert not any(char.isdigit() for char in desk.screen)
        assert len(desk.shown) == len(number)


def test_the_boxs_key() -> None:
    desk = Desk(*typed("/9374"))
    assert desk.read() == Typed(text="/9374", arrived=Arrived.TYPED)
    assert desk.shown == "/9374"


def test_a_labels_number_is_typed_unseen() -> None:
    for line in ("label 9374 8901", " LABEL: 9374"):
        desk = Desk(*typed(line))
        read = desk.read()
        assert read == Typed(text=line, arrived=Arrived.TYPED)
        assert not any(char.isdigit() for char in desk.screen)


@pytest.mark.parametrize("line", ["void 1 x", "end", "box 1", f"box {LABEL}"])
def test_a_scanned_or_pasted_word_is_a_scan(line: str) -> None:
    desk = Desk(f"{line}\r")
    assert desk.read() == Typed(text=line, arrived=Arrived.SCANNED)


def test_a_word_followed_by_a_scan_is_mixed_and_hides_the_scan() -> None:
    desk = Desk(*"box ", f"{LABEL}\r")
    line = desk.read()
    assert line == Typed(text=f"box {LABEL}", arrived=Arrived.MIXED)
    assert desk.shown == "box (scan)"


def test_a_word_typed_ahead_at_once_is_no_word() -> None:
    """What was typed while nobody read arrives without pauses; it has to be typed again."""
    desk = Desk("next\rend\r")
    for text in ("next", "end"):
        assert desk.read() == Typed(text=text, arrived=Arrived.SCANNED)


def test_erasing() -> None:
    desk = Desk(*"bxx", "\x7f", "\b", *"ox 12", "\x7f", *typed("3"))
    assert desk.read() == Typed(text="box 13", arrived=Arrived.TYPED)
    assert desk.shown == "box 13"
    desk = Desk(LABEL, "\x15", *typed("next"))
    assert desk.read() == Typed(text="next", arrived=Arrived.TYPED)
    assert desk.shown == "next"
    desk = Desk("\x7f", *typed("end"))
    assert desk.read() == Typed(text="end", arrived=Arrived.TYPED)


def test_a_scan_without_an_end_is_ended_by_silence() -> None:
    desk = Desk(LABEL, SILENCE, *typed("end"))
    assert desk.read() == Typed(text=LABEL, arrived=Arrived.SCANNED)
    assert desk.read() == Typed(text="end", arrived=Arrived.TYPED)


def test_a_person_may_pause_as_long_as_they_like() -> None:
    desk = Desk(*"box", *typed(" 12"))
    assert desk.read() == Typed(text="box 12", arrived=Arrived.TYPED)


def test_arrow_keys_mean_nothing() -> None:
    desk = Desk(*"en", "\x1b[D", "\x1bOP", "\x1b[15~x", *typed("d"))
    line = desk.read()
    assert line is not None
    assert "\x1b" not in line.text
    assert line.text.startswith("en")


def test_a_group_separator_is_kept() -> None:
    desk = Desk(f"]C1420987650042\x1d{LABEL}\r")
    line = desk.read()
    assert line is not None
    assert "\x1d" in line.text


def test_the_end_of_input() -> None:
    assert Desk("\x04").read() is None
    assert Desk().read() is None
    assert Desk(*"box 1").read() is None  # hung up in the middle of a line
    desk = Desk(*"b", "\x04", *typed("ox 1"))
    assert desk.read() == Typed(text="box 1", arrived=Arrived.TYPED)


# A scanner that is set slow


def slowly(text: str, gaps_ms: Sequence[float]) -> Desk:
    """Keys one by one, so far apart."""
    desk = Desk(*typed(text))
    clock = itertools.accumulate(itertools.cycle(gaps_ms))
    desk.set_clock(lambda: next(clock) / 1000)
    return desk


@pytest.mark.parametrize("pace_ms", [62, 95, 150])
@pytest.mark.parametrize("word", ["/", "box ", "label ", ""])
def test_an_even_pace_is_a_scanners_however_slow(pace_ms: int, word: str) -> None:
    """The box's number must not be the label's own bars, sent slowly."""
    poll = [pace_ms, pace_ms + 6, pace_ms - 6, pace_ms + 4, pace_ms]  # it waits for the bus
    line = slowly(word + LABEL, poll).read()
    assert line == Typed(text=word + LABEL, arrived=Arrived.EVEN)


@given(st.lists(st.floats(-1.2, 1.2), min_size=25, max_size=25), st.integers(90, 400))
def test_a_persons_pace_is_theirs(turns: list[float], pace_ms: int) -> None:
    """Gaps that vary by 30 % of their mean and more: whoever is taken for a scanner is only
    asked to key the number again, and that is rare."""
    gaps = [pace_ms * (1 + 0.5 * turn) for turn in turns]
    near = sum(abs(gap - sorted(gaps)[12]) <= 0.12 * sorted(gaps)[12] for gap in gaps)
    hypothesis.assume(near < 18)
    assert slowly(f"/{LABEL}", gaps).read() == Typed(text=f"/{LABEL}", arrived=Arrived.TYPED)


def test_few_keys_say_nothing_of_a_pace() -> None:
    assert slowly("next", [95]).read() == Typed(text="next", arrived=Arrived.TYPED)
    assert slowly("handover Osric", [95]).read() == Typed(
        text="handover Osric", arrived=Arrived.TYPED
    )
