"""`counterfoil kiosk`: the page for scanner and camera, served from this machine."""

from __future__ import annotations

import os
import shutil
import sys
from dataclasses import replace
from importlib import resources
from pathlib import Path

import click

from counterfoil import exits, options
from counterfoil.opening import tell_of_confinement
from counterfoil.view import style
from pairing import output
from pairing.desk.for_whom import Asked
from pairing.kiosk import secret, serve
from pairing.kiosk.settings import LANGUAGES, Settings
from pairing.ledger import Ledger
from pairing.pieces import office_rules

_LEDGER_PATIENCE_S = 3.0
"""Shorter than a page waits, so that it hears "not recorded" from the service itself."""


@click.command("kiosk")
@click.option("--host", default="127.0.0.1", show_default=True, help="The address to listen on.")
@click.option("--port", default=8737, show_default=True, type=click.IntRange(0, 65535))
@options.ledger
@options.desk
@options.operator
@options.gs
@click.option(
    "--name", "names", multiple=True, metavar="HOST", help="Another name that it is called by."
)
@options.ask_for_whom
@options.ask_kind
@options.only_notes
@click.option("--language", type=click.Choice(LANGUAGES), help="By default the browser's.")
@click.option(
    "--idle",
    "idle_s",
    default=60.0,
    show_default=True,
    type=click.FloatRange(5, 3600),
    metavar="SECONDS",
    help="After this long without a key the page wipes its numbers.",
)
@click.option("--tls-in-front", is_flag=True, help="A proxy in front of it does TLS.")
@click.option("--new-pin", is_flag=True, help="Make and show a new PIN for the operator's page.")
@click.option("--new-token", is_flag=True, help="Make and show a new token for other machines.")
@click.option(
    "--secrets",
    "secrets_path",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Where PIN and token are kept, hashed; by default in the user's own folder.",
)
@click.option("--systemd", is_flag=True, help="Write a systemd unit to standard output, and end.")
@click.option(
    "--commands",
    "sheet",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE.pdf",
    help="Write a sheet of barcodes that press the page's buttons, and end.",
)
@click.option("--paper", type=click.Choice(("letter", "a4")), default="letter", show_default=True)
def command(  # noqa: PLR0913, PLR0917 - one parameter an option
    host: str,
    port: int,
    ledger_url: str | None,
    desk: str,
    operator: str,
    gs: tuple[str, ...],
    names: tuple[str, ...],
    asked: str,
    asks_kind: bool,
    only_notes: tuple[str, ...],
    language: str | None,
    idle_s: float,
    tls_in_front: bool,
    new_pin: bool,
    new_token: bool,
    secrets_path: Path | None,
    systemd: bool,
    sheet: Path | None,
    paper: str,
) -> int:
    """Serve the kiosk's page until Ctrl+C: label and card in, one of three answers out.

    Only this machine can reach it unless --host names another address or a proxy is in
    front; whoever comes then needs the token that is shown when it is made. The page needs
    no internet.
    """
    if systemd:
        click.echo(_unit(), nl=False)
        return exits.ALL_AGREE
    if sheet is not None:
        from pairing.kiosk.command_sheet import pdf  # noqa: PLC0415 - for this alone

        output.write_new(sheet, [pdf(paper=paper, language=language or "en")])
        click.echo(f"Written: {style.path_text(sheet)}")
        return exits.ALL_AGREE
    settings = Settings(
        host=host,
        port=port,
        names=tuple(name.lower() for name in names),
        desk=desk,
        operator=operator,
        gs=gs,
        language=language or "",
        asked=Asked(asked),
        asks_kind=asks_kind,
        only_notes=only_notes,
        idle_s=idle_s,
        is_tls_in_front=tls_in_front,
    )
    office_rules.chosen()  # a rule that there is none of is said before anybody scans
    path = secrets_path or secret.default_path()
    kept = _secrets(path, settings, new_pin=new_pin, new_token=new_token)
    with Ledger.open(ledger_url, patience_s=_LEDGER_PATIENCE_S) as ledger:
        for finding in ledger.warnings():
            click.echo(f"{finding.message} {finding.action}", err=True)
        click.echo(f"Ledger: {ledger.where}", err=True)
        if is_root():
            click.echo(
                "The kiosk runs as root: whatever goes wrong in it may do anything on this "
                "machine. Start it as a user of its own.",
                err=True,
            )
        tell_of_confinement()
        serve(
            ledger,
            settings=settings,
            secrets=kept,
            secret_file=secret.SecretFile(path, kept),
            on_ready=_ready,
        )
    return exits.ALL_AGREE


def is_root() -> bool:
    """Whether this process may do anything; always false on Windows."""
    return hasattr(os, "geteuid") and os.geteuid() == 0


def _ready(address: str) -> None:
    click.echo(f"The kiosk is at {address} (operator: {address}operator). Ctrl+C ends it.")
    sys.stdout.flush()


def _secrets(path: Path, settings: Settings, *, new_pin: bool, new_token: bool) -> secret.Secrets:
    """The stored hashes; what is missing or asked for is made and shown, this once."""
    kept = before = secret.load(path)
    made = []
    if new_pin or not kept.pin:
        pin = secret.new_pin()
        kept = replace(kept, pin=secret.hashed(pin))
        made.append(f"Operator's PIN, shown this once: {pin}")
    if new_token or (settings.needs_token and not kept.token):
        token = secret.new_token()
        kept = replace(kept, token=secret.hashed(token))
        made.append(f"Access token for other machines, shown this once: {token}")
    if kept != before:
        secret.save(path, kept)
    for line in made:  # what could not be stored would open nothing
        click.echo(line, err=True)
    if not settings.is_loopback and not settings.is_tls_in_front:
        click.echo(
            f"{settings.host} can be reached from other machines, and what they send can be read "
            "on its way: put a proxy with TLS in front, then say --tls-in-front.",
            err=True,
        )
    return kept


def _unit() -> str:
    text = resources.files("pairing.kiosk").joinpath("counterfoil-kiosk.service").read_text("utf-8")
    program = shutil.which("counterfoil") or str(Path(sys.argv[0]).resolve())
    return text.replace("{program}", program)
