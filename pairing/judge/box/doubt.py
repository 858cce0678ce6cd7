"""What is said of a reading of the box that is not sure in all its characters."""

from __future__ import annotations

from collections.abc import Mapping

from pairing.findings import Code, Finding
from pairing.judge.box import Decision, places
from pairing.numbers import text as texts


def unsure(decision: Decision) -> Finding:
    """What may be wrong in a reading that is surely not the label's number."""
    return _of_characters(Code.BOX_DIGITS_UNSURE, decision)


def in_doubt(decision: Decision) -> Finding:
    """Which characters to look at, or that all are to be keyed."""
    if decision.doubtful:
        return _of_characters(Code.BOX_DIGITS_DOUBTFUL, decision)
    return Finding.of(Code.BOX_DOUBTFUL, is_part_of_bars=False)


def _of_characters(code: Code, decision: Decision) -> Finding:
    return Finding.of(
        code,
        positions=places(decision.doubtful),
        length=len(decision.best),
        is_digits=texts.is_digits(decision.best),
        is_count_open=any(stretch.is_open for stretch in decision.doubtful),
        spoilt=decision.spoilt,
    )


def named(decision: Decision, card: str | None, others: Mapping[str, str]) -> tuple[Finding, ...]:
    """An unsure reading that is some other known number to the digit is said to be so."""
    if not decision.other:
        return ()
    whose = None if decision.other == card else others[decision.other]
    return (Finding.of(Code.BOX_OTHER_NUMBER, whose=whose),)
