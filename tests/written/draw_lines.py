"""Draws `lines/lines.png` and `lines/lines.csv`: `python -m tests.written.draw_lines`.

Each line is what `lines_in_box` cuts from a drawn photo of a whole card (`pairing.demo`): the
demonstration's four hands and its two printed faces, all under the SIL Open Font License 1.1
and kept out of all training (`pairing/demo/fonts/README.md`). Numbers are made up.
"""

from __future__ import annotations

import csv
import random
from collections.abc import Iterator
from dataclasses import replace
from io import BytesIO
from pathlib import Path

import cv2
import numpy as np
from PIL import Image
from stdnum import ean

from pairing.demo import PIECES, BoxBy, Piece
from pairing.demo.studio import take_photos
from pairing.model import Role, TrackingNumber
from pairing.numbers import identify
from pairing.photos.barcodes.symbols import read_symbols
from pairing.photos.written import line_under, lines_in_box

FOLDER = Path(__file__).parent / "lines"
SEED = 11
BASE = next(piece for piece in PIECES if piece.name == "0008")
LOOKS = {"1": "7", "7": "1", "4": "9", "9": "4", "0": "6", "6": "0", "3": "5", "5": "3", "8": "3"}
ROWS = [("caveat", BoxBy.HAND), ("indie", BoxBy.HAND), ("reenie", BoxBy.HAND),
        ("architects", BoxBy.HAND), ("caveat", BoxBy.STRIP_PRINT),
        ("caveat", BoxBy.STRIP_BARCODE)]  # fmt: skip


def checked(body: str) -> str:
    """The body with its check digit (python-stdnum: mod 10, weights 3 and 1)."""
    return body + ean.calc_check_digit(body)


def texts(dice: random.Random) -> Iterator[tuple[str, str, str, str]]:
    """kind, label's number, card's number, what is written in the box."""
    article = checked("9589073361400" + "".join(dice.choices("0123456789", k=6)) + "27")
    card = checked("9590948231" + "".join(dice.choices("0123456789", k=11)))
    place = next(at for at in range(14, 19) if article[at] in LOOKS)
    five = article[:-3] + "72" + article[-1]  # for 27: the 3-1 sum stays the same modulo 10
    yield "right", article, card, article
    yield (
        "look-alike",
        article,
        card,
        article[:place] + LOOKS[article[place]] + article[place + 1 :],
    )
    yield "swap-five-apart", article, card, five
    yield "own-card-number", article, card, card
    yield "neighbour-label", article, card, checked(str(int(article[:-1]) + 1))


def cut(piece: Piece) -> np.ndarray:
    """The line in that card's box, (32, 640) uint8."""
    photo = take_photos(piece, seed=SEED)[piece.photos[1]]
    gray = np.asarray(Image.open(BytesIO(photo)).convert("L"))
    for symbol in read_symbols(gray).symbols:
        number = identify(symbol.text, aim=symbol.aim)
        is_card = isinstance(number, TrackingNumber) and number.role is Role.CARD
        if piece.box_by is BoxBy.STRIP_BARCODE and not is_card:
            line = line_under(gray, symbol.quad)
            assert line is not None
            return line.picture
        if piece.box_by is not BoxBy.STRIP_BARCODE and is_card:
            (line,) = lines_in_box(gray, symbol.quad)
            return line.picture
    raise AssertionError(piece.name)


def main() -> None:
    """Draw them all."""
    dice, pictures = random.Random(SEED), []
    rows: list[tuple[object, ...]] = []
    for hand, by in ROWS:
        for kind, article, card, text in texts(dice):
            # A strip's bars are not cut out with the line; they may say what they like.
            bars = checked("958907336140099999999") if by is BoxBy.STRIP_BARCODE else ""
            piece = replace(
                BASE, name=f"{9000 + len(rows)}", hand=hand, article=article, card=card,
                box=text, box_by=by, box_bars=bars,
            )  # fmt: skip
            pictures.append(cut(piece))
            rows.append((hand if by is BoxBy.HAND else "", str(by), kind, article, card, text))
    cv2.imwrite(str(FOLDER / "lines.png"), np.vstack(pictures))
    with (FOLDER / "lines.csv").open("w", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(("hand", "by", "kind", "article", "card", "text"))
        writer.writerows(rows)


if __name__ == "__main__":
    main()
