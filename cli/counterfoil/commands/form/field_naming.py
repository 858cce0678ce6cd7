"""Other fields of a form that is learned: proposed, drawn with numbers, named at the terminal."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import click

from pairing.judge.fields import NAMES, SERVICE, is_name
from pairing.photos.forms.definition import Field, Form
from pairing.photos.forms.form_drawing import drawn, write_drawing
from pairing.photos.forms.proposed_fields import Proposed, proposed_fields

_LINE = re.compile(r"\s*(\d{1,3})(?:\s*-\s*(\d{1,3}))?\s+(\S.*?)\s*")
_LEFT_OUT = ("-", "none", "no")
_KINDS = {
    "cell": "a ruled cell",
    "line": "a line to write on",
    "square": "a small square",
    "open": "open paper",
}
HOW = (
    "Enter keeps the fields that have a name. To name one or put it right: 3 addressee; "
    "4-9 service (numbered); 4 service Certified; 2 none."
)


def with_named(form: Form, target: Path) -> Form:
    """The form with the fields that a person named at the terminal."""
    places = proposed_fields(form)
    if not places:
        click.echo("No other field could be made out; --field gives one.")
        return form
    names = [one.name for one in places]
    write_drawing(drawn(_numbered(form, places, names)), target)
    for at, one in enumerate(places, 1):
        (left, top), (right, foot) = one.place[0], one.place[2]
        said = f"{one.name}, by its caption" if one.name else "no name"
        size = f"{right - left:.0f} x {foot - top:.0f} mm"
        click.echo(f"  {at:2}  {_KINDS[one.kind]}, {size}: {said}")
    click.echo(f"They are numbered in {target}. {HOW}")
    while line := click.prompt("fields", default="", show_default=False).strip():
        found = taken(line, names)
        if isinstance(found, str):
            click.echo(found)
            continue
        names = found
        shown = ", ".join(f"{at} {name}" for at, name in enumerate(names, 1) if name)
        click.echo(f"  {shown or 'none has a name'}")
    return with_fields(form, places, names)


def by_caption(form: Form) -> Form:
    """The form with the fields that a caption names; nobody looked at them."""
    places = proposed_fields(form)
    return with_fields(form, places, [one.name for one in places])


def with_fields(form: Form, places: Sequence[Proposed], names: Sequence[str]) -> Form:
    """The form with those places as fields that have a name."""
    new = [
        Field(name=name, place=one.place)
        for one, name in zip(places, names, strict=True) if name
    ]  # fmt: skip
    return replace(form, fields=(*form.fields, *new))


def taken(line: str, names: Sequence[str]) -> list[str] | str:
    """The names after one line of a person's, or what is wrong with it. A name that another
    place had goes from there to here."""
    found = _LINE.fullmatch(line)
    if found is None:
        return HOW
    first, last = int(found[1]), int(found[2] or found[1])
    if not 1 <= first <= last <= len(names):
        return f"They are numbered 1 to {len(names)}."
    name = " ".join(found[3].split())
    new = list(names)
    span = range(first - 1, last)
    if name.lower() in _LEFT_OUT:
        return ["" if at in span else one for at, one in enumerate(new)]
    if name.lower() == SERVICE:
        for at in span:
            new[at] = f"{SERVICE} {at + 1}"
        return new
    if first != last or not is_name(name):
        return f"A name is {', '.join(NAMES)} or 'service NAME'; several at once: 4-9 service."
    return [name if at in span else ("" if one == name else one) for at, one in enumerate(new)]


def _numbered(form: Form, places: Sequence[Proposed], names: Sequence[str]) -> Form:
    """The form as it is drawn for a person."""
    new = tuple(
        Field(name=f"{at} {name}".strip(), place=one.place)
        for at, (one, name) in enumerate(zip(places, names, strict=True), 1)
    )
    return replace(form, fields=(*form.fields, *new))
