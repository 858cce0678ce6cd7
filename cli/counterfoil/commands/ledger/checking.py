"""`counterfoil ledger verify`: does everything match?"""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import click

from counterfoil import exits, options, terminal
from counterfoil.commands.ledger.saved_list import foot_of
from counterfoil.view import style
from pairing.ledger import Ledger, Report

_SIZE_AND_ROOT = re.compile(r"([1-9]\d{0,17}):([0-9a-f]{64})")


def key_id(_: click.Context, __: click.Parameter, given: Any) -> Any:
    """One key id or several, 64 hexadecimal digits each."""
    for text in (given,) if isinstance(given, str) else given or ():
        digits = text.strip().lower()
        if len(digits) != 64 or digits.strip("0123456789abcdef"):
            raise click.BadParameter(f"{text!r} is not a key id: it has 64 hexadecimal digits.")
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
    help="A key id that you kept elsewhere; heads signed by any other do not match.",
)
@click.option(
    "--root",
    "roots",
    multiple=True,
    metavar="SIZE:ROOT",
    callback=_root,
    help="What a day list's foot says: so many entries had that root. May be given again.",
)
@options.files("--list", "lists", "A saved day list: its PDF, or a text with what its foot says.")
@options.as_json
@options.ledger
def verify(
    trusted: tuple[str, ...],
    roots: tuple[tuple[int, str], ...],
    lists: tuple[Path, ...],
    as_json: bool,
    ledger_url: str | None,
) -> int:
    """Walk the whole ledger and name the first entry that does not match.

    Exit code 0 if everything matches, 10 if something does not, 13 if the ledger cannot be
    opened at all. Where COUNTERFOIL_WITNESS names a folder, the heads that were signed are listed
    in a file there too, and compared; let it be on another disk.
    """
    feet = [foot_of(path) for path in lists]
    roots += tuple(root for foot in feet for root in foot.roots)
    listed = dict.fromkeys(key for foot in feet for key in foot.keys)
    with Ledger.open(ledger_url, must_exist=True) as opened:
        with _progress(opened) as walked:
            report = opened.verify(walked)
        where = opened.where
        others = [size for size, root in roots if not _has(opened, report, size, root)]
    strange = [key for key in report.keys if trusted and key not in trusted]
    lost = [key for key in listed if report.is_clean and key not in report.keys]
    fits = report.is_clean and not strange and not others and not lost
    if as_json:
        members = _members(report, strange, others)
        click.echo(json.dumps({**members, "fits": fits, "keys_not_met": lost}, indent=2))
    else:
        click.echo("\n".join(_report_lines(report, strange, others, where, lost)))
    return exits.ALL_AGREE if fits else exits.DIFFERS


def _has(ledger: Ledger, report: Report, size: int, root: str) -> bool:
    """Whether the first `size` entries have that root; never of a ledger that does not match."""
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
    report: Report, strange: list[str], others: list[int], where: str, lost: list[str]
) -> Iterator[str]:
    problem = report.problem
    word = click.style("Does not match", bold=True, reverse=True)
    if problem is not None:
        yield f"{word}  entry {problem.sequence} of {style.plain(where)}"
        yield style.paragraph(problem.message, head=problem.code[:9])
        yield style.paragraph(f"{report.entries} entries before that match.", head="walked")
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
    elif lost:
        yield f"{word}  {style.plain(where)} has no head left by a key that the list names"
        for key in lost:
            yield style.paragraph(key, head="lost")
    else:
        yield f"{click.style('Everything matches', bold=True)}  {style.plain(where)}"
        entries = f"{report.entries} {'entry' if report.entries == 1 else 'entries'}"
        heads = f"{report.heads} signed head{'' if report.heads == 1 else 's'}"
        yield style.paragraph(f"{entries}, {heads}", head="walked")
        yield style.paragraph(report.root.hex(), head="root")
    for key in report.keys:
        yield style.paragraph(
            f"{key}{' (not named with --key)' if key in strange else ''}", head="key"
        )
    yield from (style.paragraph(said, head="look") for said in _looks(report))
    if report.is_clean and not report.heads and report.entries:
        yield style.paragraph("No head is signed yet: that happens once a day.", head="note")


def _looks(report: Report) -> Iterator[str]:
    """What is nothing wrong by itself, but should be known."""
    if report.gone:
        yield (
            f"Names and addresses of {len(report.gone)} entries are not there, and no erasure is "
            f"recorded: {_some(report.gone)}. That is so after an import without them; otherwise "
            "somebody removed them."
        )
    if report.photos_gone:
        yield (
            f"Kept photos are not there ({len(report.photos_gone)}), and no erasure is recorded: "
            f"{_some([one[:16] for one in report.photos_gone])}. That is so after an import; "
            "otherwise somebody removed them."
        )
    for key in report.unrecorded:
        yield f"Key {key} signed heads here, and no entry records its first use."
    for key in report.unsigned:
        yield f"An entry records that key {key} signed heads here; none by it is left."
    if report.went_on:
        yield (
            f"Entry {_some(report.went_on)}: an operator went on after tampering was found. What "
            "was seen or signed before is not asked for; the entry says why."
        )


def _some(found: Sequence[object]) -> str:
    return ", ".join(map(str, found[:10])) + (", …" if len(found) > 10 else "")


def _members(report: Report, strange: list[str], others: list[int]) -> dict[str, Any]:
    problem = report.problem
    return {
        "fits": report.is_clean,
        "entries": report.entries,
        "heads": report.heads,
        "keys": list(report.keys),
        "keys_not_named": strange,
        "root": report.root.hex() or None,
        "roots_not_met": others,
        "names_gone": list(report.gone),
        "photos_gone": list(report.photos_gone),
        "keys_unrecorded": list(report.unrecorded),
        "keys_unsigned": list(report.unsigned),
        "went_on": list(report.went_on),
        "heads_witnessed": report.witnessed,
        "problem": None
        if problem is None
        else {"entry": problem.sequence, "code": problem.code, "message": problem.message},
    }
