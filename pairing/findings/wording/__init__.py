"""The English sentences of findings: from code and parameters to message and action.

Other languages have sentences of their own by the same codes (`kiosk/texts`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from pairing.findings.codes import Code
from pairing.findings.wording import about_numbers, about_pieces, about_records
from pairing.findings.wording.forms import Form

_FORMS: Mapping[Code, Form] = {**about_numbers.FORMS, **about_pieces.FORMS, **about_records.FORMS}


@dataclass(frozen=True, slots=True, kw_only=True)
class Sentences:
    """message: one sentence. action: what to do, one sentence; may be empty for a note."""

    message: str
    action: str = ""


HELD_BACK = Sentences(
    message="What was read in the box does not match the label's number.",
    action="Compare the box with the label on the piece itself.",
)
"""What is said of any comparison while the label's number is not to be shown."""


def sentences(code: str, given: Mapping[str, Any], positions: tuple[int, ...]) -> Sentences:
    """What is said to people.

    given: the code's parameters. positions: 1-based positions in the number spoken of.
    """
    form = _FORMS[Code.named(code)]
    values = {**given, "positions": positions}
    return Sentences(message=form.message(values), action=form.action(values))
