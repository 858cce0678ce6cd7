"""Sentences about numbers and about lines from a scanner or keyboard."""

from __future__ import annotations

from collections.abc import Mapping

from pairing.findings.codes import Code
from pairing.findings.wording.forms import READ_AGAIN, Form, Values, form
from pairing.findings.wording.plurals import counted, listed

_MOST_CHARACTERS = 4
"""So many wrong characters are shown one by one."""


def _empty(of: Values) -> str:
    aim = of["aim"]
    return f"Only the symbology identifier {aim} arrived." if aim else "Nothing was read."


def _length(of: Values) -> str:
    length = of["length"]
    if of["too_long"] == "line":
        return f"{counted(length, 'character')} came in one line: this is not a scan."
    if of["too_long"] == "number":
        return f"{counted(length, 'character')}: no number is that long."
    if of["title"]:
        wanted = listed([str(one) for one in of["wanted"]], "or")
        return f"{counted(length, 'character')} where a {of['title']} has {wanted}."
    return (
        f"{counted(length, 'digit')}: article and card numbers have 20, 22 or 26 digits, or "
        "13 characters (S10)."
    )


def _length_action(of: Values) -> str:
    return "Check what is connected, then scan again." if of["too_long"] == "line" else READ_AGAIN


def _shape(of: Values) -> str:
    places = ", ".join(str(place) for place in of["positions"])
    return (
        "An S10 item identifier is two letters, nine digits, two letters; "
        f"wrong at {places or 'no place'}."
    )


def _not_digits(of: Values) -> str:
    found = [f"{c!r} at {at}" for c, at in zip(of["characters"], of["positions"], strict=True)]
    more = len(found) - _MOST_CHARACTERS
    shown = ", ".join(found[:_MOST_CHARACTERS]) + (f" and {more} more" if more > 0 else "")
    return f"A {of['title']} has digits only; found {shown}."


def _check_digit(of: Values) -> str:
    if of["found"] is None:
        return "Its check digit does not hold: at least one digit was read or printed wrongly."
    because = ""
    if of["with_91"]:
        because = f" (or {of['with_91']} with 91 in front)"
    elif of["convention"] == "with 91":
        because = " with 91 in front"
    elif of["convention"] == "without 91":
        because = (
            " (in plain Code 128 bars, and on labels that begin with 70, no 91 is put in front)"
        )
    return (
        f"The check digit is {of['found']} where the digits before it give {of['wanted']}"
        f"{because}: at least one digit of this {of['title']} is wrong."
    )


def _prefix(of: Values) -> str:
    wanted = listed(of["wanted"], "or")
    return f"A {of['title']} begins with {wanted}; this begins with {of['found']}."


def _ambiguous(of: Values) -> str:
    pairs = zip(of["routings"], of["numbers"], strict=True)
    shown = listed([f"{routing} and {number}" for routing, number in pairs], "or")
    return f"The group separator is lost and two readings hold: {shown}."


def _convention(of: Values) -> str:
    which = "only with 91 in front" if of["is_with_91"] else "as it is"
    known = f"is {of['aim']}" if of["aim"] else "is not known"
    return (
        f"The check digit fits {which}; the symbology that would decide between the two "
        f"conventions {known}."
    )


def _service(of: Values) -> str:
    if of["is_s10"]:
        return (
            f"Service indicator {of['service']} is reserved or unallocated in UPU S10 "
            "(as of October 2017)."
        )
    tail = (
        "a letter barcode (IMb) has 20 digits too"
        if of["is_like_imb"]
        else "a longer number that lost two digits looks like this"
    )
    return f"Service type code {of['service']} is not one that this program knows; {tail}."


def _mailer(of: Values) -> str:
    wanted = "9" if of["channel"] == "92" else "0 to 8"
    return (
        f"Channel {of['channel']} is for a {of['digits']}-digit mailer identifier, whose first "
        f"digit would be {wanted}; here it is {of['found']}."
    )


def _letters(of: Values) -> str:
    trio = zip(of["letters"], of["digits"], of["positions"], strict=True)
    shown = [f"{digit} where the letter {one} was typed (place {at})" for one, digit, at in trio]
    return f"Does the item itself show {listed(shown)}?"


def _fault(what: str) -> Form:
    return form(
        f"{what}: the scanner and this computer are set to different keyboards or modes. "
        "The reading was corrected.",
        "Set the scanner to this computer's keyboard layout.",
    )


FORMS: Mapping[Code, Form] = {
    Code.EMPTY: form(_empty, READ_AGAIN),
    Code.LENGTH: form(_length, _length_action),
    Code.SHAPE: form(_shape, READ_AGAIN),
    Code.NOT_DIGITS: form(_not_digits, READ_AGAIN),
    Code.CHECK_DIGIT: form(_check_digit, READ_AGAIN),
    Code.PREFIX: form(_prefix, READ_AGAIN),
    Code.NOT_A_NUMBER: form(
        "This is not a number of a known family: it has characters other than digits.", READ_AGAIN
    ),
    Code.FIELDS: form("Several GS1 fields, none of them an article's.", READ_AGAIN),
    Code.OTHER_KIND: form("This is {what}, no article or card number.", READ_AGAIN),
    Code.AMBIGUOUS: form(
        _ambiguous, "Let the scanner send the group separator, or read the printed number."
    ),
    Code.CONVENTION: form(
        _convention, "Let the scanner send the symbology identifier, or read the label's bars."
    ),
    Code.SERVICE_UNLISTED: form(
        _service, lambda of: "" if of["is_s10"] else "Read the whole number again."
    ),
    Code.MAILER_RANGE: form(_mailer),
    Code.SYMBOLOGY_UNUSUAL: form(
        "The number came from {bars} bars; labels and cards have Code 128.",
        "Check what was scanned.",
    ),
    Code.CARD_PREFIX_UNUSUAL: form(
        "The card's number begins 9590 {digits}, not 9590 94: a privately printed card, or a "
        "misreading."
    ),
    Code.CARD_WRONG_KIND: form(
        lambda of: (
            f"A {of['card']} does not go with "
            + (f"a label of {of['country']}." if of["country"] else f"this label ({of['label']}).")
        ),
        "Ask which card belongs to it.",
    ),
    Code.CARD_NOT_DERIVED: form(
        "The card {number} is not this label's: by the rule {rule} its number does not follow from "
        "the label's.",
        "Find the label that this card belongs to, and the card of this label.",
    ),
    Code.RULE_UNCHOSEN: form(
        "Two barcodes are a {title} and the card's that follows from it by the rule {rule}. They "
        "count only where COUNTERFOIL_RULES names that rule.",
        "Set it if this office sends such mail.",
    ),
    Code.CONTROL_CHARACTERS: _fault("Control characters were left out"),
    Code.LAYOUT_AZERTY: _fault("The digits arrived as AZERTY keys"),
    Code.LAYOUT_QWERTZ: _fault("The keys arrived in QWERTZ order"),
    Code.CAPS_LOCK: _fault("Letters arrived in the wrong case"),
    Code.KEYPAD_CODES: _fault("Every character arrived as a keypad code"),
    Code.UNICODE_DIGITS: form(
        "Some digits were full-width or of another script; they count as digits."
    ),
    Code.SEPARATOR_AS_DIGITS: form(
        "The group separator arrived as the digits 029; they are not part of the number.",
        "Set the scanner to send the group separator itself, or none.",
    ),
    Code.RUN_TOGETHER: form(
        lambda of: (
            f"{counted(of['count'], 'scan')} arrived with nothing between them and were separated."
        ),
        "Set the scanner to end each scan with Enter.",
    ),
    Code.DOUBLE_READ: form("The same scan came twice; it counts once."),
    Code.TRUNCATED: form(
        lambda of: (
            f"Only {counted(of['length'], 'character')} arrived: the scan was cut short, "
            "or a digit was left out."
        ),
        "Scan it again.",
    ),
    Code.LETTERS_FOR_DIGITS: form(_letters, "Look at the item, then key the number with digits."),
    Code.KEYED_WITH_PREFIX: form(
        "{text} has a prefix in front of the number that bars carry and writing does not.",
        "Key only what is written in the box, or scan the strip as a strip.",
    ),
    Code.KEYED_ILLEGIBLE: form(
        "{text!r} has more than digits in it; what is written there is not clear.",
        "Key the number alone, or say that it cannot be read.",
    ),
}
