"""`counterfoil form list, show, check, export, import, remove`."""

from __future__ import annotations

from pathlib import Path

import click

from counterfoil import exits
from counterfoil.view import style
from pairing.errors import CounterfoilError
from pairing.photos.forms import folder
from pairing.photos.forms.definition import NO_BOX, Form, Polygon, box_mm, read_form
from pairing.photos.forms.form_drawing import drawn, write_drawing
from pairing.photos.forms.registration import registered
from pairing.photos.opened_apart import first_apart


@click.command("list")
def list_forms() -> int:
    """The forms that are known, a line each: those in the office's folder, and those that come
    with the program."""
    taught = folder.forms()
    for form in taught:
        click.echo(form_line(form))
    for form in folder.built_in():
        click.echo(f"{form_line(form)}, built in")
    if not taught:
        click.echo(
            "The forms above come with the program; none was taught here yet. Those that are will "
            f"be kept in {folder.place()}.",
            err=True,
        )
    return exits.ALL_AGREE


@click.command("show")
@click.argument("name")
@click.option("--drawing", type=click.Path(path_type=Path), help="Draw it into this PNG file.")
def show_form(name: str, drawing: Path | None) -> int:
    """What is known of form NAME."""
    form = folder.find(name)
    click.echo(form_line(form))
    if form.kind != NO_BOX:
        click.echo(f"  box, mm from the top left: {_listed(form.box)}")
    for field in form.fields:
        click.echo(f"  {style.plain(field.name)}: {_listed(field.place)}")
    if form.only_notes:
        click.echo(f"  notes only: {', '.join(map(style.plain, form.only_notes))}")
    click.echo(f"  the card's own bars: {_listed(form.bars or ()) or 'none'}")
    click.echo(f"  families: {', '.join(form.families) or 'all'}")
    if drawing is not None:
        write_drawing(drawn(form), drawing)
        click.echo(f"  drawn in {drawing}")
    return exits.ALL_AGREE


@click.command("check")
@click.argument("photo", type=click.Path(path_type=Path))
def check(photo: Path) -> int:
    """Which form PHOTO shows, and how well it matches."""
    match = registered(first_apart(photo).gray, folder.index())
    if match is None:
        click.echo("No known form, or more than one that matches.")
        return exits.UNREAD
    click.echo(
        f"{match.form.name}{', built in' if match.form.is_builtin else ''}: matches "
        f"{100 * match.fit:.0f} %, {match.inliers} places found again"
    )
    return exits.ALL_AGREE


@click.command("export")
@click.argument("name")
@click.argument("file", type=click.Path(path_type=Path))
def export(name: str, file: Path) -> int:
    """Write form NAME to FILE."""
    form = folder.find(name)
    if file.exists():
        raise CounterfoilError(
            "This file exists already", where=str(file), remedy="Give another name."
        )
    folder.write(form, file)
    click.echo(f"{name} written to {file}")
    return exits.ALL_AGREE


@click.command("import")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--replace", is_flag=True, help="Replace a form of that name.")
def bring_in(file: Path, replace: bool) -> int:
    """Take the form in FILE into the office's folder."""
    form = read_form(file)
    click.echo(f"{form.name} kept in {folder.save(form, replaces=replace)}")
    return exits.ALL_AGREE


@click.command("remove")
@click.argument("name")
def remove(name: str) -> int:
    """Forget form NAME."""
    folder.remove(name)
    click.echo(f"{name} removed")
    return exits.ALL_AGREE


def _listed(place: Polygon) -> str:
    return "  ".join(f"{x:.1f},{y:.1f}" for x, y in place)


def form_line(form: Form) -> str:
    """What a form is, in one line."""
    if form.kind == NO_BOX:
        wide, high = form.size_mm
        return f"{form.name}: {wide:g} x {high:g} mm, the other side ({len(form.fields)} fields)"
    long, high = box_mm(form)
    kind = f"comb of {form.cells}" if form.kind == "comb" else form.kind
    return (
        f"{form.name}: {form.size_mm[0]:g} x {form.size_mm[1]:g} mm, "
        f"box {long:.0f} x {high:.0f} mm ({kind})"
    )
