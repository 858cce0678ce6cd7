"""A whole day on a pseudo terminal, and its returned cards five weeks later."""

from __future__ import annotations

from tests.cli.day import GOLDEN, play


def test_the_day_reads_as_it_is_written_down() -> None:
    """40 pieces with every kind of error, a hand-over, a void, a list, returned cards.

    The transcript is `golden/day.txt`; `python -m tests.cli.day` writes it anew.
    """
    codes, transcript = play()
    assert codes == [12, 10, 0, 10, 0, 0]
    assert transcript.splitlines() == GOLDEN.read_text().splitlines()
