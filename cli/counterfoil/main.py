"""The entry point: a group whose commands are loaded only when they are called."""

from __future__ import annotations

import importlib
import os
import sys
from typing import NoReturn

import click

from counterfoil import exits

_COMMANDS = {
    "check": "Scans in, one verdict a piece out.",
    "photos": "One verdict for each photographed piece.",
    "audit": "Photographed pieces by the thousand, and what the result is worth.",
    "sample": "How many pieces to check, and which, to know what share is bad.",
    "compare": "Two numbers beside each other: where and how they differ.",
    "number": "What a number is, its parts, its check digit worked out.",
    "blindspots": "Which copying errors a family's check digit cannot see.",
    "demo": "Draw a batch of pieces with every kind of error and check it.",
}


class _LazyGroup(click.Group):
    """Lists its commands without importing them, so that `--help` stays quick."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(_COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in _COMMANDS:
            return None
        module = importlib.import_module(f"counterfoil.commands.{cmd_name}")
        command: click.Command = module.command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(_COMMANDS.items()))

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        name = args[0] if args else ""
        if name and not name.startswith("-") and name not in _COMMANDS:
            ctx.fail(f"There is no command {name!r}. There are: {', '.join(_COMMANDS)}.")
        return super().resolve_command(ctx, args)


@click.group(
    cls=_LazyGroup,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 96},
    epilog="Exit codes: 0 all agree, 2 usage, 10 something differs, 11 something unread and "
    "nothing differs, 12 a photo was skipped, 13 the job could not be done.",
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

    try:
        code = cli.main(standalone_mode=False)
        if sys.stdout is not None:
            sys.stdout.flush()
    except click.exceptions.Abort:
        click.echo("Stopped.", err=True)
        sys.exit(130)
    except click.ClickException as error:
        error.show()
        sys.exit(error.exit_code)
    except CounterfoilError as error:
        click.echo(f"Not done: {error}", err=True)
        sys.exit(exits.NOT_DONE)
    except OSError as error:
        _give_up_output(error)
    sys.exit(code if isinstance(code, int) else exits.ALL_AGREE)


def _give_up_output(error: OSError) -> NoReturn:
    """The result could not be written: the disk is full, or its reader went away."""
    if not isinstance(error, BrokenPipeError):
        click.echo(f"Not done: the result cannot be written ({error.strerror}).", err=True)
    # Python writes what is left when it ends, and would fail again.
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    sys.exit(exits.NOT_DONE)
