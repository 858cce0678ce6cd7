"""`counterfoil form learn`: a card's form from photos of an empty one."""

from __future__ import annotations

import os
import re
import sys
from functools import partial
from pathlib import Path

import click
import numpy as np
from numpy.typing import NDArray

from counterfoil import exits
from counterfoil.commands.form import field_naming
from counterfoil.commands.form.form_files import form_line
from pairing.errors import CounterfoilError
from pairing.judge.fields import NAMES, SETTABLE, SETTABLE_ON_RETURN, is_name
from pairing.model import Quad
from pairing.numbers import MODULES
from pairing.photos.forms import folder
from pairing.photos.forms.definition import KINDS, NO_BOX
from pairing.photos.forms.form_drawing import drawn, write_drawing
from pairing.photos.forms.learning import Marked, learned, no_box
from pairing.photos.forms.proposed_box import (
    ProposedBox,
    card_corners,
    marked_box,
    own_bars,
    proposed_box,
    proposed_size,
)
from pairing.photos.forms.shared_print import shared_print, without_strays
from pairing.photos.opened_apart import first_apart
from pairing.photos.written.plane import mapped

_POINT = re.compile(r"\s*(-?[0-9.]+)\s*,\s*(-?[0-9.]+)\s*")
_SIZE = re.compile(r"\s*([0-9.]+)\s*[xX]\s*([0-9.]+)\s*")


@click.command("learn")
@click.argument("name")
@click.argument("photos", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--corners", help='The card\'s corners in the first photo, "x,y x,y x,y x,y", px, '
              "from the card's top left clockwise.")  # fmt: skip
@click.option("--box", help="The corners of the number's box, in the same way.")
@click.option("--size", help="The card's width and height, mm: 150x95.")
@click.option("--kind", type=click.Choice([one for one in KINDS if one != NO_BOX]),
              help="How the box is marked (by default what is seen: comb or frame).")  # fmt: skip
@click.option("--cells", type=int, help="Of a comb, how many cells it has (counted by default).")
@click.option("--family", "families", multiple=True, type=click.Choice(list(MODULES)),
              help="A family that may be written in the box (all, if none is given).")  # fmt: skip
@click.option("--field", "fields", multiple=True, type=(str, str), metavar="NAME CORNERS",
              help="Another field: addressee, sender, signature, printed-name, date, "
              "restricted-delivery, postmark, or 'service NAME' for each service's box, and its "
              "corners in the first photo.")  # fmt: skip
@click.option("--filled", is_flag=True,
              help="No empty card is at hand: PHOTOS show a dozen filled ones, and what they share "
              "is the form.")  # fmt: skip
@click.option("--other-side", is_flag=True,
              help="The photos show the card's other side, which has no number's box.")  # fmt: skip
@click.option("--only-note", "only_notes", multiple=True,
              type=click.Choice(list(map(str, (*SETTABLE, *SETTABLE_ON_RETURN)))),
              help="Say this of a card's fields as a note; without it the piece is looked at "
              "again, or the returned card is not in order.")  # fmt: skip
@click.option("--drawing", type=click.Path(path_type=Path),
              help="Where to draw what was understood (by default NAME.png).")  # fmt: skip
@click.option("--propose", is_flag=True,
              help="Take the other fields that captions name, without asking (with --yes); at a "
              "terminal they are always proposed.")  # fmt: skip
@click.option("--yes", is_flag=True, help="Do not ask.")
@click.option("--replace", is_flag=True, help="Replace a form of that name.")
def command(  # noqa: PLR0913 - a command's options
    *,
    name: str,
    photos: tuple[Path, ...],
    corners: str | None,
    box: str | None,
    size: str | None,
    kind: str | None,
    cells: int | None,
    families: tuple[str, ...],
    fields: tuple[tuple[str, str], ...],
    filled: bool,
    other_side: bool,
    only_notes: tuple[str, ...],
    drawing: Path | None,
    propose: bool,
    yes: bool,
    replace: bool,
) -> int:
    """Learn form NAME from PHOTOS of an empty card: one, or several that show the same card; or,
    with --filled, of a dozen filled cards.

    Card and box are proposed and drawn, and you are asked whether that is right. Then other
    fields are proposed by captions and rules, numbered in the drawing, for you to name, put right
    or leave out. Without a terminal give --corners, --box, --size and --yes.
    """
    pictures = [first_apart(path).gray for path in photos]
    bars = own_bars(pictures[0])
    asks = not yes and sys.stdin.isatty()
    around = _corners(corners) if corners else _proposed_card(pictures[0], bars)
    size_mm = _size(size) if size else _asked_size(around, bars, asks)
    corners_in = _corners
    if filled:
        shared = shared_print(pictures, around, size_mm, bars)
        click.echo(f"{shared.cards} of {len(photos)} cards lie over one another.")
        pictures, bars, around = [shared.picture], shared.bars, shared.corners
        corners_in = partial(_corners, through=shared.to_picture)
    if other_side:
        place = ProposedBox(corners=no_box(around, size_mm), kind=NO_BOX)
    elif box:
        place = marked_box(pictures[0], corners_in(box), around, size_mm)
    else:
        place = _proposed_box(pictures[0], bars, around, size_mm)
    kind = place.kind if kind is None or other_side else kind
    marked = Marked(
        corners=around,
        box=place.corners,
        size_mm=size_mm,
        kind=kind,
        cells=(place.cells if cells is None else cells) if kind == "comb" else cells or 0,
        fields=tuple((_field_name(name), corners_in(text)) for name, text in fields),
        only_notes=only_notes,
    )
    form = learned(name, pictures, marked, bars=bars, families=families)
    form = without_strays(form) if filled else form
    target = drawing or Path(f"{name}.png")
    write_drawing(drawn(form), target)
    click.echo(f"{form_line(form)}; drawn in {target}")
    if not yes:
        if not asks:
            raise click.UsageError("Look at the drawing, then give --yes: nothing was kept.")
        if not click.confirm("Is the box where the drawing has it?", default=False):
            click.echo("Nothing was kept. Give --corners and --box.")
            return exits.NOT_DONE
    if asks:
        form = field_naming.with_named(form, target)
    elif propose:
        form = field_naming.by_caption(form)
    if asks or propose:
        write_drawing(drawn(form), target)
        named = ", ".join(field.name for field in form.fields)
        click.echo(f"Other fields: {named or 'none'}")
    click.echo(f"Kept in {folder.save(form, replaces=replace)}")
    return exits.ALL_AGREE


def _field_name(name: str) -> str:
    cleaned = " ".join(name.split())
    if not is_name(cleaned):
        raise click.BadParameter(
            f"A field is {', '.join(NAMES)} or 'service NAME', not {name!r}.", param_hint="--field"
        )
    return cleaned


def _corners(text: str, *, through: NDArray[np.float64] | None = None) -> NDArray[np.float64]:
    """through: the (3, 3) map to the picture that the photos became."""
    found = _POINT.findall(text)
    if len(found) != 4:
        raise click.BadParameter(f'Four points are "x,y x,y x,y x,y", not {text!r}.')
    points = np.array([(float(x), float(y)) for x, y in found])
    return points if through is None else mapped(through, points)


def _size(text: str) -> tuple[float, float]:
    found = _SIZE.fullmatch(text)
    if found is None:
        raise click.BadParameter(f"A size is 150x95, not {text!r}.", param_hint="--size")
    return float(found[1]), float(found[2])


def _proposed_card(photo: NDArray[np.uint8], bars: Quad | None) -> NDArray[np.float64]:
    found = card_corners(photo, bars)
    if found is None:
        raise CounterfoilError(
            "The card's corners could not be made out in the first photo",
            where="--corners",
            remedy="Take it on a dark, plain ground, or give the corners.",
        )
    return found


def _asked_size(corners: NDArray[np.float64], bars: Quad | None, asks: bool) -> tuple[float, float]:
    wide, high = proposed_size(corners, bars)
    if not asks:
        raise click.UsageError(f"Measure the card and give --size (about {wide:.0f}x{high:.0f}).")
    text = click.prompt("The card's width and height, mm", default=f"{wide:.0f}x{high:.0f}")
    return _size(text)


def _proposed_box(
    photo: NDArray[np.uint8],
    bars: Quad | None,
    corners: NDArray[np.float64],
    size_mm: tuple[float, float],
) -> ProposedBox:
    found = proposed_box(photo, bars, corners, size_mm)
    if found is None:
        raise CounterfoilError(
            "No empty cell was found that could be the number's box",
            where=os.fspath("--box"),
            remedy="Give the corners of the box.",
        )
    return found
