"""`counterfoil ledger`: the record itself."""

from __future__ import annotations

import click

from counterfoil.lazy import LazyGroup

_COMMANDS = {
    "list": "Sealed pieces by day, state and desk, or every entry.",
    "show": "Everything about one number.",
    "find": "Pieces by a name, a reference, a number, or a part of one.",
    "verify": "Walk everything; name the first entry that does not match.",
    "proof": "Write one piece's evidence to a file.",
    "verify-proof": "Check such a file, without the ledger.",
    "export": "The whole ledger as JSON Lines or CSV.",
    "import": "Bring an exported ledger in.",
    "backup": "Copy the ledger while it is in use.",
    "go-on": "Seal again after tampering was found.",
    "forget": "Erase names, addresses and photos of a piece.",
}


@click.group(
    "ledger",
    cls=LazyGroup,
    rows=_COMMANDS,
    package="counterfoil.commands.ledger",
    places={
        "list": "listing:command",
        "show": "story:command",
        "find": "find:command",
        "verify": "checking:verify",
        "proof": "proving:proof",
        "verify-proof": "proving:verify_proof",
        "export": "exchange:export",
        "import": "exchange:bring_in",
        "backup": "exchange:backup",
        "go-on": "going_on:command",
        "forget": "forgetting:command",
    },
    epilog="Exit codes: 0 everything matches, 10 something does not, 11 nothing is known of the "
    "number, 13 the job could not be done.",
)
def command() -> None:
    """The ledger: what was recorded, never changed afterward."""
