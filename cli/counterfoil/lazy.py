"""A group of commands that are loaded only when they are called."""

from __future__ import annotations

import importlib
from collections.abc import Mapping
from typing import Any

import click


class OutputClosed(Exception):
    """Whoever read standard output has closed it."""


class LazyGroup(click.Group):
    """Lists its commands without importing them, so that `--help` stays quick.

    rows: names and what `--help` says of them. package: where their modules lie; each has its
    command under the name `command`. places: "module:name" for those that lie elsewhere.
    """

    def __init__(
        self,
        *args: Any,
        rows: Mapping[str, str],
        package: str,
        places: Mapping[str, str] | None = None,
        **more: Any,
    ) -> None:
        super().__init__(*args, **more)
        self._rows = rows
        self._package = package
        self._places = places or {}

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(self._rows)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in self._rows:
            return None
        module, _, name = self._places.get(cmd_name, f"{cmd_name}:command").partition(":")
        command: click.Command = getattr(importlib.import_module(f"{self._package}.{module}"), name)
        return command

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except BrokenPipeError as error:
            # click itself would end the process with code 1, which means nothing here.
            raise OutputClosed from error

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl(list(self._rows.items()))

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        name = args[0] if args else ""
        if name and not name.startswith("-") and name not in self._rows:
            ctx.fail(f"There is no command {name!r}. There are: {', '.join(self._rows)}.")
        return super().resolve_command(ctx, args)
