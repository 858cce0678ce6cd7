"""The entry point: a group whose commands are loaded only when they are called."""

from __future__ import annotations

import os
import sys
from typing import NoReturn

import click

from counterfoil import exits, terminal
from counterfoil.lazy import LazyGroup, OutputClosed

_COMMANDS = {
    "check": "Scans in, one verdict a piece out.",
    "counter": "The same for a desk's day: each piece recorded before its verdict is shown.",
    "expect": "Load the pairs that another system printed, or name what is missing.",
    "photos": "One verdict for each photographed piece.",
    "form": "The designs of cards that are known: learn one from a photo, list, check.",
    "audit": "Photographed pieces by the thousand, and what the result is worth.",
    "sample": "How many pieces to check, and which, to know what share is bad.",
    "compare": "Two numbers beside each other: where and how they differ.",
    "number": "What a number is, its parts, its check digit worked out.",
    "blindspots": "Which copying errors a family's check digit cannot see.",
    "daylist": "The day's acceptance list, as PDF or CSV.",
    "returned": "Returned cards: their mailing, and whether the box agrees.",
    "outstanding": "Pieces whose card has not come back.",
    "ledger": "The record: list, show, verify, prove, export, back up.",
    "kiosk": "A page for scanner and camera, served from this machine.",
    "demo": "Draw a batch of pieces with every kind of error and check it.",
}


@click.group(
    cls=LazyGroup,
    rows=_COMMANDS,
    package="counterfoil.commands",
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 96},
    epilog="Exit codes: 0 all agree, 2 usage, 10 something differs, 11 something unread and "
    "nothing differs, 12 a photo of no known piece could not be used, 13 the job could not be "
    "done.",
)
@click.version_option(package_name="counterfoil")
@click.pass_context
def cli(ctx: click.Context) -> None:
    """Does the return-receipt card repeat the number on its mailing's label?

    Results go to standard output, everything else to standard error.
    """
    if os.environ.get("NO_COLOR"):
        ctx.color = False


def main() -> None:
    """Run the command line and end the process with one of the codes in `exits`."""
    from pairing.errors import CounterfoilError  # noqa: PLC0415 - after the quick --help

    terminal.guard()
    if sys.stdout is None:
        # Nothing may be recorded whose verdict nobody could be shown.
        click.echo(
            "Not done: standard output is closed, so no result could be shown. Run the command "
            "again with it open, or send it to a file.",
            err=True,
        )
        sys.exit(exits.NOT_DONE)
    try:
        code = cli.main(standalone_mode=False)
        _flush()
    except click.exceptions.Abort:
        click.echo("Stopped.", err=True)
        sys.exit(130)
    except click.ClickException as error:
        error.show()
        sys.exit(error.exit_code)
    except CounterfoilError as error:
        click.echo(f"Not done: {error}", err=True)
        sys.exit(exits.NOT_DONE)
    except OutputClosed:
        _drop_output()
        sys.exit(exits.OUTPUT_CLOSED)
    except OSError as error:
        _give_up_output(error)
    sys.exit(code if isinstance(code, int) else exits.ALL_AGREE)


def _flush() -> None:
    """Write what is left. Raises OutputClosed where nobody reads it any more."""
    try:
        sys.stdout.flush()
    except BrokenPipeError as error:
        raise OutputClosed from error


def _give_up_output(error: OSError) -> NoReturn:
    """The result could not be written, because the disk is full, say."""
    click.echo(f"Not done: the result cannot be written ({error.strerror}).", err=True)
    _drop_output()
    sys.exit(exits.NOT_DONE)


def _drop_output() -> None:
    """Python writes what is left when it ends, and would fail again."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
