"""`counterfoil ledger verify`: does everything fit?"""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import click

from counterfoil import exits, options, terminal
from counterfoil.view import style
from pairing.ledger import Ledger, Report

_SIZE_AND_ROOT = re.compile(r"([1-9]\d{0,17}):([0-9a-f]{64})")


def key_id(_: click.Context, __: click.Parameter, given: Any) -> Any:
    """One key id or several, 64 hexadecimal digits each."""
    for text in (given,) if isinstance(given, str) else given or ():
        digits = text.strip().lower()
        if len(digits) != 64 or digits.strip("0123456789abcdef"):
            raise click.BadParameter(f"{text!r} is no key id: it has 64 hexadecimal digits.")
    if isinstance(given, str):
        return given.strip().lower()
    return tuple(text.strip().lower() for text in given or ())


def _root(_: click.Context, __: click.Parameter, given: Any) -> tuple[tuple[int, str], ...]:
    """Sizes and roots, as `12:64 hexadecimal digits`."""
    found = []
    for text in given:
        match = _SIZE_AND_ROOT.fullmatch(text.strip().lower())
        if match is None:
            raise click.BadParameter(f"{text!r}: write it as SIZE:ROOT, 64 hexadecimal digits.")
        found.append((int(match[1]), match[2]))
    return tuple(found)


@click.command("verify")
@click.option(
    "--key",
    "trusted",
    multiple=True,
    metavar="ID",
    callback=key_id,
    help="A key id that you kept elsewhere; heads signed by any other do not fit.",
)
@click.option(
    "--root",
    "roots",
    multiple=True,
    metavar="SIZE:ROOT",
    callback=_root,
    help="What a day list's foot says: so many entries had that root. May be given again.",
)
@options.as_json
@options.ledger
def verify(
    trusted: tuple[str, ...],
    roots: tuple[tuple[int, str], ...],
    as_json: bool,
    ledger_url: str | None,
) -> int:
    """Walk the whole ledger and name the first entry that does not fit.

    Exit code 0 if everything fits, 10 if something does not, 13 if the ledger cannot be
    opened at all.
    """
    with Ledger.open(ledger_url, must_exist=True) as opened:
        with _progress(opened) as walked:
            report = opened.verify(walked)
        where = opened.where
        others = [size for size, root in roots if not _has(opened, report, size, root)]
    strange = [key for key in report.keys if trusted and key not in trusted]
    if as_json:
        click.echo(json.dumps(_members(report, strange, others), indent=2))
    else:
        click.echo("\n".join(_report_lines(report, strange, others, where)))
    fits = report.is_clean and not strange and not others
    return exits.ALL_AGREE if fits else exits.DIFFERS


def _has(ledger: Ledger, report: Report, size: int, root: str) -> bool:
    """Whether the first `size` entries have that root; never of a ledger that does not fit."""
    found = ledger.root(size) if report.is_clean else None
    return found is not None and found.hex() == root


@contextmanager
def _progress(ledger: Ledger) -> Iterator[Callable[[int], None] | None]:
    if not sys.stderr.isatty():
        yield None
        return
    from tqdm import tqdm  # noqa: PLC0415 - only where somebody waits

    with tqdm(
        total=ledger.size(), unit=" entries", leave=False, file=terminal.own(sys.stderr)
    ) as bar:
        yield lambda walked: bar.update(walked - bar.n) and None


def _report_lines(
    report: Report, strange: list[str], others: list[int], where: str
) -> Iterator[str]:
    problem = report.problem
    word = click.style("Does not fit", bold=True, reverse=True)
    if problem is not None:
        yield f"{word}  entry {problem.sequence} of {style.plain(where)}"
        yield style.paragraph(problem.message, head=problem.code[:9])
        yield style.paragraph(f"{report.entries} entries before that fit.", head="walked")
        yield style.paragraph(
            "Keep this file as it is, and compare it with the last backup that verifies.",
            head="next",
        )
    elif strange:
        yield f"{word}  {style.plain(where)} is signed by a key that you did not name"
    elif others:
        yield f"{word}  {style.plain(where)} is not the ledger that the root was given for"
        for size in others:
            yield style.paragraph(
                f"The first {size} entries have another root, or there are not so many.",
                head="root",
            )
    else:
        yield f"{click.style('Everything fits', bold=True)}  {style.plain(where)}"
        entries = f"{report.entries} {'entry' if report.entries == 1 else 'entries'}"
        heads = f"{report.heads} signed head{'' if report.heads == 1 else 's'}"
        yield style.paragraph(f"{entries}, {heads}", head="walked")
        yield style.paragraph(report.root.hex(), head="root")
    for key in report.keys:
        yield style.paragraph(
            f"{key}{' (not named with --key)' if key in strange else ''}", head="key"
        )
    if report.gone:
        named = ", ".join(map(str, report.gone[:10])) + (", …" if len(report.gone) > 10 else "")
        yield style.paragraph(
            f"Names and addresses of {len(report.gone)} entries are not there, and no erasure is "
            f"recorded: {named}. That is so after an import without them; otherwise somebody "
            "removed them.",
            head="look",
        )
    if report.is_clean and not report.heads and report.entries:
        yield style.paragraph("No head is signed yet: that happens once a day.", head="note")


def _members(report: Report, strange: list[str], others: list[int]) -> dict[str, Any]:
    problem = report.problem
    return {
        "fits": report.is_clean and not strange and not others,
        "entries": report.entries,
        "heads": report.heads,
        "keys": list(report.keys),
        "keys_not_named": strange,
        "root": report.root.hex() or None,
        "roots_not_met": others,
        "names_gone": list(report.gone),
        "problem": None
        if problem is None
        else {"entry": problem.sequence, "code": problem.code, "message": problem.message},
    }
