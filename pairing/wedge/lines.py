"""One line of wedge input to its scans.

The order of attempts matters: a line that is a number as it stands is never reinterpreted.
Repairs are tried only on what would otherwise be refused, and one is made only where it is
the only one that gives a valid number; what depends on a person's eyes becomes a question.
"""

from __future__ import annotations

import re
from dataclasses import replace

from pairing.findings import Code, Finding
from pairing.model import GS, Number, Rejection, Scan, TrackingNumber
from pairing.numbers import derived, identify, sscc, symbology
from pairing.numbers import text as texts
from pairing.wedge import keypad, layouts, splitting
from pairing.wedge.questions import LONGEST_LINE, refused_length, with_question
from pairing.wedge.setup import WedgeSetup

_TERMINATORS = re.compile(r"[\r\n\t]+")
_CONTROLS = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1c\x1e\x1f\x7f]")
_LOWER_PREFIX = re.compile(r"\]c[0124]")
_DEFAULT = WedgeSetup()


def parse_line(line: str, setup: WedgeSetup = _DEFAULT) -> tuple[Scan, ...]:
    """The scans in `line`, in order; () for a blank line. Never raises.

    line: as typed, with or without its terminator (CR, LF, TAB; one inside the line ends a
    scan too). Nearly always one scan; more where several ran together, which is said.
    """
    if len(line) > LONGEST_LINE:
        return (refused_length(line),)
    scans: list[Scan] = []
    for segment in _TERMINATORS.split(line):
        if segment.strip():
            scans.extend(_segment(segment, setup))
    return tuple(scans)


def _segment(raw: str, setup: WedgeSetup) -> tuple[Scan, ...]:
    text, findings = _restore(raw, setup)
    pieces = splitting.at_prefixes(text)
    if len(pieces) == 1:
        return _whole(raw, text, findings, setup)
    scans = tuple(scan for piece in pieces for scan in _whole(raw, piece, findings, setup))
    return _collapse(raw, scans)


def _restore(raw: str, setup: WedgeSetup) -> tuple[str, tuple[Finding, ...]]:
    """The text that the scanner meant, and what had to be undone to get there."""
    text, findings = raw.strip(" \xa0"), []
    for substitute in filter(None, setup.gs_substitutes):
        text = text.replace(substitute, GS)
    if _CONTROLS.search(text):
        text = _CONTROLS.sub("", text)
        findings.append(Finding.of(Code.CONTROL_CHARACTERS))
    azerty, qwertz = layouts.from_azerty(text), layouts.from_qwertz(text)
    if azerty is not None:
        text = azerty
        findings.append(Finding.of(Code.LAYOUT_AZERTY))
    elif qwertz is not None:
        text = qwertz
        findings.append(Finding.of(Code.LAYOUT_QWERTZ))
    if _LOWER_PREFIX.match(text):
        text = text.upper()
        findings.append(Finding.of(Code.CAPS_LOCK))
    decoded = keypad.from_codes(texts.compact(text))
    if decoded is not None:
        text = decoded
        findings.append(Finding.of(Code.KEYPAD_CODES))
    if any(char.isdecimal() and not char.isascii() for char in text):
        findings.append(Finding.of(Code.UNICODE_DIGITS))
    return text.strip(), tuple(findings)


def _whole(
    raw: str, text: str, findings: tuple[Finding, ...], setup: WedgeSetup
) -> tuple[Scan, ...]:
    aim = symbology.prefix(text)
    body = text.removeprefix(aim)
    number = derived.recognized(identify(body, aim=aim), setup.rules, aim=aim)
    scan = Scan(raw=raw, text=_compact(body), aim=aim, number=number, findings=findings)
    if isinstance(number, TrackingNumber):
        return (scan,)
    return _separated(scan) or _run_together(scan) or (_questioned(scan, number),)


def _compact(body: str) -> str:
    return texts.compact(body).strip(GS)


def _separated(scan: Scan) -> tuple[Scan, ...]:
    """A group separator that arrived as keypad digits, taken out; () where there is none."""
    readings = [
        (text, number)
        for text in keypad.with_separators(scan.text)
        if isinstance(number := identify(text, aim=scan.aim), TrackingNumber)
    ]
    if len({number.text for _, number in readings}) != 1:
        return ()
    text, number = readings[0]
    finding = Finding.of(Code.SEPARATOR_AS_DIGITS)
    return (_with(scan, text=text, number=number, finding=finding),)


def _run_together(scan: Scan) -> tuple[Scan, ...]:
    pieces = splitting.into_numbers(scan.text)
    if pieces is None:
        half = splitting.half(scan.text)
        pieces = (half, half) if half else ()
    scans = tuple(
        _with(
            scan,
            text=piece,
            number=identify(piece, aim=scan.aim if index == 0 else ""),
            finding=None,
        )
        for index, piece in enumerate(pieces)
    )
    return _collapse(scan.raw, scans)


def _collapse(raw: str, scans: tuple[Scan, ...]) -> tuple[Scan, ...]:
    """Scans from one line: repeats become one scan, and either thing is said."""
    kept: list[Scan] = []
    repeated = set()
    for scan in scans:
        if kept and _same(kept[-1].number, scan.number):
            repeated.add(len(kept) - 1)
        else:
            kept.append(scan)
    together = Finding.of(Code.RUN_TOGETHER, count=len(kept))
    double = Finding.of(Code.DOUBLE_READ)
    result = []
    for index, scan in enumerate(kept):
        said = scan.findings
        said += (together,) if len(kept) > 1 else ()
        said += (double,) if index in repeated else ()
        result.append(replace(scan, raw=raw, findings=said))
    return tuple(result)


def _same(one: Number, other: Number) -> bool:
    return one.text == other.text and type(one) is type(other)


def _questioned(scan: Scan, rejection: Rejection) -> Scan:
    """A refused scan with the question or the hint that fits it."""
    asked = with_question(scan)
    if asked is not scan or not _is_cut_short(scan.text, rejection):
        return asked
    finding = Finding.of(Code.TRUNCATED, length=len(scan.text))
    return replace(scan, findings=(*scan.findings, finding))


def _is_cut_short(text: str, rejection: Rejection) -> bool:
    """Whether a refused text begins like an article or card number and is shorter than one.

    18 digits of a longer number are refused as a container code; the beginning tells. 29 digits
    from a routing prefix on are taken for a letter barcode.
    """
    if (
        rejection.code not in (Code.LENGTH, Code.NOT_A_NUMBER)
        and rejection.likely != sscc.FAMILY.name
    ):
        return False
    if text[:2].isalpha() and texts.is_digits(text[2:]):
        return len(text) < 13
    shorter_than = {"9": 22, "7": 20, "4": 29}
    return texts.is_digits(text) and 6 <= len(text) < shorter_than.get(text[:1], 0)


def _with(scan: Scan, *, text: str, number: Number, finding: Finding | None) -> Scan:
    findings = (*scan.findings, finding) if finding else scan.findings
    return replace(scan, text=text, number=number, findings=findings)
