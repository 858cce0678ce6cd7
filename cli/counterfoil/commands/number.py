"""`counterfoil number`: what a number is."""

from __future__ import annotations

import click

from counterfoil import exits, options
from counterfoil.view import style
from pairing.model import Part, Rejection, TrackingNumber
from pairing.numbers import checkdigit, printed
from pairing.pieces import office_rules
from pairing.wedge import parse_line

_GROUP = 4
"""Digits of a printed group: several TEXTs this short are one number without its quotes."""


@click.command("number")
@click.argument("texts", metavar="TEXT...", nargs=-1, required=True)
@options.gs
def command(texts: tuple[str, ...], gs: tuple[str, ...]) -> int:
    """Say what each TEXT is, its parts, and how its check digit comes about.

    Spaces and a scanner's prefix are allowed in it. Exit code 0 if every TEXT is a valid
    number of a known family, 10 if one is not.
    """
    good = True
    setup = office_rules.wedge_setup(gs)
    for text in texts:
        scans = parse_line(text, setup)
        good = good and bool(scans)
        if not scans:
            click.echo(f"{text!r}\n{style.paragraph('Nothing was given.', head='no')}")
        for scan in scans:
            match scan.number:
                case TrackingNumber():
                    click.echo("\n".join(_accepted(scan.number)))
                case Rejection():
                    good = False
                    click.echo("\n".join(_refused(scan.number)))
            for finding in scan.findings:
                click.echo(style.paragraph(finding.message, head="scan"))
    if len(texts) > 1 and max(map(len, texts)) <= _GROUP:
        click.echo("A number with blanks is one TEXT only in quotes.", err=True)
    return exits.ALL_AGREE if good else exits.DIFFERS


def _accepted(number: TrackingNumber) -> list[str]:
    lines = [
        click.style(printed(number), bold=True),
        style.paragraph(f"{number.family.title} (role: {number.role.value})", head="yes"),
        style.paragraph("  ".join(_part(part) for part in number.parts), head="parts"),
    ]
    if number.routing and number.role.value != "routing":
        lines.append(
            style.paragraph(f"420 and postal code {number.routing}, left out", head="routed")
        )
    lines += _check_digit(number)
    lines += [style.paragraph(finding.message, head="note") for finding in number.findings]
    return [*lines, style.paragraph(number.family.source, head="source")]


def _check_digit(number: TrackingNumber) -> list[str]:
    covered = next(
        (part.start for part in number.parts if part.name == "check digit"), len(number.text)
    )
    data = number.text[:covered]
    work = checkdigit.work_out(data[2:] if len(number.text) == 13 else data, number.check_rule)
    if work is None:
        return [style.paragraph("this family has no check digit", head="check")]
    head = style.paragraph(f"{work.digit}: {work.rule.value}", head="check")
    return [head, *(style.paragraph(line) for line in work.lines)]


def _refused(number: Rejection) -> list[str]:
    lines = [click.style(style.plain(printed(number)) or repr(number.given), bold=True)]
    return [*lines, style.paragraph(number.message, head="no")]


def _part(part: Part) -> str:
    return f"{part.name} {part.text}."
