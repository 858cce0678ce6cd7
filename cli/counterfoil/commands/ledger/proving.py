"""`counterfoil ledger proof` and `verify-proof`: one piece's evidence, given out alone."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import click

from counterfoil import exits, options
from counterfoil.commands.ledger.checking import key_id
from counterfoil.commands.ledger.story import canonical
from counterfoil.opening import existing
from counterfoil.view import ledger_lines, style
from pairing import output
from pairing.errors import ProofUnusable
from pairing.ledger import ProofCheck, check_proof
from pairing.ledger.entries import members

LARGEST_PROOF_BYTES = 16_000_000
"""A proof is a few kilobytes, more where a piece has a long story; a larger file is none."""

_LIMITS = (
    "It shows that these entries were in the ledger when its head was signed. Whether the "
    "ledger holds more about this piece, before or after (that it was voided, say), only the "
    "ledger itself can tell."
)


@click.command("proof")
@click.argument("number", nargs=-1, required=True)
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Where to; - for standard output. By default NUMBER.proof.json in this folder.",
)
@click.option("--names", is_flag=True, help="With names and addresses, where they are kept.")
@options.ledger
def proof(number: tuple[str, ...], out: Path | None, names: bool, ledger_url: str | None) -> int:
    """Write the evidence of the latest piece that has NUMBER to a file, which
    `counterfoil ledger verify-proof` checks without the ledger."""
    text = canonical(number)
    target = out or Path(f"{text}.proof.json")
    is_stdout = str(target) == "-"
    if not is_stdout:
        output.check_new(target)
    with existing(ledger_url) as opened:
        data = opened.proof(text, with_particulars=names)
    if is_stdout:
        click.echo(data, nl=False)
    else:
        output.write_new(target, [data], is_private=names)
        click.echo(f"Written: {style.path_text(target)} ({len(data)} bytes)")
    key = check_proof(data).key_id
    said = f"Signed by key {key}. Let whoever gets the file have this key id by another way."
    click.echo(style.paragraph(said, head="key"), err=is_stdout)
    return exits.ALL_AGREE


@click.command("verify-proof")
@click.argument("file", type=click.Path(path_type=Path))
@click.option(
    "--key",
    default="",
    metavar="ID",
    callback=lambda ctx, param, given: key_id(ctx, param, given) if given else "",
    help="The key id that the desk gave out by another way.",
)
@options.as_json
def verify_proof(file: Path, key: str, as_json: bool) -> int:
    """Check a proof FILE (- for standard input), without any ledger.

    Exit code 0 if it holds, 10 if it does not, 13 if it is not a proof.
    """
    where = style.path_text(file)
    check = check_proof(_read(file, where), trusted_key=key, where=where)
    if as_json:
        click.echo(json.dumps(_members(check), ensure_ascii=True, indent=2))
    else:
        click.echo("\n".join(_proof_lines(check, where, is_key_known=bool(key))))
    return exits.ALL_AGREE if check.holds else exits.DIFFERS


def _read(file: Path, where: str) -> bytes:
    try:
        with click.open_file(os.fspath(file), "rb") as opened:
            data: bytes = opened.read(LARGEST_PROOF_BYTES + 1)
    except OSError as error:
        raise ProofUnusable(
            f"The file cannot be read ({error.strerror or error})",
            where=where,
            remedy="Name the proof file.",
        ) from error
    if len(data) > LARGEST_PROOF_BYTES:
        raise ProofUnusable(
            "This is not a proof: it is far too large",
            where=where,
            remedy="Name the file that `counterfoil ledger proof` wrote.",
        )
    return data


def _proof_lines(check: ProofCheck, where: str, *, is_key_known: bool) -> Iterator[str]:
    if check.holds:
        yield f"{click.style('Holds', bold=True)}  {where}"
    else:
        yield f"{click.style('Does not hold', bold=True, reverse=True)}  {where}"
    for finding in check.findings:
        yield style.finding_line(finding)
    head = check.head
    yield style.paragraph(f"{head.size} entries, signed for {head.day} at {head.at}", head="head")
    yield style.paragraph(check.key_id, head="key")
    if not is_key_known:
        yield style.paragraph(
            "Anybody can sign with a key of their own: compare this key id with the one that "
            "the desk gave out, or give that one with --key.",
            head="look",
        )
    if not check.holds:
        yield style.paragraph(
            "What it says is not shown: it is not what was recorded.", head="next"
        )
        return
    if check.piece is not None:
        yield ledger_lines.piece_block(check.piece)
    yield style.paragraph(_LIMITS, head="limits")
    for entry in check.entries:
        yield ""
        yield ledger_lines.entry_block(entry, check.particulars.get(entry.sequence))


def _members(check: ProofCheck) -> dict[str, Any]:
    piece = check.piece
    return {
        "holds": check.holds,
        "findings": [{"code": one.code, "message": one.message} for one in check.findings],
        "key": check.key_id,
        "head": {
            "size": check.head.size,
            "day": check.head.day,
            "at": check.head.at,
            "root": check.head.root.hex(),
        },
        "piece": None
        if piece is None or not check.holds
        else {
            "article": piece.article,
            "card": piece.card,
            "contradicted_by": piece.contradicted.sequence if piece.contradicted else None,
            "state": piece.state.value,
        },
        "entries": [members(entry) for entry in check.entries] if check.holds else [],
    }
