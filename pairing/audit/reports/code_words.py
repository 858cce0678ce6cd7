"""What the codes of errors and findings are called where people read them."""

from __future__ import annotations

from pairing.compare.kinds import CopyError

_CAUSES = {
    "box-digits-doubtful": "digits in the box in doubt",
    "box-digits-unsure": "differs, with digits in doubt",
    "box-doubtful": "writing in the box in doubt",
    "box-over-edge": "writing over the box's edge",
    "box-unread": "box not read",
    "box-no-number": "no number in the box",
    "box-other-number": "another number in the box",
    "box-keyed-otherwise": "keyed and read otherwise",
    "box-says-two-things": "the box says two things",
    "box-refused": "number in the box refused",
    "strip-print-unread": "strip's print not read",
    "label-unread": "label not read",
    "label-print-differs": "label's print and bars differ",
    "card-unread": "card not read",
    "photo-skipped": "photo unusable",
    "box-no-article": "box holds no label's number",
    "box-number-twice": "box holds a number that another card's box holds",
    "match-in-doubt": "partner in doubt",
    "matched-by-box": "partner known from the box alone",
    "matched-by-order": "partner known from the order of numbers alone",
    "place-in-doubt": "place of a symbol in doubt",
    "engines-disagree": "decoders disagree",
    "label-print-alone": "label's bars unread, print read",
    "one-witness": "read by one decoder alone",
    "two-articles": "two labels",
    "two-cards": "two cards",
    "other-kind": "other kind of number",
    "other-number": "other number beside",
    "routing-differs": "other routing prefix",
    "one-symbol-two-sides": "one symbol on two sides",
    "seen-again": "number seen before",
    "not-expected": "not on the expected list",
    "recorded-void": "voided in the ledger",
    "recorded-otherwise": "recorded otherwise",
    "never-recorded": "never recorded",
    "card-expected-elsewhere": "card of another piece",
    "expected-other-card": "other card expected",
    "form-unknown": "card's form not known",
    "nothing-read": "no number and no box found",
    "misread": "misread, on looking again",
}


def of_code(code: str) -> str:
    """A kind of error (`box-` left out or not) or a finding's code, in words; one that is not
    known yet, with blanks."""
    if code in _CAUSES:
        return _CAUSES[code]
    name = code.removeprefix("box-").replace("-", "_").upper()
    if name in CopyError.__members__:
        return CopyError[name].value
    return code.replace("-", " ")
