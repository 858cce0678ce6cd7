"""The report's HTML templates; whatever is put in is escaped."""

from __future__ import annotations

from functools import cache
from importlib import resources
from typing import Any

from jinja2 import Environment, FunctionLoader

from pairing import column_heads


@cache
def _environment() -> Environment:
    folder = resources.files("pairing.audit.reports")
    made = Environment(
        loader=FunctionLoader(lambda name: folder.joinpath(name).read_text("utf-8")),
        autoescape=True,
    )
    made.globals["heads"] = column_heads
    return made


def page(**values: Any) -> str:
    """The whole page, with the places of its data still to be filled."""
    return _environment().get_template("page.html").render(**values)


def part(name: str, *values: Any) -> Any:
    """A part of the page (a macro of `parts.html`), safe to be put into another one."""
    macro = getattr(_environment().get_template("parts.html").module, name)
    return macro(*values)
