"""Every code that a finding or a refused number can have: one enumeration. What makes a piece
unread is a code here that may weigh as a doubt.

The texts are stored in ledgers (whose entries are hashed), exports and reports and are part of
`photos --json`: they are added to, never changed. Each has the weights that a finding with this
code may have and a line that says what it means; `parameters` has what travels with it and
`wording` the English sentences.
"""

from __future__ import annotations

from enum import StrEnum


class Weight(StrEnum):
    """What a finding does to a verdict."""

    NOTE = "note"  # said, changes nothing
    DOUBT = "doubt"  # "agrees" is no longer possible
    CLASH = "clash"  # the piece differs


_NOTE = (Weight.NOTE,)
_DOUBT = (Weight.DOUBT,)
_CLASH = (Weight.CLASH,)
_NOTE_OR_DOUBT = (Weight.NOTE, Weight.DOUBT)
_DOUBT_OR_CLASH = (Weight.DOUBT, Weight.CLASH)


class Code(StrEnum):
    """The code of a finding.

    weights: those that a finding with this code may have.
    meaning: one line for developers.
    """

    weights: tuple[Weight, ...]
    meaning: str

    def __new__(cls, text: str, weights: tuple[Weight, ...], meaning: str) -> Code:
        """A code with what belongs to it; the text alone is its value."""
        made = str.__new__(cls, text)
        made._value_ = text
        made.weights = weights
        made.meaning = meaning
        return made

    @classmethod
    def named(cls, text: str) -> Code:
        """The code of this text, which is one. Raises KeyError."""
        return _BY_TEXT[text]

    @classmethod
    def known(cls, text: str) -> Code | None:
        """The code of this text; None for one of a later version."""
        return _BY_TEXT.get(text)

    @property
    def is_about_box(self) -> bool:
        """Whether it says something of what is written in the box."""
        return self.startswith("box-")

    # Why a text is no number (`Rejection`).
    EMPTY = "empty", _DOUBT, "nothing was read"
    LENGTH = "length", _DOUBT, "too few or too many characters"
    SHAPE = "shape", _DOUBT, "letters and digits not where an S10 number has them"
    NOT_DIGITS = "not-digits", _DOUBT, "characters other than digits"
    CHECK_DIGIT = "check-digit", _DOUBT, "the check digit does not hold"
    PREFIX = "prefix", _DOUBT, "no number of the family begins like this"
    NOT_A_NUMBER = "not-a-number", _DOUBT, "letters, and of no known kind"
    FIELDS = "fields", _DOUBT, "several GS1 fields, none of them an article's"
    OTHER_KIND = "other-kind", _DOUBT, "a number or symbol of a kind that does not belong here"
    AMBIGUOUS = "ambiguous", _DOUBT, "two ways to part the routing prefix hold"

    # What is odd about a valid number.
    CONVENTION = "convention", _NOTE_OR_DOUBT, "which check digit convention holds is not known"
    SERVICE_UNLISTED = "service-unlisted", _NOTE_OR_DOUBT, "unknown service code or indicator"
    MAILER_RANGE = "mailer-range", _NOTE, "the mailer's first digit does not fit the channel"
    SYMBOLOGY_UNUSUAL = "symbology-unusual", _DOUBT, "a number from bars other than Code 128"
    CARD_PREFIX_UNUSUAL = "card-prefix-unusual", _NOTE, "a card number not beginning 9590 94"

    # A line from a scanner or a keyboard.
    CONTROL_CHARACTERS = "control-characters", _NOTE, "control characters were left out"
    LAYOUT_AZERTY = "layout-azerty", _NOTE, "digits arrived as the keys of an AZERTY keyboard"
    LAYOUT_QWERTZ = "layout-qwertz", _NOTE, "keys arrived in QWERTZ order"
    CAPS_LOCK = "caps-lock", _NOTE, "letters arrived in the wrong case"
    KEYPAD_CODES = "keypad-codes", _NOTE, "characters arrived as three-digit keypad codes"
    UNICODE_DIGITS = "unicode-digits", _NOTE, "digits of another script"
    SEPARATOR_AS_DIGITS = "separator-as-digits", _NOTE, "the group separator arrived as 029"
    RUN_TOGETHER = "run-together", _NOTE, "several scans arrived in one line"
    DOUBLE_READ = "double-read", _NOTE, "the same symbol or scan arrived twice and counts once"
    TRUNCATED = "truncated", _DOUBT, "a scan that was cut short"
    LETTERS_FOR_DIGITS = "letters-for-digits", _DOUBT, "letters that may have been typed for digits"
    KEYED_WITH_PREFIX = "keyed-with-prefix", _DOUBT, "a keyed number with a prefix of bars"
    KEYED_ILLEGIBLE = "keyed-illegible", _DOUBT, "a keyed number with more than digits"

    # One side of a piece, by itself.
    LABEL_UNREAD = "label-unread", _DOUBT, "no article number was read"
    CARD_UNREAD = "card-unread", _DOUBT, "the card's own number was not read"
    BOX_UNREAD = "box-unread", _DOUBT, "the box was not read"
    TWO_ARTICLES = "two-articles", _DOUBT, "more than one article number on the label"
    TWO_CARDS = "two-cards", _DOUBT, "more than one card number"
    BOX_SAYS_TWO_THINGS = "box-says-two-things", _DOUBT, "the box was read in two ways"
    PLACE_IN_DOUBT = "place-in-doubt", _DOUBT, "a number whose side is not known"
    OTHER_NUMBER = "other-number", _NOTE, "a number that is neither an article's nor a card's"
    LABEL_KEYED = "label-keyed", _NOTE, "the label's number was keyed"
    CARD_KEYED = "card-keyed", _NOTE, "the card's number was keyed"
    BOX_KEYED = "box-keyed", _NOTE, "the box was keyed (older entries only)"
    CARD_NUMBERLESS = "card-numberless", _NOTE, "a card that has no number of its own (CN 07)"
    CARD_WRONG_KIND = "card-wrong-kind", _DOUBT, "a card that does not go with such a label"
    CARD_NOT_DERIVED = (
        "card-not-derived",
        _CLASH,
        "the card's number does not follow from the label's by a rule of the office",
    )
    RULE_UNCHOSEN = (
        "rule-unchosen",
        _NOTE,
        "label and card of a rule that the office did not choose",
    )
    ROUTING_DIFFERS = "routing-differs", _DOUBT, "one article number, two postal codes"
    LABEL_UNCONFIRMED = (
        "label-unconfirmed",
        _DOUBT,
        "a label only keyed, and nobody vouched",
    )
    ONE_SOURCE = "one-source", _DOUBT, "label and box come from one reading"
    ONE_SYMBOL_TWO_SIDES = "one-symbol-two-sides", _DOUBT, "one barcode for label and box"

    # A refused number, by the side that it was read on: the side, then the reason above.
    LABEL_EMPTY = "label-empty", _NOTE_OR_DOUBT, "see empty"
    LABEL_LENGTH = "label-length", _NOTE_OR_DOUBT, "see length"
    LABEL_SHAPE = "label-shape", _NOTE_OR_DOUBT, "see shape"
    LABEL_NOT_DIGITS = "label-not-digits", _NOTE_OR_DOUBT, "see not-digits"
    LABEL_CHECK_DIGIT = "label-check-digit", _NOTE_OR_DOUBT, "see check-digit"
    LABEL_PREFIX = "label-prefix", _NOTE_OR_DOUBT, "see prefix"
    LABEL_NOT_A_NUMBER = "label-not-a-number", _NOTE_OR_DOUBT, "see not-a-number"
    LABEL_FIELDS = "label-fields", _NOTE_OR_DOUBT, "see fields"
    LABEL_OTHER_KIND = "label-other-kind", _NOTE_OR_DOUBT, "see other-kind"
    LABEL_AMBIGUOUS = "label-ambiguous", _NOTE_OR_DOUBT, "see ambiguous"
    CARD_EMPTY = "card-empty", _NOTE_OR_DOUBT, "see empty"
    CARD_LENGTH = "card-length", _NOTE_OR_DOUBT, "see length"
    CARD_SHAPE = "card-shape", _NOTE_OR_DOUBT, "see shape"
    CARD_NOT_DIGITS = "card-not-digits", _NOTE_OR_DOUBT, "see not-digits"
    CARD_CHECK_DIGIT = "card-check-digit", _NOTE_OR_DOUBT, "see check-digit"
    CARD_PREFIX = "card-prefix", _NOTE_OR_DOUBT, "see prefix"
    CARD_NOT_A_NUMBER = "card-not-a-number", _NOTE_OR_DOUBT, "see not-a-number"
    CARD_FIELDS = "card-fields", _NOTE_OR_DOUBT, "see fields"
    CARD_OTHER_KIND = "card-other-kind", _NOTE_OR_DOUBT, "see other-kind"
    CARD_AMBIGUOUS = "card-ambiguous", _NOTE_OR_DOUBT, "see ambiguous"
    BOX_EMPTY = "box-empty", _DOUBT, "nothing is written in the box, or its scan was empty"
    BOX_LENGTH = "box-length", _DOUBT, "see length"
    BOX_SHAPE = "box-shape", _DOUBT, "see shape"
    BOX_NOT_DIGITS = "box-not-digits", _DOUBT, "see not-digits"
    BOX_CHECK_DIGIT = "box-check-digit", _DOUBT, "see check-digit"
    BOX_PREFIX = "box-prefix", _DOUBT, "see prefix"
    BOX_NOT_A_NUMBER = "box-not-a-number", _DOUBT, "see not-a-number"
    BOX_FIELDS = "box-fields", _DOUBT, "see fields"
    BOX_OTHER_KIND = "box-other-kind", _DOUBT, "see other-kind"
    BOX_AMBIGUOUS = "box-ambiguous", _DOUBT, "see ambiguous"
    BOX_UNCLEAR = "box-unclear", _DOUBT, "a strip's number that is doubtful or of another kind"

    # The box against the label: the copying errors (`compare.CopyError`).
    BOX_CARD_OWN = "box-card-own", _CLASH, "the box holds the card's own number"
    BOX_OTHER_PIECE = "box-other-piece", _CLASH, "the box holds another piece's number"
    BOX_PAD_NEIGHBOR = "box-pad-neighbour", _CLASH, "the box holds the next label's number"
    BOX_ONE_DIGIT = "box-one-digit", _CLASH, "one character differs"
    BOX_ADJACENT_SWAP = "box-adjacent-swap", _CLASH, "two neighboring characters are swapped"
    BOX_JUMP_SWAP = "box-jump-swap", _CLASH, "two characters are swapped across another"
    BOX_TWIN = "box-twin", _CLASH, "a double character is another double"
    BOX_JUMP_TWIN = "box-jump-twin", _CLASH, "two equal characters around another both differ"
    BOX_PHONETIC = "box-phonetic", _CLASH, "thirty for thirteen and the like"
    BOX_DROPPED = "box-dropped", _CLASH, "one character is missing"
    BOX_EXTRA = "box-extra", _CLASH, "one character too many"
    BOX_TRUNCATED = "box-truncated", _CLASH, "one end of the number is missing"
    BOX_GROUP_SWAP = "box-group-swap", _CLASH, "two printed groups are swapped"
    BOX_SHIFTED = "box-shifted", _CLASH, "one character lost and another put in elsewhere"
    BOX_SEVERAL_DIGITS = "box-several-digits", _CLASH, "several characters differ"
    BOX_DIFFERENT = "box-different", _CLASH, "another length, and none of the above"
    BOX_NO_NUMBER = "box-no-number", _CLASH, "the box holds something that is not a number"
    BOX_REFUSED = "box-refused", _DOUBT, "the box repeats the label's digits, yet was refused"

    # What a blind reading of the box comes to.
    BOX_ILLEGIBLE = "box-illegible", _DOUBT, "the writing was not read as a number"
    BOX_TWO_NUMBERS = "box-two-numbers", _DOUBT, "more than one number is written in the box"
    BOX_STRUCK_OUT = "box-struck-out", _DOUBT, "something was struck out or added"
    BOX_STRUCK = "box-struck", _DOUBT, "a stroke runs through the writing"
    BOX_BARS_UNREAD = "box-bars-unread", _DOUBT, "bars in the box that were not read"
    BOX_GROUP_MISSING = "box-group-missing", _DOUBT, "read shorter by a group or more"
    FORM_UNKNOWN = "form-unknown", _DOUBT, "the card's form is not known, its box not found"
    BOX_CUT = "box-cut", _DOUBT, "the photo cuts the writing off"
    BOX_OVER_EDGE = "box-over-edge", _DOUBT, "writing over the edge, read as another number"
    BOX_DOUBTFUL = "box-doubtful", _DOUBT, "read, but not with enough certainty"
    BOX_DIGITS_DOUBTFUL = (
        "box-digits-doubtful",
        _DOUBT,
        "some characters were not read with certainty",
    )
    BOX_DIGITS_UNSURE = "box-digits-unsure", _NOTE, "the same, but certainly not the label's number"
    BOX_OTHER_NUMBER = "box-other-number", _DOUBT, "an unsure reading is another known number"
    BOX_KEYED_OTHERWISE = "box-keyed-otherwise", _DOUBT, "keyed and read as two numbers"
    BOX_BY_SHAPE = "box-by-shape", _NOTE, "the box was found by the card's printed form"
    STRIP_PRINT_UNREAD = (
        "strip-print-unread",
        _NOTE,
        "the strip's print was not read with certainty",
    )
    STRIP_PRINT_DIFFERS = "strip-print-differs", _DOUBT, "the strip's bars and print differ"

    # The piece against what is known from elsewhere.
    CARD_BY_LIST = "card-by-list", _NOTE, "the expected list says that this is a card's number"
    NOT_EXPECTED = "not-expected", _DOUBT, "not on the expected list"
    CARD_EXPECTED_ELSEWHERE = "card-expected-elsewhere", _CLASH, "the card of another article"
    EXPECTED_OTHER_CARD = "expected-other-card", _CLASH, "the list gives the article another card"
    SEEN_AGAIN = "seen-again", _NOTE, "label and card are those of an earlier piece"
    LABEL_USED_BEFORE = "label-used-before", _DOUBT_OR_CLASH, "the article number of another piece"
    CARD_USED_BEFORE = "card-used-before", _DOUBT_OR_CLASH, "the card number of another piece"

    # Photos.
    PHOTO_SKIPPED = "photo-skipped", _DOUBT, "a photo could not be used"
    LABEL_PRINT_DIFFERS = "label-print-differs", _DOUBT, "the label's bars and print differ"
    LABEL_PRINT_FAILING = "label-print-failing", _NOTE, "the label's print is poor"
    LABEL_PRINT_ALONE = "label-print-alone", _DOUBT, "the label's print was read, its bars were not"
    BARS_BY_PRINT = "bars-by-print", _NOTE, "one decoder's reading, and print says the same"
    ENGINES_DISAGREE = "engines-disagree", _DOUBT, "one symbol is read in more than one way"
    ONE_WITNESS = "one-witness", _DOUBT, "a symbol was read by one decoder only"

    # The other fields of a card whose form is known.
    SENDER_EMPTY = "sender-empty", _NOTE_OR_DOUBT, "the sender's address is missing on the card"
    ADDRESSEE_EMPTY = "addressee-empty", _NOTE_OR_DOUBT, "the addressee's field is empty"
    SERVICE_UNMARKED = "service-unmarked", _NOTE_OR_DOUBT, "no service is marked on the card"
    SERVICE_TWO = "service-two", _NOTE_OR_DOUBT, "more than one service is marked"
    SERVICE_BETWEEN = "service-between", _NOTE_OR_DOUBT, "a mark on the border of two boxes"
    SERVICE_CORRECTED = "service-corrected", _NOTE_OR_DOUBT, "one box blotted out, another marked"
    PIECE_KIND_ODD = "piece-kind-odd", _NOTE, "a parcel's label on a letter, or the reverse"
    SIGNATURE_OUTSIDE = "signature-outside", _NOTE_OR_DOUBT, "writing beside the signature's field"

    # The counter, and cards that came back.
    SECOND_LABEL = "second-label", _DOUBT, "a second label before the piece was finished"
    SECOND_CARD = "second-card", _DOUBT, "a second card before the piece was finished"
    STRIP_UNCLEAR = "strip-unclear", _DOUBT, "not exactly one scan where the strip was expected"
    SCANNED_AGAIN = "scanned-again", _NOTE, "a side was unclear at first and was read again"
    READ_ANEW = "read-anew", _NOTE, "the whole piece was read again for an earlier entry"
    LABEL_CONFIRMED = "label-confirmed", _NOTE, "an operator vouches for a label that was keyed"
    UNLISTED_CONFIRMED = (
        "unlisted-confirmed",
        _NOTE,
        "an operator says that the piece belongs on no expected list",
    )
    NUMBERLESS_CONFIRMED = (
        "numberless-confirmed",
        _NOTE,
        "an operator says that the card has no number of its own",
    )
    KEYED_AFTER_STOP = (
        "keyed-after-stop",
        _DOUBT,
        "a keyed label and a card stopped with another",
    )
    STOPPED_SINCE = (
        "stopped-since",
        _DOUBT,
        "called different after it was read here, and before it could be recorded",
    )
    SIGNED_IN_FUTURE = "signed-in-future", _DOUBT, "the date of signature is still to come"
    SIGNATURE_UNSAID = "signature-unsaid", _NOTE_OR_DOUBT, "nobody said or saw that it is signed"
    CARD_UNSIGNED = "card-unsigned", _NOTE_OR_DOUBT, "a returned card without a signature"
    CARD_UNDATED = "card-undated", _NOTE_OR_DOUBT, "a returned card without a date of signature"
    RETURN_CORRECTED = (
        "return-corrected",
        _NOTE,
        "given again after a slip, the label's number seen",
    )
    SIGNED_BEFORE_MAILING = "signed-before-mailing", _DOUBT, "signed before it was sealed"

    # What the ledger says of a draft.
    PIECE_RECORDED_BEFORE = "piece-recorded-before", _DOUBT, "this very pair is recorded already"
    LABEL_TAKEN = "label-taken", _CLASH, "the article number is on another sealed piece"
    CARD_TAKEN = "card-taken", _CLASH, "the card number is on another sealed piece"
    LABEL_REUSED = "label-reused", _NOTE, "used before, but long enough ago"
    CARD_REUSED = "card-reused", _NOTE, "used before, but long enough ago"
    LABEL_VOID_BEFORE = "label-void-before", _NOTE, "was on a piece that was voided"
    CARD_VOID_BEFORE = "card-void-before", _NOTE, "was on a piece that was voided"
    LABEL_STOPPED_BEFORE = "label-stopped-before", _NOTE, "was on a piece stopped within a day"
    CARD_STOPPED_BEFORE = "card-stopped-before", _NOTE, "was on a piece stopped within a day"
    CORRECTION_OF_NOTHING = "correction-of-nothing", _DOUBT, "there is no such piece"
    CORRECTION_OF_VOID = "correction-of-void", _DOUBT, "the piece was voided"
    CORRECTION_OF_ANOTHER = "correction-of-another", _DOUBT, "neither number is that piece's"
    CORRECTION_OF_RETURNED = "correction-of-returned", _DOUBT, "its card came back already"
    RETURN_UNKNOWN = "return-unknown", _DOUBT, "no piece has this card"
    RETURN_OF_VOID = "return-of-void", _CLASH, "the card of a voided piece came back"
    RETURN_READ_AGAIN = "return-read-again", _NOTE, "an unread return is read again"
    RETURN_SAME = "return-same", _NOTE, "the card came back before and says the same"
    RETURN_AGAIN = "return-again", _CLASH, "the card came back before"
    RETURN_NAMES_ANOTHER = "return-names-another", _CLASH, "the box names another article"
    VOID_AGAIN = "void-again", _DOUBT, "it was voided before"
    VOID_OF_RETURNED = "void-of-returned", _DOUBT, "its card came back, so it went out"
    VOID_OF_NOTHING = "void-of-nothing", _DOUBT, "there is no such entry"

    # The ledger itself and its proofs.
    CLOCK_SET_BACK = "clock-set-back", _NOTE_OR_DOUBT, "the clock is behind the last entry"
    LEDGER_TRUNCATED = "ledger-truncated", _DOUBT, "fewer entries than this machine has seen"
    LEDGER_CHANGED = "ledger-changed", _DOUBT, "the ledger is not the one that was seen or signed"
    WITNESS_MISSING = "witness-missing", _DOUBT, "the witness file's folder cannot be written"
    KEY_OPEN = "key-open", _DOUBT, "other users may read the signing key"
    LEDGER_OPEN = "ledger-open", _DOUBT, "other users may read the ledger"
    PROOF_SIGNATURE = "proof-signature", _CLASH, "the head is not signed by the key in the file"
    PROOF_KEY = "proof-key", _CLASH, "the head is signed by a key other than the trusted one"
    PROOF_EMPTY = "proof-empty", _CLASH, "the proof shows no entry"
    PROOF_ENTRY = "proof-entry", _CLASH, "an entry shown twice or not in the signed ledger"
    PROOF_PAIR = "proof-pair", _CLASH, "a sealed piece that does not agree"
    PROOF_PARTICULARS = "proof-particulars", _CLASH, "names and addresses of another entry"

    # The audit.
    RECORDED_OTHERWISE = "recorded-otherwise", _CLASH, "the ledger has another pair"
    RECORDED_VOID = "recorded-void", _DOUBT, "the ledger's piece was voided"
    NEVER_RECORDED = "never-recorded", _NOTE, "the ledger has no sealed piece with this number"
    MATCHED_BY_RECORD = (
        "matched-by-record",
        _NOTE,
        "unsorted card and label, paired by a record",
    )
    MATCHED_BY_BOX = (
        "matched-by-box",
        _DOUBT,
        "unsorted card and label, paired by the box alone",
    )
    MATCHED_BY_ORDER = (
        "matched-by-order",
        _DOUBT,
        "unsorted card and label, paired by the order of their numbers",
    )
    BOX_NO_ARTICLE = "box-no-article", _DOUBT, "no label's number in the box, whosever card it is"
    BOX_NUMBER_TWICE = "box-number-twice", _DOUBT, "boxes of several cards hold one number"
    MATCH_IN_DOUBT = "match-in-doubt", _DOUBT, "two labels fit this card about equally"
    NO_LABEL_PHOTO = "no-label-photo", _DOUBT, "no photo of the label that belongs to this card"
    NO_CARD_PHOTO = "no-card-photo", _DOUBT, "no photo of the card that belongs to this label"


_BY_TEXT = {code.value: code for code in Code}
