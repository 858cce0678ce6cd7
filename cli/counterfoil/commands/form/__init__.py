"""`counterfoil form`: the designs of cards that the program knows."""

from __future__ import annotations

import click

from counterfoil.lazy import LazyGroup

_COMMANDS = {
    "learn": "Learn a card's form from photos of an empty card.",
    "list": "The forms that are known.",
    "show": "One form: its size, its box, and a drawing of it.",
    "check": "Which form a photo of a card shows.",
    "export": "Write a form to a file, for another desk.",
    "import": "Take a form from such a file.",
    "remove": "Forget a form.",
}


@click.group(
    "form",
    cls=LazyGroup,
    rows=_COMMANDS,
    package="counterfoil.commands.form",
    places={
        "learn": "learn:command",
        "list": "form_files:list_forms",
        "show": "form_files:show_form",
        "check": "form_files:check",
        "export": "form_files:export",
        "import": "form_files:bring_in",
        "remove": "form_files:remove",
    },
    epilog="Forms are kept in the folder that COUNTERFOIL_FORMS names, else in the user's data "
    "folder. Exit codes: 0 done, 2 usage, 11 no form was recognized, 13 the job could not be done.",
)
def command() -> None:
    """The forms of cards: where on a card of which design the number's box is.

    A card of a design that is known is read wherever its box is. On any other card the number is
    read only where no other line could be it.
    """
