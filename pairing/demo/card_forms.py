"""The forms of the demonstration's own cards, as the program knows them.

`python -m pairing.demo.card_forms` writes them to `pairing/photos/forms/built_in`: photos of two
empty cards, taken as the others are, and taught as an office would teach its own.
"""

from __future__ import annotations

from io import BytesIO

import numpy as np
from PIL import Image

from pairing.demo.camera import Placed, Shot, _place, _view, photograph
from pairing.demo.cards import BOX_MM, CARD_MM, card_sheet
from pairing.demo.scenario import BoxBy, Piece
from pairing.demo.sheet import PX_PER_MM
from pairing.photos.barcodes.symbols import read_symbols
from pairing.photos.forms import folder
from pairing.photos.forms.definition import SUFFIX, Form
from pairing.photos.forms.learning import Marked, learned
from pairing.photos.written.plane import mapped, rectangle

_SEED = 41
_MARGIN_MM = 8.0
_CARDS = {"demo-card": "9590948231076137543417", "demo-card-abroad": ""}
"""Each form's name, and the card number on the empty card that it was learned from."""


def forms() -> tuple[Form, ...]:
    """Both cards' forms."""
    return tuple(_form(name, card) for name, card in _CARDS.items())


def _form(name: str, card: str) -> Form:
    article = "9589073361400182450735" if card else "RR407183525US"
    piece = Piece(
        name="0001", purpose="", addressee="", article=article, card=card, box_by=BoxBy.EMPTY
    )
    sheet = card_sheet(piece, np.random.default_rng(_SEED))
    size_mm = (CARD_MM[0] + 2 * _MARGIN_MM, CARD_MM[1] + 2 * _MARGIN_MM)
    shot = Shot(
        px_per_mm=10.0, turn_deg=0.6, tilt=0.006, blur_px=0.6, light=1.0, falloff=0.1, noise=1.5,
        has_shadow=False, quality=92,
    )  # fmt: skip
    placed = Placed(sheet=sheet, x_mm=size_mm[0] / 2, y_mm=size_mm[1] / 2)
    jpeg = photograph(
        (placed,), size_mm=size_mm, shot=shot, table=1, rng=np.random.default_rng(_SEED)
    )
    size_px = (round(size_mm[0] * shot.px_per_mm), round(size_mm[1] * shot.px_per_mm))
    view = _view(size_mm, size_px, shot, np.random.default_rng(_SEED))
    to_photo = view @ _place(placed) @ np.diag([PX_PER_MM, PX_PER_MM, 1.0])
    photo = np.asarray(Image.open(BytesIO(jpeg)).convert("L"))
    marked = Marked(
        corners=mapped(to_photo, rectangle(0.0, 0.0, *CARD_MM)),
        box=mapped(to_photo, rectangle(*BOX_MM)),
        size_mm=CARD_MM,
    )
    bars = read_symbols(photo).symbols[0].quad if card else None
    return learned(name, [photo], marked, bars=bars)


def main() -> None:
    """Write the files."""
    for form in forms():
        folder.write(form, folder.BUILT_IN / f"{form.name}{SUFFIX}")


if __name__ == "__main__":
    main()
