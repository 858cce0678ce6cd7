"""Many equal pieces beside one that is not equal: it is found, and the stack costs little."""

from __future__ import annotations

from pathlib import Path

from pairing.audit.run.judging import Context
from pairing.audit.run.listing import Listing
from pairing.audit.run.lot_pieces import NewPiece, PieceNumbers
from pairing.model import EarlierUse, How, Quad, Reading, Side, Verdict
from pairing.numbers import identify
from pairing.pieces.batch import judge_all
from pairing.pieces.photo_groups import Photo, PhotoPiece
from pairing.pieces.reading import FrameReadings, PhotoReadings, PieceReadings
from tests.audit.making import begun
from tests.ledger.making import card, label

STACK = 40


def _at(top_px: float) -> Quad:
    """A place in the photo of its own for each symbol: two readings of one place are one."""
    low = top_px + 100
    return Quad(
        top_left=(0, top_px), top_right=(500, top_px), bottom_right=(500, low), bottom_left=(0, low)
    )


def piece(name: str, article: str, own: str) -> PieceReadings:
    """A piece whose box agrees."""
    photo = Photo(path=Path(name), shows=None)
    sides = ((Side.LABEL, article), (Side.CARD, own), (Side.BOX, article))
    readings = tuple(
        Reading(
            side=side, how=How.BARCODE, number=identify(text), source=name, quad=_at(200 * place)
        )
        for place, (side, text) in enumerate(sides)
    )
    frame = FrameReadings(page=1, readings=readings, found=())
    read = PhotoReadings(photo=photo, frames=(frame,), missing=())
    return PieceReadings(piece=PhotoPiece(name=name, photos=(photo,)), photos=(read,), skipped=())


def test_a_label_on_another_card_shows_on_every_piece_of_the_stack() -> None:
    stack = [piece(f"{n}", label(1), card(1)) for n in range(STACK)]
    alone = {one.judgment.verdict for one in judge_all(stack).pieces}
    assert alone == {Verdict.AGREES}  # one piece, photographed often
    for other in (piece("x", label(1), card(2)), piece("x", label(2), card(1))):
        found = judge_all([*stack, other]).pieces
        assert {one.judgment.verdict for one in found} == {Verdict.DIFFERS}


def test_so_it_is_in_a_lot(tmp_path: Path) -> None:
    numbers: list[tuple[str | None, str | None]] = [(label(1), card(1))] * STACK
    numbers += [(label(1), card(2)), (label(2), card(1)), (label(1), None), (None, card(1))]
    numbers += [(label(3), None), (label(3), None), (None, None), (None, None)]
    with begun(tmp_path) as store:
        listing = Listing(store)
        listing.add_pieces(NewPiece(name=f"{n}", photos=()) for n in range(len(numbers)))
        listing.set_numbers(
            PieceNumbers(place=n + 1, article=article, card=own, boxes=())
            for n, (article, own) in enumerate(numbers)
        )
        context = Context()
        earlier = {one.name: context.of(one, listing).earlier for one in listing.pieces()}
    others = [(label(1), card(2)), (label(2), card(1)), (label(1), None), (None, card(1))]
    for n in range(STACK):
        same, *found = earlier[f"{n}"]
        assert (same.article, same.card) == (label(1), card(1))
        assert same.piece != f"piece {n}"
        assert [(one.article, one.card) for one in found] == others
    assert earlier[f"{STACK + 4}"] == (
        EarlierUse(piece=f"piece {STACK + 5}", article=label(3), card=None),
    )
    assert earlier[f"{STACK + 6}"] == ()
