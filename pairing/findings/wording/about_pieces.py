"""Sentences about a piece: its sides, its box, its photos."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from pairing.findings.codes import Code
from pairing.findings.parameters import COPYING, REFUSALS, refused
from pairing.findings.wording import about_copying
from pairing.findings.wording.forms import KEY, LOOK, Form, Values, form
from pairing.findings.wording.plurals import counted, listed


def _refused(of: Values) -> str:
    return f"{of['source']}: {of['number'] or 'nothing'}: {of['reason'].message}"


def _refused_action(of: Values) -> str:
    return str(of["reason"].action)


def _box_empty(of: Values) -> str:
    return _refused(of) if of["reason"] else "Nothing is written in the box."


def _box_empty_action(of: Values) -> str:
    return _refused_action(of) if of["reason"] else "Have the article number written in it."


def _unclear(of: Values) -> str:
    said = " ".join(one.message for one in of["reasons"]) or f"This is a {of['title']}."
    return f"{of['source']}: {of['number'] or 'nothing'}: {said}"


def _several(what: str) -> Callable[[Values], str]:
    return lambda of: f"{what}: {listed(of['numbers'])}."


def _two_things(of: Values) -> str:
    pairs = zip(of["numbers"], of["means"], strict=True)
    shown = listed([f"{number} (by {how})" for number, how in pairs])
    return f"The box was read in two ways: {shown}."


def _copying(code: Code) -> Form:
    return form(
        lambda of: about_copying.sentence(code, of["positions"], of),
        "Compare the box with the label on the piece itself.",
    )


def _card_own(of: Values) -> str:
    if of["number"]:
        return f"The box holds the card's own number, {of['number']}."
    return about_copying.sentence(Code.BOX_CARD_OWN, of["positions"], of)


def _card_own_action(of: Values) -> str:
    if of["number"]:
        return "The box must hold the article number."
    return "Compare the box with the label on the piece itself."


def _doubts(of: Values) -> str:
    """How many characters were read, and which of them are uncertain; no full stop."""
    at, noun = of["positions"], "digit" if of["is_digits"] else "character"
    read = "was" if of["length"] == 1 else "were"
    said = (
        f"{counted(of['length'], noun)} {read} read in the box, but "
        f"{noun}{'' if len(at) == 1 else 's'} {listed([str(one) for one in at])} "
        f"{'is' if len(at) == 1 else 'are'} uncertain"
        f"{', and so is how many there are' if of['is_count_open'] else ''}"
    )
    if of["spoilt"]:
        marred = ", ".join(map(str, of["spoilt"]))
        said += f" ({marred}: written over or struck out, it seems)"
    return said


def _doubts_action(of: Values) -> str:
    noun = "digit" if of["is_digits"] else "character"
    these = f"this {noun}" if len(of["positions"]) == 1 else f"these {noun}s"
    return f"Look at {these} on the card."


def _doubtful(of: Values) -> str:
    if of["is_part_of_bars"]:
        return "Under the strip's bars only a part of their number was read."
    return "The number in the box was read, but not with enough certainty."


def _other_number(of: Values) -> str:
    whose = f"that of {of['whose']}" if of["whose"] else "the card's own"
    return f"What was read in the box, though not with certainty, is another number: {whose}."


def _used_before(what: str, item: str, partner: str) -> Form:
    def message(of: Values) -> str:
        beside = f", with {partner} {of['partner']}" if of["partner"] else ""
        return f"This {what} is on {of['piece']} too{beside}."

    return form(message, f"Find both pieces; one of them needs a new {item}.")


def _engines(of: Values) -> str:
    pairs = zip(of["witnesses"], of["readings"], strict=True)
    if not any(of["witnesses"]):
        return f"One place is read as {' and as '.join(of['readings'])}."
    shown = " and ".join(f"{witness} reads {reading}" for witness, reading in pairs)
    return f"One symbol is read in more than one way: {shown}."


_TAKE_AGAIN = "Look at the symbol yourself, or take the photo again."

FORMS: Mapping[Code, Form] = {
    Code.SENDER_EMPTY: form(
        "The sender's address is missing on the card, so it cannot come back.",
        "Do not seal. Fill in or stamp the return address on the card.",
    ),
    Code.ADDRESSEE_EMPTY: form(
        "The addressee's field on the card is empty.", "Fill it in, then check the piece again."
    ),
    Code.SERVICE_UNMARKED: form(
        "No service is marked on the card.", "Mark the one that was paid for."
    ),
    Code.SERVICE_TWO: form(
        lambda of: f"More than one service is marked on the card: {', '.join(of['services'])}.",
        "Make out a new card with the one that was paid for.",
    ),
    Code.SERVICE_BETWEEN: form(
        "A mark on the card is on the border of two service boxes.",
        "Look at the card; if it does not say which one is meant, make out a new card.",
    ),
    Code.SERVICE_CORRECTED: form(
        lambda of: (
            "A service box on the card looks blotted out, with another one marked: "
            f"{', '.join(of['services'])}."
        ),
        "Look at the card; a new card is safer than a corrected one.",
    ),
    Code.PIECE_KIND_ODD: form(
        lambda of: (
            f"The label is of a {of['service']}'s service, and the piece is a {of['piece']}."
        ),
        "Make sure that it is the right label.",
    ),
    Code.SIGNATURE_OUTSIDE: form(
        "The signature's field is empty, but there is writing beside it.",
        "Look at the card, and say signed with the date, or unsigned.",
    ),
    **{code: _copying(code) for code in COPYING},
    **{
        refused(side, code): form(_refused, _refused_action)
        for side in ("label", "card", "box")
        for code in REFUSALS
    },
    Code.BOX_EMPTY: form(_box_empty, _box_empty_action),
    Code.BOX_UNCLEAR: form(_unclear, LOOK),
    Code.LABEL_UNREAD: form(
        "No article number was read on the label.", "Scan or photograph the label again."
    ),
    Code.CARD_UNREAD: form(
        "The card's own number was not read.", "Scan or photograph the card again."
    ),
    Code.BOX_UNREAD: form("What is written in the card's box was not read.", KEY),
    Code.TWO_ARTICLES: form(_several("The piece has more than one article number"), LOOK),
    Code.TWO_CARDS: form(_several("More than one card number was read"), LOOK),
    Code.BOX_SAYS_TWO_THINGS: form(_two_things, LOOK),
    Code.PLACE_IN_DOUBT: form(
        "{number} was read in {source}, where its place does not show whether it is on the "
        "label or in the box.",
        "Photograph label and card apart, or key what is written in the box.",
    ),
    Code.OTHER_NUMBER: form("{source}: {number} is not an article or card number ({title})."),
    Code.LABEL_UNCONFIRMED: form(
        "The label was keyed and not scanned, so nothing shows that it was read by itself.",
        "Scan the label, or have an operator vouch for it.",
    ),
    Code.ONE_SOURCE: form(
        "Label and box come from one and the same reading.", "Read each of them by itself."
    ),
    Code.LABEL_KEYED: form("The label's number was keyed by a person, not scanned."),
    Code.CARD_KEYED: form("The card's number was keyed by a person, not scanned."),
    Code.BOX_KEYED: form("The box was keyed by a person."),
    Code.CARD_NUMBERLESS: form(
        "No card number was read; an international advice of receipt (CN 07) has none of its own."
    ),
    Code.ROUTING_DIFFERS: form(
        lambda of: (
            f"Bars with one article number carry different postal codes: {listed(of['routings'])}."
        ),
        LOOK,
    ),
    Code.ONE_SYMBOL_TWO_SIDES: form(
        "One and the same barcode was offered for the label and for the box.", LOOK
    ),
    Code.BOX_CARD_OWN: form(_card_own, _card_own_action),
    Code.BOX_NO_NUMBER: form(
        "The box holds {text!r}, which is not a number.",
        "Have the article number written in the box.",
    ),
    Code.BOX_REFUSED: form(
        lambda of: f"The box repeats the label's digits, yet was refused: {of['reason'].message}",
        _refused_action,
    ),
    Code.BOX_ILLEGIBLE: form(
        "What is written in the box could not be read as a number: a name, or writing too unclear.",
        KEY,
    ),
    Code.BOX_TWO_NUMBERS: form("More than one number is written in the box.", KEY),
    Code.BOX_STRUCK_OUT: form(
        "Something else is written in the box beside the number: struck out or added.", KEY
    ),
    Code.BOX_STRUCK: form("A stroke runs through what is written in the box.", KEY),
    Code.BOX_BARS_UNREAD: form(
        "There are bars in the box that could not be read.",
        "Take the photo again, or scan the strip; look at the card itself.",
    ),
    Code.BOX_GROUP_MISSING: form(
        "What was read in the box is shorter than the label's number by a group or more.", KEY
    ),
    Code.FORM_UNKNOWN: form(
        "This card's form is not known, and it is not clear which number is the one in its box.",
        "Key what is written in the box, or teach the form from a photo of an empty card: "
        "`counterfoil form learn NAME PHOTO`.",
    ),
    Code.BOX_CUT: form("The photo does not show all that is written in the box.", KEY),
    Code.BOX_OVER_EDGE: form(
        "What is written goes over the edge of the box; it was read as a number other than "
        "the label's, but a digit may be damaged.",
        KEY,
    ),
    Code.BOX_DOUBTFUL: form(
        _doubtful,
        lambda of: "Compare the strip's print with its bars." if of["is_part_of_bars"] else KEY,
    ),
    Code.BOX_DIGITS_DOUBTFUL: form(lambda of: f"{_doubts(of)}.", _doubts_action),
    Code.BOX_DIGITS_UNSURE: form(
        lambda of: f"{_doubts(of)}; even so, it is not the label's number."
    ),
    Code.BOX_OTHER_NUMBER: form(_other_number, KEY),
    Code.BOX_KEYED_OTHERWISE: form(
        "The box was keyed as the label's number, but is read as {number} (by {how}).",
        "Look at the card itself.",
    ),
    Code.BOX_BY_SHAPE: form(
        "No barcode of the card's own was read in {source}; the box was found by the card's "
        "printed form."
    ),
    Code.STRIP_PRINT_UNREAD: form(
        "What is printed under the strip's bars was not read with certainty; the bars were."
    ),
    Code.STRIP_PRINT_DIFFERS: form(
        "The strip's bars say {number}, but another number is printed there.",
        "Look at the strip itself.",
    ),
    Code.CARD_BY_LIST: form(
        "{number} counts as the card's number because the expected list says so; "
        "nothing in the number itself does."
    ),
    Code.NOT_EXPECTED: form(
        "{number} is not on the expected list.", "Find out where this label came from."
    ),
    Code.CARD_EXPECTED_ELSEWHERE: form(
        "{source} gives this card to article {article}.",
        "Find that piece: two cards may be exchanged.",
    ),
    Code.EXPECTED_OTHER_CARD: form(
        "{source} gives this article card {wanted}; the piece has {found}.",
        "Find the card that belongs to this article.",
    ),
    Code.SEEN_AGAIN: form("Label and card are those of {piece}: the same piece again."),
    Code.LABEL_USED_BEFORE: _used_before("article number", "label", "card"),
    Code.CARD_USED_BEFORE: _used_before("card's number", "card", "article"),
    Code.PHOTO_SKIPPED: form("{photo} could not be used: {reason}", "Take the photo again."),
    Code.LABEL_PRINT_DIFFERS: form(
        "The label's bars say {bars}, but its print is read as {printed}.",
        "Look at the label; have it printed again.",
    ),
    Code.LABEL_PRINT_FAILING: form(
        "Print quality is estimated at {grade} ({letter}) from the photo, held down most by "
        "{weakest}; this is not a certified ISO/IEC 15416 grade.",
        "Print the label again if the photo is sharp and evenly lit.",
    ),
    Code.LABEL_PRINT_ALONE: form(
        "The label's bars could not be read; what is printed under them is read as {number}.",
        "Look at the label; take the photo again, nearer and without glare.",
    ),
    Code.BARS_BY_PRINT: form(
        "Only {witness} reads the bars of {number}; the print under them, read by itself, says "
        "the same."
    ),
    Code.ENGINES_DISAGREE: form(_engines, _TAKE_AGAIN),
    Code.ONE_WITNESS: form(
        "Only {witness} reads {reading}; nothing confirms it.",
        "Take the photo again, nearer and sharper.",
    ),
}
