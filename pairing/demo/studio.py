"""Takes the photos of one piece: lays the papers out and sets the camera."""

from __future__ import annotations

import numpy as np

from pairing.demo.camera import Placed, Shot, photograph
from pairing.demo.cards import card_sheet
from pairing.demo.labels import envelope_sheet, label_sheet
from pairing.demo.lock_cards import lock_back_sheet, lock_card_sheet
from pairing.demo.other_cards import other_card_sheet
from pairing.demo.scenario import CardDesign, Layout, Piece
from pairing.demo.sheet import Color, Sheet
from pairing.demo.tabletop import TABLES

_ENVELOPES: tuple[Color, ...] = ((240, 239, 234), (206, 176, 132), (232, 226, 208))
_MARGIN_MM = 7.0
_GAP_MM = 7.0


def take_photos(piece: Piece, *, seed: int) -> dict[str, bytes]:
    """The piece's photos by name, as JPEG. The bytes depend on the piece and the
    seed alone, not on which pieces were drawn before."""
    rng = np.random.default_rng([seed, int(piece.name)])
    card = _card(piece, rng)
    envelope = _envelope(piece, rng)
    table = int(rng.integers(TABLES))
    if piece.layout.is_one_photo:
        return {piece.photos[0]: _together(card, envelope, piece, table, rng)}
    sheets = [card] if piece.layout is Layout.CARD_ALONE else [envelope, card]
    if piece.layout is Layout.BOTH_SIDES:
        sheets.append(lock_back_sheet(piece, rng))
    return {
        name: _alone(sheet, piece, table, rng)
        for name, sheet in zip(piece.photos, sheets, strict=True)
    }


def _card(piece: Piece, rng: np.random.Generator) -> Sheet:
    if piece.design is CardDesign.BOARD:
        return card_sheet(piece, rng)
    draw = lock_card_sheet if piece.design is CardDesign.LOCK else other_card_sheet
    return draw(piece, rng)


def _envelope(piece: Piece, rng: np.random.Generator) -> Sheet:
    label = label_sheet(piece)
    room = (0.0 if piece.routing else 20.0) + (26.0 if piece.second_article else 0.0)
    return envelope_sheet(
        piece,
        size_mm=(label.width_mm + 22, label.height_mm + 30 + room),
        stock=_ENVELOPES[int(rng.integers(len(_ENVELOPES)))],
        label_mm=(15.0, 23.0),
        rng=rng,
    )


def _alone(sheet: Sheet, piece: Piece, table: int, rng: np.random.Generator) -> bytes:
    wide = sheet.width_mm + 2 * _MARGIN_MM + 2
    high = sheet.height_mm + 2 * _MARGIN_MM + 3
    paper = Placed(sheet=sheet, x_mm=wide / 2, y_mm=high / 2, angle_deg=rng.uniform(-0.7, 0.7))
    shot = _shot(piece, float(rng.uniform(8.6, 9.4)), rng)
    return photograph((paper,), size_mm=(wide, high), shot=shot, table=table, rng=rng)


def _together(
    card: Sheet, envelope: Sheet, piece: Piece, table: int, rng: np.random.Generator
) -> bytes:
    """Both papers on one stretch of table, not touching."""
    card_w, card_h = card.width_mm, card.height_mm
    if piece.layout is Layout.SIDE_BY_SIDE:
        wide = card_w + _GAP_MM + envelope.width_mm + 2 * _MARGIN_MM
        high = max(card_h, envelope.height_mm) + 2 * _MARGIN_MM + 3
        card_at = (_MARGIN_MM + card_w / 2, high / 2 + rng.uniform(-2, 2))
        envelope_at = (wide - _MARGIN_MM - envelope.width_mm / 2, high / 2 + rng.uniform(-2, 2))
    else:
        wide = card_w + 2 * _MARGIN_MM + 2
        high = card_h + _GAP_MM + envelope.height_mm + 2 * _MARGIN_MM
        card_at = (wide / 2, high - _MARGIN_MM - card_h / 2)
        spare = (wide - envelope.width_mm) / 2 - _MARGIN_MM
        envelope_at = (wide / 2 + rng.uniform(-spare, spare), _MARGIN_MM + envelope.height_mm / 2)
    papers = (
        Placed(
            sheet=envelope,
            x_mm=envelope_at[0],
            y_mm=envelope_at[1],
            angle_deg=rng.uniform(-1.8, 1.8),
        ),
        Placed(sheet=card, x_mm=card_at[0], y_mm=card_at[1], angle_deg=rng.uniform(-0.8, 0.8)),
    )
    shot = _shot(piece, float(rng.uniform(8.3, 8.8)), rng)
    return photograph(papers, size_mm=(wide, high), shot=shot, table=table, rng=rng)


def _shot(piece: Piece, px_per_mm: float, rng: np.random.Generator) -> Shot:
    """An ordinary photo; one in poor light for a piece that asks for it."""
    if piece.is_dim:
        return Shot(
            px_per_mm=px_per_mm,
            turn_deg=2.4,
            tilt=0.01,
            blur_px=1.2,
            light=0.62,
            falloff=0.5,
            noise=5.0,
            has_shadow=True,
            quality=74,
        )
    turn_deg = 180.0 if piece.is_upside_down else 0.0
    return Shot(
        px_per_mm=px_per_mm,
        turn_deg=turn_deg + float(rng.uniform(-2.0, 2.0)),
        tilt=0.01,
        blur_px=float(rng.uniform(0.55, 0.95)),
        light=float(rng.uniform(0.97, 1.08)),
        falloff=float(rng.uniform(0.08, 0.34)),
        noise=float(rng.uniform(1.5, 3.0)),
        has_shadow=bool(rng.random() < 0.25),
        quality=60 if piece.design is CardDesign.LOCK else 76,
    )
