"""How a table says the two sentences of a code: as texts with gaps, or as functions."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, NamedTuple, TypeAlias

from pairing.findings.wording.plurals import begun

Values: TypeAlias = Mapping[str, Any]
"""A code's parameters and, as "positions", the finding's."""

READ_AGAIN = "Read the number again from the item itself."
LOOK = "Look at the piece and read it again."
KEY = "Read the box on the card and key it."


class Form(NamedTuple):
    """Both sentences, from the values."""

    message: Callable[[Values], str]
    action: Callable[[Values], str]


def form(
    message: str | Callable[[Values], str], action: str | Callable[[Values], str] = ""
) -> Form:
    """A code's two sentences; texts have gaps like `{piece}`."""
    return Form(_said(message), _said(action))


def _said(words: str | Callable[[Values], str]) -> Callable[[Values], str]:
    if not isinstance(words, str):
        return words
    # What fills the gap at the beginning may be words too, such as "entry 12".
    starts_with_words = words.startswith(("{piece}", "{number}"))

    def fill(values: Values) -> str:
        filled = words.format_map(values)
        return begun(filled) if starts_with_words else filled

    return fill
