"""`counterfoil daylist`: the day's acceptance list."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from pathlib import Path

import click

from counterfoil import exits, options
from counterfoil.opening import existing
from counterfoil.view import ledger_lines, style
from pairing import output
from pairing.csv_tables import encoded
from pairing.desk import daylist as lists
from pairing.desk.daylist import DayList
from pairing.desk.daylist_rows import csv_lines
from pairing.desk.for_whom import total
from pairing.errors import CounterfoilError, OutputRefused
from pairing.ledger import Ledger

_COPY = "Copy of a list that was given out before"
_DRAFT = "Draft: not recorded, not to be handed over"
_PAPERS = ("letter", "a4")


@click.command("daylist")
@click.option("--day", type=options.DAY, default="today", help="Which day. By default today.")
@click.option("--desk", metavar="NAME", default="", help="That desk's pieces only.")
@click.option("--pdf", type=click.Path(path_type=Path), metavar="FILE", help="Write it as PDF.")
@click.option("--csv", "table", metavar="FILE", help="Write it as CSV; - for standard output.")
@options.sender
@click.option(
    "--names",
    is_flag=True,
    help="With addressees, references, services and fees, where they are kept.",
)
@click.option("--paper", type=click.Choice(_PAPERS), default="letter", show_default=True)
@options.font
@click.option("--draft", is_flag=True, help="The whole day, to look at; nothing is recorded.")
@click.option("--again", is_flag=True, help="Print the last list of the day again, as a copy.")
@options.operator
@options.ledger
def command(  # noqa: PLR0913, PLR0917 - click hands every option over by name
    day: date,
    desk: str,
    pdf: Path | None,
    table: str | None,
    sender: str,
    names: bool,
    paper: str,
    font: Path | None,
    draft: bool,
    again: bool,
    operator: str,
    ledger_url: str | None,
) -> int:
    """Make the acceptance list of a day: sealed pieces in the numerical order of their articles,
    card numbers, the total, a place for the acceptance mark.

    A list that is made is recorded; a later run of the same day makes a supplement with what
    was sealed, voided or corrected since. Exit code 0 for a list, 11 if there is nothing to
    put on one.
    """
    if draft and again:
        raise click.UsageError("Give --draft or --again, not both.")
    _check_targets(pdf, table)
    senders = options.sender_lines(sender)
    with existing(ledger_url) as opened:
        if draft:
            found = lists.compose(opened, day, desk=desk, is_whole=True)
        elif again:
            found = _last(opened, day, desk)
        else:
            found = lists.compose(opened, day, desk=desk)
        known = lists.about(opened, found) if names else {}
        notice = _DRAFT if draft else _COPY if again else ""
        style = (paper, font, notice)
        if pdf and not found.is_empty:
            _printed(found, style, (senders, known, ()))  # an error is said now
        if not draft and not again:
            found = lists.record(
                opened, day, desk=desk, at_desk=options.this_desk(), operator=operator
            )
            known = lists.about(opened, found) if names else {}
            _remind(opened, day)
        if found.is_empty:
            return _nothing(found, was_given_out=again)
        with _recorded(found):
            if pdf:
                seal = () if draft else _seal(opened, found)
                output.write_new(pdf, [_printed(found, style, (senders, known, seal))])
            if table == "-":
                _to_standard_output("".join(csv_lines(found, known)))
            elif table:
                output.write_new(Path(table), encoded(csv_lines(found, known)))
    _tell(found, is_draft=draft, to_stderr=table == "-")
    _tell_totals(found, known, to_stderr=table == "-")
    return exits.ALL_AGREE


def _to_standard_output(text: str) -> None:
    """Written and flushed now, so that a full device is told of with the way out."""
    try:
        click.echo(text, nl=False)
        sys.stdout.flush()
    except BrokenPipeError:
        raise  # whoever read it has closed it
    except OSError as error:
        raise OutputRefused(
            f"The list cannot be written ({error.strerror or error})",
            where="standard output",
            remedy="Free some room.",
        ) from error


def _check_targets(pdf: Path | None, table: str | None) -> None:
    """Check the targets before anything is recorded: what cannot be written is not given out."""
    if pdf is None and table is None:
        raise click.UsageError("Give --pdf FILE, --csv FILE, or both.")
    targets = [Path(table)] if table is not None and table != "-" else []
    targets += [pdf] if pdf else []
    if len({path.absolute() for path in targets}) < len(targets):
        raise click.UsageError("--pdf and --csv cannot go to the same file.")
    for path in targets:
        output.check_new(path)


@contextmanager
def _recorded(found: DayList) -> Iterator[None]:
    """Say that the list can be printed again, where something fails after it was recorded."""
    try:
        yield
    except CounterfoilError as error:
        if found.made is None:
            raise
        remedy = f"{error.remedy} The list is recorded: print it with --again."
        raise type(error)(error.what, where=error.where, remedy=remedy) from error


def _printed(
    found: DayList,
    style: tuple[str, Path | None, str],
    words: tuple[tuple[str, ...], dict[int, dict[str, str]], tuple[str, ...]],
) -> bytes:
    """The PDF. style: paper, font, notice. words: sender, about, seal."""
    from pairing.desk.daylist_pdf import Sheet, pdf  # noqa: PLC0415 - not for a CSV alone

    (paper, font, notice), (sender, about, seal) = style, words
    return pdf(
        found,
        Sheet(sender=sender, paper=paper, about=about, font=font, seal=seal, notice=notice),
    )


def _last(ledger: Ledger, day: date, desk: str) -> DayList:
    """The day's last list of that desk; an empty one where there is none."""
    given = [one for one in lists.given_out(ledger, day) if one.desk == desk]
    return given[-1] if given else DayList(day=day, desk=desk, number=0, supplements=(), entered=())


def _seal(ledger: Ledger, found: DayList) -> tuple[str, ...]:
    """What ties the paper to the ledger as it is now: a later copy of the ledger can be checked
    against the list."""
    head = ledger.sign_head()
    if head is None:
        return ()
    made = f", recorded {ledger_lines.moment(found.made)}" if found.made else ""
    return (
        f"ledger {head.size}:{head.root.hex()}",
        f"signed by {head.key_id}{made}",
    )


def _remind(ledger: Ledger, day: date) -> None:
    for earlier in lists.outdated(ledger, day):
        said = f"Since the list of {earlier} was made, its pieces have changed."
        what = f"Make its supplement: counterfoil daylist --day {earlier}"
        click.echo(style.paragraph(f"{said} {what}", head="look"), err=True)


def _nothing(found: DayList, *, was_given_out: bool) -> int:
    where = f" at desk {style.plain(found.desk)}" if found.desk else ""
    if was_given_out:
        said = f"No list of {found.day}{where} was given out."
    elif found.standing:
        said = (
            f"Nothing has changed since the last list of {found.day}{where} "
            f"({found.standing} sealed). --again prints that list."
        )
    else:
        said = f"No piece of {found.day}{where} is sealed."
    click.echo(said, err=True)
    return exits.UNREAD


def _tell_totals(found: DayList, about: dict[int, dict[str, str]], *, to_stderr: bool) -> None:
    entered = (about.get(row.sequence, {}) for row in found.entered)
    if said := total(entered).sentence:
        click.echo(f"Declared: {style.plain(said)}.", err=to_stderr)


def _tell(found: DayList, *, is_draft: bool, to_stderr: bool) -> None:
    parts = [f"{len(found.entered)} sealed"]
    parts += [f"{len(found.struck)} voided"] if found.struck else []
    parts += [f"{len(found.changed)} corrected"] if found.changed else []
    number = "draft" if is_draft else f"list {found.number}"
    click.echo(
        f"{found.title} of {found.day} ({number}): {', '.join(parts)}; "
        f"{found.standing} on all lists of this day.",
        err=to_stderr,
    )
