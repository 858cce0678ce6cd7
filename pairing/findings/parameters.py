"""What travels with a code: the names and types of its parameters.

Numbers are texts as they are printed, in groups; dates are ISO 8601; a `piece` is its name in
words ("entry 12"). A type that allows None may be left out.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any, TypeAlias

from pairing.findings.codes import Code

if TYPE_CHECKING:
    from pairing.findings.finding import Finding

Parameter: TypeAlias = (
    "str | int | tuple[str, ...] | tuple[int, ...] | Finding | tuple[Finding, ...] | None"
)
"""A value that travels with a code."""

TEXT = "text"
TEXTS = "texts"
COUNT = "count"
COUNTS = "counts"
FLAG = "flag"
REASON = "finding"
REASONS = "findings"
"""Kinds of parameters: str, tuple of str, int, tuple of int, bool, Finding, tuple of Finding."""

OPTIONAL = "?"
"""Behind a kind: the parameter may be left out, and is None then."""

_MAYBE_TEXT = TEXT + OPTIONAL

_OF_COMPARISON = {
    "label": TEXT,  # canonical
    "box": TEXT,  # canonical
    "group_sizes": COUNTS,  # of the label's printed groups, all of them
    "also": TEXTS,  # codes of the other errors that explain the box
    "is_number": FLAG,  # the box passes its own check
    "is_unchecked": FLAG + OPTIONAL,  # there is none for the label's family
    "apart": COUNT,  # by how much the box's serial is higher, 0 where that says nothing
    "lost": COUNT,  # position in the label, 0 where nothing is shifted
    "put_in": COUNT,  # position in the box, likewise
    "whose": _MAYBE_TEXT,  # the piece that the box's number belongs to
}
_OF_REFUSED = {"source": TEXT, "number": TEXT, "reason": REASON}
_OF_DOUBTS = {
    "length": COUNT,
    "is_digits": FLAG,
    "is_count_open": FLAG,  # how many characters there are is in doubt too
    "spoilt": COUNTS,  # positions that look written over or struck out; stored by this name
}

COPYING = frozenset(
    {
        Code.BOX_CARD_OWN,
        Code.BOX_OTHER_PIECE,
        Code.BOX_PAD_NEIGHBOR,
        Code.BOX_ONE_DIGIT,
        Code.BOX_ADJACENT_SWAP,
        Code.BOX_JUMP_SWAP,
        Code.BOX_TWIN,
        Code.BOX_JUMP_TWIN,
        Code.BOX_PHONETIC,
        Code.BOX_DROPPED,
        Code.BOX_EXTRA,
        Code.BOX_TRUNCATED,
        Code.BOX_GROUP_SWAP,
        Code.BOX_SHIFTED,
        Code.BOX_SEVERAL_DIGITS,
        Code.BOX_DIFFERENT,
    }
)
"""The codes of the copying errors."""

REFUSALS = (
    Code.EMPTY,
    Code.LENGTH,
    Code.SHAPE,
    Code.NOT_DIGITS,
    Code.CHECK_DIGIT,
    Code.PREFIX,
    Code.NOT_A_NUMBER,
    Code.FIELDS,
    Code.OTHER_KIND,
    Code.AMBIGUOUS,
)
"""The codes of refused numbers."""


def refused(side: str, reason: Code) -> Code:
    """The code of a number that was refused on this side ("label", "card", "box")."""
    return Code.named(f"{side}-{reason}")


PARAMETERS: Mapping[Code, Mapping[str, str]] = {
    **dict.fromkeys(COPYING, _OF_COMPARISON),
    **{refused(side, code): _OF_REFUSED for side in ("label", "card") for code in REFUSALS},
    **{refused("box", code): _OF_REFUSED for code in REFUSALS},
    Code.EMPTY: {"aim": _MAYBE_TEXT},
    # title and wanted: the family's name and lengths, where it is known; too_long: "line" or
    # "number", where no number could be of this length.
    Code.LENGTH: {
        "length": COUNT,
        "title": _MAYBE_TEXT,
        "wanted": COUNTS + OPTIONAL,
        "too_long": _MAYBE_TEXT,
    },
    Code.NOT_DIGITS: {"title": TEXT, "characters": TEXT},  # those at the positions
    # found, wanted: None where no digit may be shown. with_91: the digit that would be right
    # with 91 in front. convention: "with 91" or "without 91", where one is known to apply.
    Code.CHECK_DIGIT: {
        "title": TEXT,
        "found": _MAYBE_TEXT,
        "wanted": _MAYBE_TEXT,
        "with_91": _MAYBE_TEXT,
        "convention": _MAYBE_TEXT,
    },
    Code.PREFIX: {"title": TEXT, "wanted": TEXTS, "found": TEXT},
    Code.OTHER_KIND: {"what": TEXT},
    Code.AMBIGUOUS: {"routings": TEXTS, "numbers": TEXTS},
    Code.CONVENTION: {"is_with_91": FLAG, "aim": _MAYBE_TEXT},
    # is_like_imb: a letter barcode's digits have this shape too.
    Code.SERVICE_UNLISTED: {"service": TEXT, "is_s10": FLAG, "is_like_imb": FLAG},
    Code.MAILER_RANGE: {"channel": TEXT, "digits": COUNT, "found": TEXT},
    Code.SYMBOLOGY_UNUSUAL: {"bars": TEXT},
    Code.CARD_PREFIX_UNUSUAL: {"digits": TEXT},
    Code.CARD_WRONG_KIND: {"label": TEXT, "card": TEXT, "country": TEXT},  # "": none told
    Code.CARD_NOT_DERIVED: {"rule": TEXT, "number": TEXT},  # the card's
    Code.RULE_UNCHOSEN: {"rule": TEXT, "title": TEXT},
    Code.RUN_TOGETHER: {"count": COUNT},
    Code.TRUNCATED: {"length": COUNT},
    Code.LETTERS_FOR_DIGITS: {"letters": TEXT, "digits": TEXT},  # those at the positions
    Code.KEYED_WITH_PREFIX: {"text": TEXT},
    Code.KEYED_ILLEGIBLE: {"text": TEXT},
    Code.TWO_ARTICLES: {"numbers": TEXTS},
    Code.TWO_CARDS: {"numbers": TEXTS},
    Code.BOX_SAYS_TWO_THINGS: {"numbers": TEXTS, "means": TEXTS},  # means: `model.How`
    Code.PLACE_IN_DOUBT: {"number": TEXT, "source": TEXT},
    Code.OTHER_NUMBER: {"number": TEXT, "source": TEXT, "title": TEXT},
    Code.ROUTING_DIFFERS: {"routings": TEXTS},
    # Without a source: nothing is written in the box.
    Code.BOX_EMPTY: {
        "source": _MAYBE_TEXT,
        "number": _MAYBE_TEXT,
        "reason": REASON + OPTIONAL,
    },
    Code.BOX_UNCLEAR: {"source": TEXT, "number": TEXT, "title": TEXT, "reasons": REASONS},
    # The number alone where no label was read to compare it with.
    Code.BOX_CARD_OWN: {
        **{name: kind.rstrip(OPTIONAL) + OPTIONAL for name, kind in _OF_COMPARISON.items()},
        "number": _MAYBE_TEXT,
    },
    Code.BOX_NO_NUMBER: {"text": TEXT},
    Code.BOX_REFUSED: {"reason": REASON},
    Code.BOX_DOUBTFUL: {"is_part_of_bars": FLAG},
    Code.BOX_DIGITS_DOUBTFUL: _OF_DOUBTS,
    Code.BOX_DIGITS_UNSURE: _OF_DOUBTS,
    Code.BOX_OTHER_NUMBER: {"whose": _MAYBE_TEXT},  # None: the card's own
    Code.BOX_KEYED_OTHERWISE: {"number": TEXT, "how": TEXT},
    Code.BOX_BY_SHAPE: {"source": TEXT},
    Code.STRIP_PRINT_DIFFERS: {"number": TEXT},
    Code.CARD_BY_LIST: {"number": TEXT},
    Code.NOT_EXPECTED: {"number": TEXT},
    Code.CARD_EXPECTED_ELSEWHERE: {"source": TEXT, "article": TEXT},
    Code.EXPECTED_OTHER_CARD: {"source": TEXT, "wanted": TEXT, "found": TEXT},
    Code.SEEN_AGAIN: {"piece": TEXT},
    Code.LABEL_USED_BEFORE: {"piece": TEXT, "partner": _MAYBE_TEXT},
    Code.CARD_USED_BEFORE: {"piece": TEXT, "partner": _MAYBE_TEXT},
    Code.PHOTO_SKIPPED: {"photo": TEXT, "reason": TEXT},
    Code.LABEL_PRINT_DIFFERS: {"bars": TEXT, "printed": TEXT},
    Code.LABEL_PRINT_FAILING: {"grade": TEXT, "letter": TEXT, "weakest": TEXT},
    Code.ENGINES_DISAGREE: {"readings": TEXTS, "witnesses": TEXTS},  # witnesses may be ""
    Code.LABEL_PRINT_ALONE: {"number": TEXT},
    Code.BARS_BY_PRINT: {"witness": TEXT, "number": TEXT},
    Code.ONE_WITNESS: {"witness": TEXT, "reading": TEXT},
    Code.STRIP_UNCLEAR: {"count": COUNT},
    Code.SCANNED_AGAIN: {"side": TEXT},
    Code.READ_ANEW: {"entry": COUNT},
    Code.LABEL_CONFIRMED: {"operator": TEXT, "why": TEXT},
    Code.UNLISTED_CONFIRMED: {"operator": TEXT},
    Code.NUMBERLESS_CONFIRMED: {"operator": TEXT},
    Code.STOPPED_SINCE: {"entry": COUNT, "time": TEXT},
    Code.KEYED_AFTER_STOP: {"entry": COUNT, "time": TEXT},  # of the desk's day
    Code.RETURN_CORRECTED: {"entry": COUNT},
    Code.SERVICE_TWO: {"services": TEXTS},
    Code.PIECE_KIND_ODD: {"piece": TEXT, "service": TEXT},
    Code.SERVICE_CORRECTED: {"services": TEXTS},
    Code.SIGNED_IN_FUTURE: {"signed": TEXT},
    Code.SIGNED_BEFORE_MAILING: {"signed": TEXT, "accepted": TEXT},
    Code.PIECE_RECORDED_BEFORE: {"piece": TEXT},
    Code.LABEL_TAKEN: {"piece": TEXT, "partner": _MAYBE_TEXT},
    Code.CARD_TAKEN: {"piece": TEXT, "partner": _MAYBE_TEXT},
    Code.LABEL_REUSED: {"piece": TEXT},
    Code.CARD_REUSED: {"piece": TEXT},
    Code.LABEL_VOID_BEFORE: {"piece": TEXT},
    Code.CARD_VOID_BEFORE: {"piece": TEXT},
    Code.LABEL_STOPPED_BEFORE: {"piece": TEXT, "why": TEXT},
    Code.CARD_STOPPED_BEFORE: {"piece": TEXT, "why": TEXT},
    Code.CORRECTION_OF_VOID: {"piece": TEXT},
    Code.CORRECTION_OF_ANOTHER: {"piece": TEXT},
    Code.CORRECTION_OF_RETURNED: {"piece": TEXT},
    Code.RETURN_OF_VOID: {"piece": TEXT},
    Code.RETURN_READ_AGAIN: {"day": TEXT, "entry": COUNT},
    Code.RETURN_SAME: {"piece": TEXT, "day": TEXT, "entry": COUNT},
    Code.RETURN_AGAIN: {"piece": TEXT, "day": TEXT, "entry": COUNT},
    Code.RETURN_NAMES_ANOTHER: {"written": TEXT, "article": _MAYBE_TEXT},
    Code.VOID_OF_RETURNED: {"piece": TEXT},
    Code.CLOCK_SET_BACK: {"before": TEXT, "now": _MAYBE_TEXT},
    Code.LEDGER_TRUNCATED: {"size": COUNT, "seen": COUNT, "mark": TEXT},
    Code.LEDGER_CHANGED: {"size": COUNT},
    Code.WITNESS_MISSING: {"path": TEXT},
    Code.KEY_OPEN: {"path": TEXT},
    Code.LEDGER_OPEN: {"path": TEXT},
    Code.PROOF_ENTRY: {"entry": COUNT + OPTIONAL},  # None: one is shown twice
    Code.PROOF_PAIR: {"entry": COUNT},
    Code.PROOF_PARTICULARS: {"entry": COUNT},
    # What differs: "card" (of the same article) or "article" (of the same card).
    Code.RECORDED_OTHERWISE: {
        "piece": TEXT,
        "what": TEXT,
        "recorded": _MAYBE_TEXT,
        "shown": _MAYBE_TEXT,
    },
    Code.RECORDED_VOID: {"piece": TEXT},
    Code.NEVER_RECORDED: {"number": TEXT, "is_stopped": FLAG},
    Code.MATCHED_BY_RECORD: {"odds": COUNT, "other": _MAYBE_TEXT},  # odds to 1 against other
    # would: the verdict that the two would have together
    Code.MATCHED_BY_BOX: {"odds": COUNT, "other": _MAYBE_TEXT, "would": TEXT},
    Code.MATCHED_BY_ORDER: {"odds": COUNT, "other": _MAYBE_TEXT, "would": TEXT},
    Code.BOX_NO_ARTICLE: {"why": TEXT},
    Code.BOX_NUMBER_TWICE: {"number": TEXT, "count": COUNT},
    Code.MATCH_IN_DOUBT: {"odds": COUNT, "least": COUNT, "other": _MAYBE_TEXT},
}
"""Code to parameter to its kind; a code that is not here has none."""

_TYPES: Mapping[str, type] = {TEXT: str, COUNT: int, FLAG: bool}


def checked(code: Code, given: Mapping[str, Any]) -> tuple[tuple[str, Any], ...]:
    """The parameters of `code` in the table's order, those that were left out as None.

    Raises TypeError where they are not those of the table: the program is wrong, not the piece.
    """
    kinds = PARAMETERS.get(code, {})
    if not given.keys() <= kinds.keys():
        raise TypeError(f"{code} has no parameters {sorted(given.keys() - kinds.keys())}")
    for name, kind in kinds.items():
        value = given.get(name)
        if value is None and kind.endswith(OPTIONAL):
            continue
        if not _is_of_kind(value, kind.rstrip(OPTIONAL)):
            raise TypeError(f"{code}: {name} is {value!r}, not a {kind}")
    return tuple((name, given.get(name)) for name in kinds)


def _is_of_kind(value: Any, kind: str) -> bool:
    """TEXTS and the like are the kind of a member and an "s"."""
    if kind in (REASON, REASONS):
        members = value if kind == REASONS and isinstance(value, tuple) else (value,)
        return all(hasattr(one, "weight") for one in members)
    if kind in _TYPES:
        return isinstance(value, _TYPES[kind])
    one = _TYPES[kind.removesuffix("s")]
    return isinstance(value, tuple) and all(isinstance(each, one) for each in value)
