"""Cards whose label is not known: what their boxes say all the same."""

from __future__ import annotations

from functools import partial
from pathlib import Path

import pytest

from pairing.audit.run.apart import apart, of_no_label
from pairing.audit.run.rows import RowMatch
from pairing.findings import Code, Finding
from pairing.model import How, Judgment, Quad, Reading, Side, Verdict
from pairing.numbers import identify
from pairing.photos.written import thresholds
from pairing.pieces.photo_groups import Photo, PhotoPiece
from pairing.pieces.reading import FrameReadings, PhotoReadings, PieceReadings
from tests.ledger.making import card, label

PLACE = Quad(top_left=(0, 0), top_right=(90, 0), bottom_right=(90, 9), bottom_left=(0, 9))


def shown(*boxes: str, how: How = How.BARCODE) -> PieceReadings:
    """A card, and what was read in its box."""
    photo = Photo(path=Path("a.jpg"), shows=None)
    readings = [(Side.CARD, card(1), How.BARCODE), *((Side.BOX, box, how) for box in boxes)]
    frame = FrameReadings(
        page=1,
        readings=tuple(
            Reading(side=side, how=by, number=identify(text), source="a.jpg", quad=PLACE)
            for side, text, by in readings
        ),
        found=(),
    )
    return PieceReadings(
        piece=PhotoPiece(name="a.jpg", photos=(photo,)),
        photos=(PhotoReadings(photo=photo, frames=(frame,), missing=()),),
        skipped=(),
    )


def other_check_digit(number: str) -> str:
    return number[:-1] + str((int(number[-1]) + 1) % 10)


@pytest.mark.parametrize(
    ("text", "why"),
    [
        (card(1), "it is a return-receipt card number"),
        (other_check_digit(label(1)), "is no such number"),
        (label(1)[:-1], "is no such number"),
    ],
)
def test_what_no_label_can_have_is_said(text: str, why: str) -> None:
    (found,) = of_no_label(shown(text, how=How.PRINT), thresholds("1e-4"))
    assert found.code == "box-no-article"
    assert why in found.message


@pytest.mark.parametrize("by_order", [False, True])
def test_what_a_probable_pair_rests_on_is_said(*, by_order: bool) -> None:
    match = RowMatch(
        label=label(1), log_odds=4.0, margin_log_odds=5.0, next=None, counts=False
    )  # fmt: skip
    piece = shown(label(2))
    named, judgment = apart(piece, match, (), lambda: would(Verdict.DIFFERS), by_order=by_order)
    (finding,) = judgment.findings
    assert finding.code == ("matched-by-order" if by_order else "matched-by-box")
    assert "would differ" in finding.message
    assert named is not None
    assert (named.would, named.counts) == ("differs", False)
    assert judgment.verdict is Verdict.UNREAD


def would(verdict: Verdict, *found: Finding) -> Judgment:
    return Judgment(
        verdict=verdict, article=None, card=None, written=None, written_by=None, findings=found
    )


def test_a_box_in_which_a_group_is_missing_is_named_at_the_odds_of_a_difference() -> None:
    """It may be hidden in the photo, so nothing is said to differ; but it is worth a look."""
    match = RowMatch(label=label(1), log_odds=2.0, margin_log_odds=2.0, next=None, counts=False)
    doubt = Finding.of(Code.MATCH_IN_DOUBT, odds=7, other=None, least=30)
    short = Finding.of(Code.BOX_GROUP_MISSING)
    unread = Finding.of(Code.BOX_DOUBTFUL, is_part_of_bars=False)
    for beside, codes in ((short, ["matched-by-box", short.code]), (unread, [doubt.code])):
        together = partial(would, Verdict.UNREAD, beside)
        _, judgment = apart(shown(label(2)), match, (doubt,), together)
        assert [one.code for one in judgment.findings] == codes
        assert judgment.verdict is Verdict.UNREAD


@pytest.mark.parametrize(
    "texts",
    [
        (),
        (label(1),),
        ("RB12345678",),  # letters may have been cut, and other numbers are as short
        (other_check_digit(label(1)), label(1)),
    ],
)
def test_nothing_is_said_where_it_may_be_a_labels_number(texts: tuple[str, ...]) -> None:
    assert of_no_label(shown(*texts, how=How.PRINT), thresholds("1e-4")) == ()


def test_less_than_any_labels_number_is_said_whatever_label_it_is(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    part = shown(label(1)[:-4], how=How.PRINT)
    (found,) = of_no_label(part, thresholds("1e-4"))
    assert found.code == "box-group-missing"
    monkeypatch.setenv("COUNTERFOIL_RULES", "court-mail-italy")  # whose numbers have 12 digits
    assert of_no_label(part, thresholds("1e-4")) == ()


def test_bars_that_are_no_number_were_not_read() -> None:
    assert of_no_label(shown(other_check_digit(label(1))), thresholds("1e-4")) == ()
