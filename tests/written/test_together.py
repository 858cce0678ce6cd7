"""Several photos of one box: what adds up, what does not, and what stands against reading."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from pairing.judge.box import Seen, Unread
from pairing.model import How, Quad
from pairing.photos.written import WrittenLine, together

PLACE = Quad(top_left=(0, 0), top_right=(90, 0), bottom_right=(90, 9), bottom_left=(0, 9))
TEXT = "95890733"


def picture(
    text: str = TEXT, doubts: dict[int, tuple[str, float]] | None = None
) -> NDArray[np.float64]:
    """Two steps a character, the second blank; doubts: 0-based place to (digit, chance)."""
    chances = np.full((2 * len(text), 37), 1e-9)
    for at, char in enumerate(text):
        other, share = (doubts or {}).get(at, ("0", 0.0))
        chances[2 * at, 1 + int(other)] += share
        chances[2 * at, 1 + int(char)] += 1 - share
        chances[2 * at + 1, 0] = 1.0
    spread: NDArray[np.float64] = chances / chances.sum(1, keepdims=True)
    return spread


def odds(line: WrittenLine, text: str = TEXT) -> float:
    return math.exp(line.log_likelihood(text))


def test_one_shot_taken_twice_says_no_more_than_once() -> None:
    once = picture(doubts={2: ("3", 0.3)})
    assert odds(WrittenLine([once, once])) == pytest.approx(odds(WrittenLine([once])), abs=0.01)


def test_doubts_in_different_places_cancel_out() -> None:
    both = WrittenLine([picture(doubts={2: ("3", 0.2)}), picture(doubts={5: ("1", 0.2)})])
    assert both.best == TEXT
    assert odds(both) > 0.6
    shared = WrittenLine([picture(doubts={2: ("3", 0.2)}), picture(doubts={2: ("3", 0.2)})])
    assert odds(both) < 1.0
    assert odds(shared) < 0.81


def test_photos_that_contradict_each_other_leave_it_open() -> None:
    line = WrittenLine([picture(), picture("95390733")])
    assert odds(line) < 0.6
    assert odds(line, "95390733") < 0.6


def test_all_texts_together_never_exceed_certainty() -> None:
    line = WrittenLine([picture(doubts={2: ("3", 0.4)}), picture(doubts={2: ("5", 0.4)})])
    texts = [TEXT[:2] + digit + TEXT[3:] for digit in "0123456789"]
    assert sum(math.exp(score) for score in line.log_likelihoods(texts)) <= 1.0 + 1e-6


def test_a_photo_too_poor_to_say_anything_takes_nothing_away() -> None:
    poor = picture(doubts=dict.fromkeys(range(8), ("1", 0.45)))
    assert odds(WrittenLine([picture(), poor])) == pytest.approx(1.0, abs=1e-3)


def seen(chances: np.ndarray | None, reason: Unread | None = None) -> Seen:
    line = None if chances is None else WrittenLine([chances])
    return Seen(
        source="card.jpg", how=How.HAND, evidence=line, reason=reason,
        digit_probabilities=line.digit_probabilities if line else (), digit_quads=(), box=PLACE,
    )  # fmt: skip


def test_what_speaks_against_reading_stands() -> None:
    for reason in (Unread.EMPTY, Unread.SEVERAL, Unread.OTHER_WRITING):
        both = together([seen(picture()), seen(None, reason)])
        assert both is not None
        assert both.reason is reason
    both = together([seen(None, Unread.NO_NUMBER), seen(picture())])
    assert both is not None
    assert both.evidence is not None
    assert together([]) is None


def test_the_surest_photo_is_the_one_shown() -> None:
    both = together([seen(picture(doubts={1: ("6", 0.4)})), seen(picture())])
    assert both is not None
    assert both.evidence is not None
    assert both.evidence.best == TEXT
    assert len(both.digit_probabilities) == len(TEXT)


def blots(*places: int) -> np.ndarray:
    """Spoiled characters at these places, from 1; `picture` gives each two steps."""
    chances = np.zeros(2 * len(TEXT))
    chances[[2 * at - 2 for at in places]] = 0.98
    return chances


def test_a_character_spoiled_in_one_photo_is_spoiled() -> None:
    assert WrittenLine([picture()]).spoiled() == ()
    assert WrittenLine([picture()], [blots(3, 8)]).spoiled() == (3, 8)
    both = WrittenLine([picture(), picture()], [blots(3), blots(5)])
    assert both.spoiled() == (3, 5)
    again = WrittenLine(both.pictures, both.blots)
    assert again.spoiled() == (3, 5)


def test_what_is_far_from_every_character_spoils_none() -> None:
    bare = np.zeros((12, 37))
    bare[:, 0] = 1.0
    line = np.concatenate([picture(), bare])
    at_end = np.zeros(len(line))
    at_end[-2] = 0.99
    assert WrittenLine([line], [at_end]).spoiled() == ()


def test_in_print_more_is_asked_of_a_blot() -> None:
    line = WrittenLine([picture()], [blots(3)])
    assert line.spoiled(is_print=True) == ()
