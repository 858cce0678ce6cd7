"""What is said of a reading of the box that is not sure in all its characters."""

from __future__ import annotations

from collections.abc import Mapping

from pairing.judge.box import Decision, places
from pairing.model import Finding, Weight

KEY = "Read the box on the card and key it."


def unsure(decision: Decision) -> Finding:
    """What may be wrong in a reading that is surely not the label's number."""
    at, said, _ = _listed(decision)
    return Finding(
        code="box-digits-unsure",
        message=f"{said}; it is not the label's number all the same.",
        positions=at,
        weight=Weight.NOTE,
    )


def _listed(decision: Decision) -> tuple[tuple[int, ...], str, str]:
    """The places in doubt, what is said of them, and what to look at."""
    at = places(decision.doubtful)
    listed = " and ".join(part for part in (", ".join(map(str, at[:-1])), str(at[-1])) if part)
    one = len(at) == 1
    how_many = any(stretch.is_open for stretch in decision.doubtful)
    unit = "digit" if decision.best.isdigit() else "character"
    said = (
        f"{len(decision.best)} {unit}s were read in the box, but {unit}{'' if one else 's'} "
        f"{listed} not surely{', nor how many stand there' if how_many else ''}"
    )
    if decision.spoilt:
        marred = ", ".join(map(str, decision.spoilt))
        said += f" ({marred}: written over or struck out, it seems)"
    return at, said, f"this {unit}" if one else f"these {unit}s"


def in_doubt(decision: Decision) -> Finding:
    """Which characters to look at, or that all are to be keyed."""
    if decision.doubtful:
        at, said, these = _listed(decision)
        return Finding(
            code="box-digits-doubtful",
            message=f"{said}.",
            positions=at,
            action=f"Look at {these} on the card.",
            weight=Weight.DOUBT,
        )
    return Finding(
        code="box-doubtful",
        message="The number in the box was read, but not surely enough.",
        action=KEY,
        weight=Weight.DOUBT,
    )


def named(decision: Decision, card: str | None, others: Mapping[str, str]) -> tuple[Finding, ...]:
    """An unsure reading that is some other known number to the digit is said to be so."""
    if not decision.other:
        return ()
    is_own = decision.other == card
    whose = "the card's own" if is_own else f"that of {others[decision.other]}"
    return (
        Finding(
            code="box-other-number",
            message=f"What was read in the box, if not surely, is another number: {whose}.",
            action=KEY,
            weight=Weight.DOUBT,
        ),
    )
