"""A whole day on a pseudo terminal, and its returned cards five weeks later."""

from __future__ import annotations

from tests.cli.day import GOLDEN, play


def test_the_day_reads_as_it_is_written_down() -> None:
    """40 pieces with every kind of error, a hand-over, a void, a list, returned cards.

    The transcript is `golden/day.txt`; `python -m tests.cli.day` writes it again.
    """
    codes, transcript = play()
    assert codes == [12, 10, 0, 10, 0, 0]
    assert transcript.splitlines() == GOLDEN.read_text().splitlines()


def test_no_label_is_on_the_screen_when_its_box_is_read() -> None:
    """From the transcript: what was on the screen, since it was last wiped, when the box was
    keyed or the strip announced, has no group of its label's own digits."""
    visible: list[str] = []
    before_the_box: list[str] = []
    seen = 0
    for line in GOLDEN.read_text().partition("$ counterfoil daylist")[0].splitlines():
        if line == "[screen wiped]":
            visible = []
        elif " > /" in line or " > box " in line or line.endswith(" > strip"):
            before_the_box = list(visible)
        elif line.startswith("     label ¦ ") and "shown once" not in line:
            number = line.partition(" ¦ ")[2]
            shown = "\n".join(before_the_box)
            assert number not in shown
            assert number.replace(" ", "") not in shown
            seen += 1
        visible.append(line)
    assert seen >= 40
