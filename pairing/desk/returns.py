"""A card that came back: its mailing, how old that is, and whether its box agrees.

The box is compared with what the ledger says was on the label, and neither helps the reading
of the other. Whatever is wrong is recorded with the return. Hints are for a person and are not
recorded.

An article scanned on a returned card counts as the box only after `strip`: the sender's receipt
has the same bars. A card whose return ended "unread" may be read again. Once a card came back,
the numbers of its piece cannot be changed.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, tzinfo

from pairing.desk import dates
from pairing.desk.card_session import ReadCard
from pairing.desk.for_whom import SIGNED_BY
from pairing.desk.nearby import Near, near
from pairing.findings import Code, Finding, Weight
from pairing.judge import sides, weigh
from pairing.judge.box import weighing
from pairing.ledger import Draft, Kind, Ledger, Outcome, Piece, State, observed
from pairing.model import Reading, Side, TrackingNumber, Verdict
from pairing.numbers import s10
from pairing.pieces import office_rules


@dataclass(frozen=True, slots=True, kw_only=True)
class CardResult:
    """What became of a returned card.

    verdict: AGREES where the ledger knows the card, its piece is not voided, nothing came back
    before, and the box says that piece's article; DIFFERS where something contradicts; UNREAD
    where something is unknown or odd. outcome: None where the card could not be recorded because
    nothing on it tells which one it is. piece: its mailing, with this return added. days: from
    sealing to this return; days_to_signature likewise. elsewhere: other pieces whose article is
    written in the box. hints: numbers that one slip would explain.
    """

    verdict: Verdict
    card: str | None
    written: str | None
    outcome: Outcome | None
    piece: Piece | None
    findings: tuple[Finding, ...]
    signed: date | None = None
    is_signed: bool | None = None
    days: int | None = None
    days_to_signature: int | None = None
    elsewhere: tuple[Piece, ...] = ()
    hints: tuple[Near, ...] = ()


def take_back(  # noqa: PLR0913 - a card, and who took it back where and when
    ledger: Ledger,
    read: ReadCard,
    *,
    desk: str,
    operator: str,
    today: date,
    zone: tzinfo | None = None,
    last: CardResult | None = None,
    only_notes: Collection[str] = (),
) -> CardResult:
    """Record a returned card, durably, and judge it.

    last: what became of the card before it at this desk; where this is the same card given
    again after a slip, its return is taken back first. today: the desk's day, with which the
    date of signature is compared. zone: the desk's, by default this machine's.
    only_notes: what of `judge.fields.SETTABLE_ON_RETURN` is a note in this office, where a form
    was not taught with it. Raises LedgerUnusable: then nothing was recorded.
    """
    own = _own(read)
    piece = _piece(ledger, card=own) if own else None
    read = _weighed(read, own, piece)
    written, found = _sides(read)
    if own is None and not _is_unnumbered(read, written):
        return _unrecorded(ledger, read, written, found)
    if own is None:
        piece = _piece(ledger, article=written)
    is_whole = piece is None or (piece.article == written and piece.state is not State.VOID)
    notes = {*only_notes, *read.only_notes}
    found += _of_signature(read, notes, is_whole=is_whole and written is not None)
    found += _taken_back(ledger, read, (own, written), last, desk=desk, operator=operator)
    findings = tuple(dict.fromkeys((*found, *_of_date(read.signed, piece, today, zone))))
    draft = _draft(read, own, written, findings)
    outcome = ledger.append(replace(draft, desk=desk, operator=operator))
    return _result(ledger, read, outcome, zone)


def _unrecorded(
    ledger: Ledger, read: ReadCard, written: str | None, found: Sequence[Finding]
) -> CardResult:
    """A card that cannot be recorded: nothing on it tells which one it is."""
    return CardResult(
        verdict=Verdict.UNREAD,
        card=None,
        written=written,
        outcome=None,
        piece=None,
        findings=tuple(dict.fromkeys(found)),
        signed=read.signed,
        is_signed=read.is_signed,
        elsewhere=_standing(ledger, written),
        hints=_hints(ledger, read.readings),
    )


def _of_signature(read: ReadCard, notes: Collection[str], *, is_whole: bool) -> Iterator[Finding]:
    """A card is in order only with signature and date, said or seen, or where its office has
    their absence as a note. is_whole: nothing else is known to be wrong, so that it is worth
    asking."""

    def found(code: Code) -> Finding:
        return Finding.of(code, weight=Weight.NOTE if code in notes else Weight.DOUBT)

    if read.is_signed is None and is_whole:
        yield Finding.of(Code.SIGNATURE_UNSAID, weight=Weight.DOUBT)
    elif read.is_signed is False:
        yield found(Code.CARD_UNSIGNED)
    elif read.is_signed and not read.is_dated:
        yield found(Code.CARD_UNDATED)


def _taken_back(  # noqa: PLR0913 - a card, the one before it, and who took it back where
    ledger: Ledger,
    read: ReadCard,
    numbers: tuple[str | None, str | None],
    last: CardResult | None,
    *,
    desk: str,
    operator: str,
) -> Iterator[Finding]:
    """The last card's return is taken back where this is the same card given again. numbers: the
    card's own, and what is written in its box."""
    own, written = numbers
    if last is None or last.outcome is None or last.piece is None:
        return
    is_again = own is not None and own == last.card and last.verdict is Verdict.DIFFERS
    if not (read.amends or is_again):
        return
    before = last.outcome.entry.sequence
    if last.verdict is not Verdict.UNREAD:  # what was unread may be read again as it is
        void = Draft(
            kind=Kind.VOIDED,
            desk=desk,
            operator=operator,
            article=last.piece.article,
            card=last.card,
            refers=before,
            remark="Given again after a slip at the desk.",
        )
        ledger.append(void)
    if last.written not in (None, written):
        yield Finding.of(Code.RETURN_CORRECTED, entry=before)


def _own(read: ReadCard) -> str | None:
    """The card's own number, where exactly one was read beyond doubt."""
    number = sides.card(read.readings).number
    return number.text if number else None


def _weighed(read: ReadCard, own: str | None, piece: Piece | None) -> ReadCard:
    """The card with what its photo shows in the box, compared with the article of its mailing
    only here: the reading was made without it. A card that has no number of its own would
    vouch for itself, so only bars and people count there."""
    if read.seen is None or read.thresholds is None or own is None:
        return read
    article = office_rules.identified(piece.article) if piece and piece.article else None
    weighed = weigh(
        read.seen,
        read.readings,
        article=article if isinstance(article, TrackingNumber) else None,
        card=own,
        others={},
        thresholds=read.thresholds,
    )
    return replace(
        read,
        readings=(*read.readings, *weighed.readings),
        found=(*read.found, *weighed.findings),
    )


def _sides(read: ReadCard) -> tuple[str | None, list[Finding]]:
    """What is written in the box, and the findings; each side is read by itself."""
    card, box = sides.card(read.readings), sides.box(read.readings)
    texts = {one.number.text for one in box.readings}
    written = texts.pop() if len(texts) == 1 else None
    about_card = () if _is_unnumbered(read, written) else card.findings
    about_box = weighing.still_to_say(box.findings, read.found)
    return written, [*read.found, *about_card, *about_box]


def _is_unnumbered(read: ReadCard, written: str | None) -> bool:
    """A CN 07 has no number of its own: the article's number identifies it. A card on which a
    number of its own was read, even if not surely, is not one."""
    has_own = any(one.side is Side.CARD for one in read.readings)
    return not has_own and written is not None and s10.is_valid(written)


def _draft(
    read: ReadCard, own: str | None, written: str | None, findings: tuple[Finding, ...]
) -> Draft:
    """The return as it is offered. Whether the box says the piece's article is checked by the
    ledger, inside the transaction that records it."""
    is_sure = written is not None and all(one.weight is Weight.NOTE for one in findings)
    return Draft(
        kind=Kind.RETURNED,
        desk="",
        operator="",
        card=own,
        written=written,
        verdict=Verdict.AGREES if is_sure else Verdict.UNREAD,
        readings=tuple(
            observed(one, photo_sha256=read.photos.get(one.source, "")) for one in read.readings
        ),
        findings=findings,
        remark=read.signed.isoformat() if read.signed else "",
        particulars={SIGNED_BY: read.name} if read.name else {},
    )


def _result(ledger: Ledger, read: ReadCard, outcome: Outcome, zone: tzinfo | None) -> CardResult:
    entry = outcome.entry
    story = ledger.story(entry.card or entry.written or "")
    piece = next((one for one in story.pieces if one.sequence == entry.refers), None)
    verdict = entry.verdict or Verdict.UNREAD
    accepted = dates.day_of(piece.first.when, zone) if piece else None
    is_own = piece is not None and entry.written == piece.article
    return CardResult(
        verdict=verdict,
        card=entry.card,
        written=entry.written,
        outcome=outcome,
        piece=piece,
        findings=entry.said,
        signed=read.signed,
        is_signed=read.is_signed,
        days=(dates.day_of(entry.when, zone) - accepted).days if accepted else None,
        days_to_signature=(read.signed - accepted).days if read.signed and accepted else None,
        elsewhere=() if is_own else _standing(ledger, entry.written),
        hints=_hints(ledger, read.readings) if piece is None else (),
    )


def _piece(ledger: Ledger, *, card: str | None = None, article: str | None = None) -> Piece | None:
    """The latest piece that has this card (or, without a card, this article), if there is one that
    is not voided."""
    number = card or article or ""
    found = [
        one
        for one in ledger.bearing([number])
        if (one.card == card if card else one.article == article and one.card is None)
    ]
    found.sort(key=lambda one: (one.state is not State.VOID, one.sequence))
    return found[-1] if found else None


def _of_date(
    signed: date | None, piece: Piece | None, today: date, zone: tzinfo | None
) -> Iterator[Finding]:
    if signed is None:
        return
    if signed > today:
        yield Finding.of(Code.SIGNED_IN_FUTURE, signed=str(signed))
    if piece is not None and signed < dates.day_of(piece.first.when, zone):
        accepted = dates.day_of(piece.first.when, zone)
        yield Finding.of(Code.SIGNED_BEFORE_MAILING, signed=str(signed), accepted=str(accepted))


def _standing(ledger: Ledger, article: str | None) -> tuple[Piece, ...]:
    """The pieces that have this article and are not voided."""
    return tuple(
        one
        for one in ledger.bearing([article] if article else [])
        if one.article == article and one.state is not State.VOID
    )


def _hints(ledger: Ledger, readings: Sequence[Reading]) -> tuple[Near, ...]:
    """Pieces whose card's number differs by one slip from what was read as the card's."""
    found: dict[tuple[int, str], Near] = {}
    for reading in readings:
        if reading.side is not Side.CARD or not reading.number.text:
            continue
        for one in near(ledger, reading.number.text):
            if one.number == one.piece.card:
                found.setdefault((one.piece.sequence, one.number), one)
    return tuple(found.values())
