"""From any text that was read to the one number it is, or to the reason why not."""

from __future__ import annotations

from dataclasses import replace
from types import ModuleType

from pairing.errors import UnknownFamily
from pairing.findings import Code, Finding
from pairing.model import GS, Family, Number, Rejection, TrackingNumber
from pairing.numbers import (
    card22,
    derived,
    foreign,
    label20,
    label22,
    package,
    rejections,
    routing,
    s10,
    sscc,
    symbology,
)
from pairing.numbers import text as texts

MODULES: dict[str, ModuleType] = {
    module.FAMILY.name: module for module in (label22, label20, package, card22, s10, sscc, routing)
}
"""Family name to the module with its verbs."""

LONGEST = 64
"""Longer than any number with prefix; anything longer is refused unread."""


def family(name: str) -> Family:
    """The family of that name. Raises UnknownFamily."""
    if name in derived.FAMILIES:
        return derived.FAMILIES[name]
    try:
        found: Family = MODULES[name].FAMILY
    except KeyError:
        raise UnknownFamily(
            "There is no such number family", where=name, remedy=f"Known: {', '.join(MODULES)}."
        ) from None
    return found


def identify(text: str, *, aim: str = "") -> Number:
    """The number that `text` is, or a Rejection that says what is wrong and where.

    text: anything read anywhere; separators, a routing prefix and GS may be in it.
    aim: the symbology identifier that it came with, if known; one at the text's own
    beginning counts too. Never raises.
    """
    own = symbology.prefix(text)
    aim, bare = aim or own, text.removeprefix(own)
    compacted = texts.compact(bare).strip(GS)
    refusal = _refuse_unread(text, compacted, aim)
    if refusal:
        return refusal
    if aim[1:2] == symbology.RETAIL:
        return _foreign(text, compacted, foreign.kind(compacted) or f"{symbology.name(aim)} bars")
    number = _identify_plain(text, bare, compacted, aim)
    if aim and aim[1] not in symbology.EXPECTED and isinstance(number, TrackingNumber):
        return replace(number, findings=(*number.findings, _unusual_bars(aim)))
    return number


def _identify_plain(text: str, bare: str, compacted: str, aim: str) -> Number:
    if not texts.is_digits(compacted.replace(GS, "")):
        return _with_letters(text, compacted)
    if compacted.startswith(routing.PREFIX) and len(compacted) in routing.FAMILY.lengths:
        return _keep(text, routing.validate(bare))
    if routing.splits(compacted):
        return routing.resolve(text, compacted, lambda rest: _bare_digits(rest, rest, aim))
    return _bare_digits(text, compacted, aim)


def _refuse_unread(given: str, compacted: str, aim: str) -> Rejection | None:
    if not compacted:
        return Rejection(given=given, text="", reason=Finding.of(Code.EMPTY, aim=aim or None))
    if len(compacted) > LONGEST:
        reason = Finding.of(Code.LENGTH, length=len(compacted), too_long="number")
        return Rejection(given=given, text=compacted, reason=reason)
    return None


def _with_letters(given: str, text: str) -> Number:
    if len(text) == 13 and sum(map(str.isalpha, (text[0], text[1], text[-2], text[-1]))) >= 2:
        return _keep(given, s10.validate(text))
    named = foreign.kind(text)
    if named:
        return _foreign(given, text, named)
    places = texts.positions_not_digits(text)
    if len(places) <= 6 and len(text) in (20, 22, 26):
        return rejections.not_digits(given, text, _family_by_shape(text))
    reason = Finding.of(Code.NOT_A_NUMBER, positions=places)
    return Rejection(given=given, text=text, reason=reason)


def _bare_digits(given: str, text: str, aim: str) -> Number:
    if GS in text:
        return Rejection(given=given, text=text, reason=Finding.of(Code.FIELDS))
    if len(text) == 20 and text.startswith(sscc.AI00):
        return _keep(given, sscc.validate(text))
    if len(text) == 18:
        return _keep(given, sscc.validate(text))
    if len(text) == 20:
        return _label20(given, text, aim)
    if len(text) == 22 and text.startswith(label20.AI91):
        return _keep(given, label20.validate(text, aim=aim))
    if len(text) in (22, 26):
        module = MODULES[_family_by_shape(text).name]
        return _keep(given, module.validate(text))
    named = foreign.kind(text)
    if named and not (aim and foreign.is_imb(named)):
        return _foreign(given, text, named)
    return Rejection(given=given, text=text, reason=Finding.of(Code.LENGTH, length=len(text)))


def _label20(given: str, text: str, aim: str) -> Number:
    number = label20.validate(text, aim=aim)
    if isinstance(number, TrackingNumber) or text[:2] in label20.SERVICES:
        return _keep(given, number)
    named = foreign.kind(text)
    return _foreign(given, text, named) if named else _keep(given, number)


def _family_by_shape(text: str) -> Family:
    """The family whose prefix and length `text` has; the package code where none fits."""
    if len(text) == 20:
        return label20.FAMILY
    if len(text) == 22 and text.startswith(card22.PREFIX):
        return card22.FAMILY
    if len(text) == 22 and text.startswith(label22.PREFIX):
        return label22.FAMILY
    return package.FAMILY


def _keep(given: str, number: Number) -> Number:
    """The same number, remembering what was really given."""
    return replace(number, given=given)


def _unusual_bars(aim: str) -> Finding:
    return Finding.of(Code.SYMBOLOGY_UNUSUAL, bars=symbology.name(aim) or aim)


def _foreign(given: str, text: str, named: str) -> Rejection:
    return Rejection(given=given, text=text, reason=Finding.of(Code.OTHER_KIND, what=named))
