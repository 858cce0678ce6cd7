"""Photos in which something else than the box's own writing could pass for it. The papers are
the demo's (pairing.demo); how they lie is invented."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest

from pairing.demo.camera import Placed, Shot, photograph
from pairing.demo.cards import BOX_MM, card_sheet
from pairing.demo.hand import HANDS, write_line
from pairing.demo.labels import label_sheet
from pairing.demo.paper import grouped, write
from pairing.demo.scenario import BoxBy, Piece
from pairing.demo.sheet import PX_PER_MM, Sheet
from pairing.judge.box import Unread
from pairing.model import How, Reading, Side, Verdict
from pairing.numbers import identify
from pairing.pieces.batch import judge_all
from pairing.pieces.photo_groups import group
from pairing.pieces.reading import read_piece

ARTICLE, CARD = "9589073361400182450735", "9590948231076137543417"
_SHOT = Shot(
    px_per_mm=9.0, turn_deg=0.5, tilt=0.004, blur_px=0.7, light=1.0, falloff=0.1, noise=2.0,
    has_shadow=False,
)  # fmt: skip


def _cut_off(sheet: Sheet, *, high_mm: float) -> Sheet:
    """A card whose lower edge runs just under its box."""
    cut = Sheet(width_mm=sheet.width_mm, height_mm=high_mm, stock=(255, 255, 255))
    cut.replace(sheet.pixels[: round(high_mm * PX_PER_MM)])
    return cut


def test_a_label_that_shows_from_under_the_card_is_no_strip(tmp_path: Path) -> None:
    """The card lies over the label: of its bars a strip's height is to be seen, right below
    the empty box."""
    rng = np.random.default_rng(3)
    piece = Piece(
        name="0001", purpose="", addressee="Corin Thackmire", article=ARTICLE, card=CARD,
        box_by=BoxBy.EMPTY,
    )  # fmt: skip
    label, card = label_sheet(piece), _cut_off(card_sheet(piece, rng), high_mm=58.0)
    foot_mm, seen_mm, bars_foot_mm = 78.0, 6.0, 34.5
    label_mm = foot_mm + seen_mm - bars_foot_mm + label.height_mm / 2
    photo = photograph(
        (
            Placed(sheet=label, x_mm=80.0, y_mm=label_mm),
            Placed(sheet=card, x_mm=104.0, y_mm=foot_mm - card.height_mm / 2),
        ),
        size_mm=(220.0, 110.0),
        shot=_SHOT,
        table=0,
        rng=rng,
    )
    (tmp_path / "0001-card.jpg").write_bytes(photo)
    read = read_piece(group([tmp_path / "0001-card.jpg"])[0])
    assert {one.number.text for one in read.readings} == {ARTICLE, CARD}
    assert not any(one.side is Side.BOX for one in read.readings)
    # Even with the whole label read in another photo.
    scanned = Reading(
        side=Side.LABEL, how=How.BARCODE, number=identify(ARTICLE), source="0001-label.jpg"
    )
    (shown,) = read.photos
    (frame,) = shown.frames
    frame = replace(frame, readings=(*frame.readings, scanned))
    whole = replace(read, photos=(replace(shown, frames=(frame,)),))
    (result,) = judge_all([whole]).pieces
    assert result.judgment.verdict is Verdict.UNREAD


@pytest.mark.parametrize("place", [3, 8, 13, 18])
def test_a_digit_corrected_above_the_line_is_left_to_a_person(tmp_path: Path, place: int) -> None:
    """The label's number was written, one digit struck out and another put above it: the box no
    longer says the label's number."""
    rng = np.random.default_rng(1)
    piece = Piece(
        name="0001", purpose="", addressee="Corin Thackmire", article=ARTICLE, card=CARD,
        box_by=BoxBy.EMPTY,
    )  # fmt: skip
    card, hand = card_sheet(piece, rng), HANDS["architects"]
    left_mm, top_mm, wide_mm, high_mm = BOX_MM
    foot_mm, tall_mm = top_mm + high_mm - 1.0, 3.6
    ink = write_line(grouped(ARTICLE), hand=hand, height_mm=tall_mm, width_mm=wide_mm - 3, rng=rng)
    # Evenly enough written for this: what was struck out need not be one digit exactly.
    columns = np.flatnonzero(ink.max(axis=0) > 0.3) / PX_PER_MM
    at_mm = columns[0] + (columns[-1] - columns[0]) * (place + place // 4 * 0.5) / 24.5
    base_px, tall_px = ink.shape[0] * 2 / 3, tall_mm * PX_PER_MM
    start = (round(at_mm * PX_PER_MM), round(base_px + 0.1 * tall_px))
    cv2.line(ink, start, (start[0] + 30, round(base_px - tall_px)), 1.0, 6)
    card.stain(left_mm + 1.2, foot_mm - base_px / PX_PER_MM, ink, hand.ink)
    write(card, "8", hand, (left_mm + at_mm, foot_mm - tall_mm - 0.8, 6.0, 3.0), rng)
    photo = photograph(
        (Placed(sheet=card, x_mm=100.0, y_mm=50.0),),
        size_mm=(200.0, 100.0), shot=_SHOT, table=0, rng=rng,
    )  # fmt: skip
    (tmp_path / "0001-card.jpg").write_bytes(photo)
    seen = read_piece(group([tmp_path / "0001-card.jpg"])[0]).seen
    assert seen is not None
    assert seen.reason is Unread.OTHER_WRITING
