"""The one table of looks: emphasis by tone, the heads of findings, columns and wrapping.

Words come first and no colors are needed: emphasis is bold, reverse and underline alone, so
that nothing depends on telling hues apart. Whatever comes from outside (names, scans, messages
that quote them) is shown with its unprintable characters spelled out.
"""

from __future__ import annotations

import shutil
import sys
import textwrap
from enum import Enum
from pathlib import Path

import click

from counterfoil import terminal
from pairing import output
from pairing.findings import Finding, Weight
from pairing.model import Verdict

_WIDEST, _NARROWEST = 96, 40
_MARGIN = 9


class Tone(Enum):
    """How strongly a headline is set apart. GOOD: all is well. STOP: the gravest. LOOK: a
    person has to look again."""

    GOOD = "good"
    STOP = "stop"
    LOOK = "look"


_EMPHASIS: dict[Tone, dict[str, bool]] = {
    Tone.GOOD: {"bold": True},
    Tone.STOP: {"bold": True, "reverse": True},
    Tone.LOOK: {"bold": True, "underline": True},
}

TONES = {Verdict.AGREES: Tone.GOOD, Verdict.DIFFERS: Tone.STOP, Verdict.UNREAD: Tone.LOOK}
"""The tone of each verdict."""

HEADS = {Weight.NOTE: "note", Weight.DOUBT: "look", Weight.CLASH: "stop"}
"""The word before a finding, by what it does to the verdict."""

plain = terminal.plain


def emphasized(text: str, tone: Tone) -> str:
    """`text` in a tone's emphasis."""
    return click.style(text, **_EMPHASIS[tone])


def strong(text: str) -> str:
    """A text that differs from the one beside it: bold and underlined."""
    return click.style(plain(text), bold=True, underline=True)


def path_text(path: Path) -> str:
    """A path that can be shown anywhere."""
    return output.shown(path)


def width() -> int:
    """Columns that a line may take."""
    if not sys.stdout.isatty():
        return _WIDEST
    return max(_NARROWEST, min(_WIDEST, shutil.get_terminal_size().columns))


def row(head: str, text: str) -> str:
    """One line: `head` in the left column, `text` in the right one, not wrapped."""
    return f"  {head:<{_MARGIN}}{text}"


def paragraph(text: str, *, head: str = "") -> str:
    """Wrapped text in the right-hand column, `head` in the left one."""
    indent = " " * (_MARGIN + 2)
    return textwrap.fill(
        plain(text),
        width=width(),
        initial_indent=row(head, "") if head else indent,
        subsequent_indent=indent,
    )


def finding_line(finding: Finding) -> str:
    """A finding, with what to do unless it is only a note."""
    action = f" {finding.action}" if finding.action and finding.weight is not Weight.NOTE else ""
    return paragraph(f"{finding.message}{action}", head=HEADS[finding.weight])
