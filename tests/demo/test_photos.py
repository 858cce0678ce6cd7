"""The photos' bars, read by two decoders from outside the project, say what the
manifest says. Sources: zxing-cpp and zbar, each with its own Code 128 reader."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest
import zxingcpp
from PIL import Image

from pairing.demo import PIECES, Layout, Piece

pyzbar = pytest.importorskip(
    "pyzbar.pyzbar", reason="needs the second decoder (apt install libzbar0)", exc_type=ImportError
)

SCANS = Path(__file__).parents[2] / "sample_scans"


def without_routing(text: str) -> str:
    """The article number alone: 420 and a postal code of 5 or 9 digits cut off."""
    text = text.replace("\x1d", "")
    return text[-22:] if text.startswith("420") and len(text) in (30, 34) else text


@cache
def read_by_zxing(photo: str) -> frozenset[str]:
    with Image.open(SCANS / photo) as image:
        found = zxingcpp.read_barcodes(image.convert("L"), text_mode=zxingcpp.TextMode.Plain)
    return frozenset(without_routing(code.text) for code in found)


@cache
def read_by_zbar(photo: str) -> frozenset[str]:
    with Image.open(SCANS / photo) as image:
        found = pyzbar.decode(image.convert("L"), symbols=[pyzbar.ZBarSymbol.CODE128])
    return frozenset(without_routing(code.data.decode()) for code in found)


def expected(piece: Piece) -> Iterator[tuple[str, set[str]]]:
    """Each photo with the numbers that its bars say."""
    label = {piece.article, piece.second_article} - {""}
    card = {piece.card, piece.box_bars} - {""}
    if piece.is_card_glared:
        card.discard(piece.card)
    if piece.layout.is_one_photo:
        yield piece.photos[0], label | card
        return
    shown = [card] if piece.layout is Layout.CARD_ALONE else [label, card]
    if piece.layout is Layout.BOTH_SIDES:
        shown.append(set())
    yield from zip(piece.photos, shown, strict=True)


@pytest.mark.parametrize("piece", PIECES, ids=lambda piece: piece.name)
def test_bars_say_what_the_manifest_says(piece: Piece) -> None:
    for photo, numbers in expected(piece):
        assert read_by_zxing(photo) | read_by_zbar(photo) == numbers, photo


def test_each_decoder_alone_reads_nearly_all() -> None:
    wanted = [(photo, n) for piece in PIECES for photo, ns in expected(piece) for n in ns]
    by_zxing = sum(number in read_by_zxing(photo) for photo, number in wanted)
    by_zbar = sum(number in read_by_zbar(photo) for photo, number in wanted)
    assert min(by_zxing, by_zbar) >= 0.95 * len(wanted)


def test_routing_is_in_the_bars_and_nowhere_else() -> None:
    routed = [piece for piece in PIECES if piece.routing]
    assert {len(piece.routing) for piece in routed} == {5, 9}
    for piece in routed:
        with Image.open(SCANS / piece.photos[0]) as image:
            found = zxingcpp.read_barcodes(image.convert("L"), text_mode=zxingcpp.TextMode.Plain)
        label = f"420{piece.routing}\x1d{piece.article}"
        assert label in {code.text for code in found}
