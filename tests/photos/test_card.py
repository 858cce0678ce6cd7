"""Which side a symbol is on, by its place. Geometry invented; rules from photos/card.py."""

from __future__ import annotations

import math

import pytest

from pairing.model import Quad, Side, Symbol
from pairing.photos.barcodes.card import Standing, offset, own_barcode, place

L = 520.0  # the card barcode's length, px


def symbol(
    along: float, below: float, *, tilt_deg: float = 0.0, turn_deg: float = 0.0, x_px: float = 3.3
) -> Symbol:
    """A symbol of the card barcode's length whose center lies `along` and `below` the card's
    center, in its lengths; the whole scene is turned by `turn_deg`."""
    angle = math.radians(tilt_deg + turn_deg)
    scene = math.radians(turn_deg)
    cx = 2000 + L * (along * math.cos(scene) - below * math.sin(scene))
    cy = 2000 + L * (along * math.sin(scene) + below * math.cos(scene))
    ux, uy = math.cos(angle) * L / 2, math.sin(angle) * L / 2
    vx, vy = -math.sin(angle) * 30, math.cos(angle) * 30
    return Symbol(
        text="",
        aim="]C1",
        kind="Code 128",
        quad=Quad(
            top_left=(cx - ux - vx, cy - uy - vy),
            top_right=(cx + ux - vx, cy + uy - vy),
            bottom_right=(cx + ux + vx, cy + uy + vy),
            bottom_left=(cx - ux + vx, cy - uy + vy),
        ),
        angle_deg=tilt_deg + turn_deg,
        x_px=x_px,
        witnesses=("zxing-cpp", "zbar"),
    )


def strip(along: float, below: float, **more: float) -> Standing:
    """Bars 5 mm high at 0.32 mm."""
    return Standing(symbol=symbol(along, below, **more), height_x=16.0)


def tall(along: float, below: float, **more: float) -> Standing:
    """Bars of 0.75 in at 15 mils, the usual label's (BCOCA Reference)."""
    return Standing(symbol=symbol(along, below, **more), height_x=50.0)


TURNS = (0, 17, 90, 180, 233)


@pytest.mark.parametrize("turn", TURNS)
def test_offsets_do_not_depend_on_how_the_photo_is_turned(turn: float) -> None:
    card = symbol(0, 0, turn_deg=turn)
    seen = offset(card.quad, symbol(0.2, 0.35, tilt_deg=3, turn_deg=turn).quad)
    assert seen.along == pytest.approx(0.2, abs=1e-6)
    assert seen.below == pytest.approx(0.35, abs=1e-6)
    assert seen.tilt_deg == pytest.approx(3, abs=1e-6)


@pytest.mark.parametrize("turn", TURNS)
@pytest.mark.parametrize(
    ("seen", "along", "below", "side"),
    [
        (strip, 0.0, 0.35, Side.BOX),
        (strip, 0.2, 0.25, Side.BOX),
        (tall, 0.0, -1.5, Side.LABEL),  # above the card
        (tall, 3.2, 0.1, Side.LABEL),  # beside the card
        (tall, -2.5, 0.4, Side.LABEL),
        (tall, 0.0, 2.5, Side.LABEL),  # well below the card
        (tall, 0.0, 0.35, Side.UNPLACED),  # a label lying under the card's barcode
        (strip, 3.2, 0.1, Side.UNPLACED),  # too low for a label
        (strip, 0.0, -0.8, Side.UNPLACED),  # a strip pasted above the card's barcode
        (strip, 1.1, 0.3, Side.UNPLACED),  # beside the box
        (strip, 0.0, 0.9, Side.UNPLACED),  # below the box, may lie on the card
        (strip, 0.0, 0.05, Side.UNPLACED),  # over the card's own barcode
        (tall, 1.1, -0.6, Side.UNPLACED),  # a label that lies on the card
    ],
)
def test_places_in_one_photo(  # type: ignore[no-untyped-def]
    turn: float, seen, along: float, below: float, side: Side
) -> None:
    card = strip(0, 0, turn_deg=turn)
    assert place(seen(along, below, turn_deg=turn), card, photographed=None) is side


def test_a_strip_at_a_wrong_angle_or_scale_leaves_doubt() -> None:
    card = strip(0, 0)
    assert place(strip(0, 0.35, tilt_deg=40), card, photographed=None) is Side.UNPLACED
    assert place(strip(0, 0.35, x_px=9.0), card, photographed=None) is Side.UNPLACED
    assert place(strip(0, 0.35, tilt_deg=180), card, photographed=None) is Side.BOX


def test_without_the_cards_barcode_tall_bars_are_a_labels() -> None:
    for shows in (None, Side.LABEL):
        assert place(tall(0, 0), None, photographed=shows) is Side.LABEL
        # A strip on a card whose own barcode was not read.
        assert place(strip(0, 0), None, photographed=shows) is Side.UNPLACED
    assert place(tall(0, 0), None, photographed=Side.CARD) is Side.UNPLACED


def test_bars_of_unknown_height_stand_nowhere() -> None:
    unknown = Standing(symbol=symbol(0, 0.35), height_x=0.0)
    assert place(unknown, strip(0, 0), photographed=None) is Side.UNPLACED
    assert place(unknown, None, photographed=Side.LABEL) is Side.UNPLACED


def test_a_card_photo_shows_no_label() -> None:
    assert place(tall(0, -2), strip(0, 0), photographed=Side.CARD) is Side.UNPLACED


@pytest.mark.parametrize("turn", TURNS)
def test_the_cards_own_number_pasted_in_its_box(turn: float) -> None:
    card, pasted = strip(0, 0, turn_deg=turn), strip(0.1, 0.35, turn_deg=turn)
    assert own_barcode([card, pasted]) is card
    assert own_barcode([pasted, card]) is card


def test_two_cards_in_one_photo_leave_doubt() -> None:
    assert own_barcode([strip(0, 0), strip(0, 3)]) is None
    assert own_barcode([strip(0, 0), strip(0, 0.35), strip(0, 0.7)]) is None
    assert own_barcode([]) is None
