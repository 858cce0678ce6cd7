"""What a person keyed, reading it off the item.

Whether keys are a scanner's or a person's is told before, by their pace: at a terminal in
`cli/counterfoil/keyboard.py`, on the kiosk's page in `kiosk/page/capture.js`.
"""

from __future__ import annotations

from dataclasses import replace

from pairing.findings import Code, Finding
from pairing.model import GS, Rejection, Scan, TrackingNumber
from pairing.numbers import derived, identify
from pairing.numbers import text as texts
from pairing.wedge.questions import LONGEST_LINE, refused_length, with_question
from pairing.wedge.setup import WedgeSetup

_DEFAULT = WedgeSetup()


def parse_keyed(text: str, setup: WedgeSetup = _DEFAULT) -> Scan:
    """What a person typed, reading it off the item. Never raises.

    It is one number: nothing is split, and too few digits are what was seen, not a scan cut
    short. Letters in the place of digits are asked about as in a scan; other characters
    mark what could not be read, and prefixes that only bars carry were not read there.
    """
    if len(text) > LONGEST_LINE:
        return refused_length(text)
    body = text.strip()
    number = derived.recognized(identify(body), setup.rules)
    scan = Scan(raw=text, text=texts.compact(body).strip(GS), aim="", number=number)
    if isinstance(number, TrackingNumber):
        return scan if texts.compact(body).strip(GS) == number.text else _with_prefix_doubt(scan)
    asked = with_question(scan)
    return asked if asked is not scan else _with_illegible(scan)


def _with_prefix_doubt(scan: Scan) -> Scan:
    """Something was keyed in front that is in bars and never in writing: 420, 91, 00, `]C1`."""
    finding = Finding.of(Code.KEYED_WITH_PREFIX, text=scan.text)
    return replace(scan, findings=(*scan.findings, finding))


def _with_illegible(scan: Scan) -> Scan:
    """A keyed number with characters that are no digits: something was not legible."""
    number = scan.number
    digits = texts.count_digits(scan.text)
    odd = [char for char in scan.text if not texts.is_digits(char)]
    looks_s10 = scan.text[:2].isalpha() and scan.text[-2:].isalpha() and len(odd) == 4
    if digits < texts.FEWEST_DIGITS or not odd or looks_s10 or not isinstance(number, Rejection):
        return scan
    finding = Finding.of(Code.KEYED_ILLEGIBLE, text=scan.text)
    return replace(scan, findings=(*scan.findings, finding))
