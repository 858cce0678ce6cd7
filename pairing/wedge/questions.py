"""What is asked of a person instead of being guessed, and what is not looked at at all."""

from __future__ import annotations

from dataclasses import replace

from pairing.findings import Code, Finding
from pairing.model import Rejection, Scan, TrackingNumber
from pairing.numbers import identify

_LOOK_ALIKES = {
    **dict.fromkeys("OQD", "0"),
    **dict.fromkeys("IL", "1"),
    **{"Z": "2", "S": "5", "G": "6", "B": "8"},
}
"""Letters that people and typewriters use for digits. Common practice, no source."""

LONGEST_LINE = 2_000
"""Characters of a line that are looked at. Ten scans run together, each character typed as a
three-digit code, are shorter; a stuck key or a file piped in by mistake is not."""


def refused_length(line: str) -> Scan:
    """A line of absurd length as a refused scan that keeps only its beginning."""
    start = line[:40]
    reason = Finding.of(Code.LENGTH, length=len(line), too_long="line")
    number = Rejection(given=start, text=start, reason=reason)
    return Scan(raw=start, text=start, aim="", number=number)


def with_question(scan: Scan) -> Scan:
    """The refused scan, with a question where letters may have been typed for its digits."""
    places = _look_alikes(scan.text)
    suggested = "".join(
        _LOOK_ALIKES[char] if index in places else char for index, char in enumerate(scan.text)
    )
    if not places or not isinstance(identify(suggested, aim=scan.aim), TrackingNumber):
        return scan
    findings = (*scan.findings, _question(scan.text, places))
    return replace(scan, suggested=suggested, findings=findings)


def _look_alikes(text: str) -> frozenset[int]:
    """0-based places of letters that may have been typed for digits; S10's own letters not."""
    is_s10 = len(text) == 13 and text[:2].isalpha() and text[-2:].isalpha()
    own = {0, 1, 11, 12} if is_s10 else set()
    return frozenset(
        index for index, char in enumerate(text) if char in _LOOK_ALIKES and index not in own
    )


def _question(text: str, places: frozenset[int]) -> Finding:
    letters = "".join(text[index] for index in sorted(places))
    return Finding.of(
        Code.LETTERS_FOR_DIGITS,
        positions=tuple(index + 1 for index in sorted(places)),
        letters=letters,
        digits="".join(_LOOK_ALIKES[letter] for letter in letters),
    )
