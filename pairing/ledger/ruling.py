"""What the ledger itself has to say about a draft, from the entries that touch its numbers.

Pure: the caller gathers those entries and holds the lock, so that of two desks that offer
the same number one is accepted and the other is told so here.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

from pairing.findings import Code, Finding, Weight
from pairing.ledger.drafts import Draft, Ruling
from pairing.ledger.entries import Entry, Kind
from pairing.ledger.state import Expectation, Piece, Standing, State
from pairing.model import Verdict
from pairing.numbers import printed, s10

LABEL_YEARS = 2
S10_YEARS = 1

STOPS_FOR = timedelta(days=1)
"""A stopped piece is named for this long when its label or card comes again. Common practice, no
source: by then the day's pieces have left the counter."""


def rule(draft: Draft, standing: Standing, now: datetime) -> Ruling:
    """What becomes of the draft."""
    match draft.kind:
        case Kind.PAIRED:
            return _of_pair(draft, standing, now, own=None)
        case Kind.CORRECTED:
            return _of_correction(draft, standing, now)
        case Kind.RETURNED:
            return _of_return(draft, standing)
        case Kind.VOIDED:
            return _of_void(draft, standing)
        case Kind.STOPPED | Kind.EXPECTED | Kind.NOTE:
            return Ruling(is_accepted=True, refers=draft.refers)


def in_window(piece: Piece, number: str, now: datetime) -> bool:
    """Whether the piece still keeps this number from being used again."""
    return piece.state is not State.VOID and not is_free(number, piece.first.when, now)


def _of_pair(draft: Draft, standing: Standing, now: datetime, *, own: int | None) -> Ruling:
    findings: list[Finding] = []
    for piece in standing.pieces.values():
        if piece.sequence != own:
            findings += _against(piece, draft, now)
    findings += _voids_before(draft, standing)
    findings += _stops_before(draft, standing, now)
    return Ruling(
        is_accepted=not any(finding.weight is not Weight.NOTE for finding in findings),
        refers=draft.refers,
        findings=tuple(findings),
    )


def _against(piece: Piece, draft: Draft, now: datetime) -> Iterator[Finding]:
    if piece.state is State.VOID:
        return
    same_article = draft.article is not None and piece.article == draft.article
    same_card = draft.card is not None and piece.card == draft.card
    if same_article and piece.card == draft.card and in_window(piece, draft.article or "", now):
        yield Finding.of(Code.PIECE_RECORDED_BEFORE, piece=piece.name)
        return
    if same_article and draft.article is not None:
        yield _used(piece, draft.article, now, (Code.LABEL_TAKEN, Code.LABEL_REUSED), piece.card)
    if same_card and draft.card is not None:
        yield _used(piece, draft.card, now, (Code.CARD_TAKEN, Code.CARD_REUSED), piece.article)


def _used(
    piece: Piece, number: str, now: datetime, codes: tuple[Code, Code], partner: str | None
) -> Finding:
    """codes: for a number that still counts as taken, and for one that may come again."""
    taken, reused = codes
    if in_window(piece, number, now):
        return Finding.of(taken, piece=piece.name, partner=_shown(partner))
    return Finding.of(reused, piece=piece.name)


def _voids_before(draft: Draft, standing: Standing) -> Iterator[Finding]:
    for piece in standing.pieces.values():
        if piece.state is not State.VOID:
            continue
        for number, mine, code in (
            (draft.article, piece.article, Code.LABEL_VOID_BEFORE),
            (draft.card, piece.card, Code.CARD_VOID_BEFORE),
        ):
            if number is not None and number == mine:
                yield Finding.of(code, piece=piece.name)


def _stops_before(draft: Draft, standing: Standing, now: datetime) -> Iterator[Finding]:
    """The last stop of this label and of this card within a day."""
    recent = [one for one in standing.stopped if now - one.when < STOPS_FOR]
    for name, number, code in (
        ("article", draft.article, Code.LABEL_STOPPED_BEFORE),
        ("card", draft.card, Code.CARD_STOPPED_BEFORE),
    ):
        found = [one for one in recent if number is not None and getattr(one, name) == number]
        if found:
            last = found[-1]
            wrong = [one for one in last.findings if one.weight is not Weight.NOTE]
            why = wrong[0].message.rstrip(".") if wrong else "not everything was read"
            yield Finding.of(code, piece=last.name, why=why)


def _of_correction(draft: Draft, standing: Standing, now: datetime) -> Ruling:
    piece = standing.pieces.get(draft.refers or 0)
    if piece is None:
        return _refused(draft, Finding.of(Code.CORRECTION_OF_NOTHING))
    if piece.state is State.VOID:
        return _refused(draft, Finding.of(Code.CORRECTION_OF_VOID, piece=piece.name))
    same_card = draft.card is not None and draft.card == piece.card
    if draft.article != piece.article and not same_card:
        # It would take the place of a piece that may be on its way.
        return _refused(draft, Finding.of(Code.CORRECTION_OF_ANOTHER, piece=piece.name))
    if piece.returns and (draft.article, draft.card) != (piece.article, piece.card):
        # What its card was compared with when it came back would not be what is recorded now.
        return _refused(draft, Finding.of(Code.CORRECTION_OF_RETURNED, piece=piece.name))
    return _of_pair(draft, standing, now, own=piece.sequence)


def _of_return(draft: Draft, standing: Standing) -> Ruling:
    piece = _returned_piece(draft, standing)
    if piece is None:
        return Ruling(
            is_accepted=False,
            refers=None,
            findings=(Finding.of(Code.RETURN_UNKNOWN),),
        )
    findings = [*_return_findings(draft, piece)]
    return Ruling(
        is_accepted=all(finding.weight is Weight.NOTE for finding in findings),
        refers=piece.sequence,
        findings=tuple(findings),
    )


def _return_findings(draft: Draft, piece: Piece) -> Iterator[Finding]:
    if piece.state is State.VOID:
        yield Finding.of(Code.RETURN_OF_VOID, piece=piece.name)
    if piece.returns and all(one.verdict is Verdict.UNREAD for one in piece.returns):
        # Whoever was told to look again does.
        first = piece.returns[0]
        yield Finding.of(Code.RETURN_READ_AGAIN, day=first.at[:10], entry=first.sequence)
    elif piece.returns:
        first = piece.returns[0]
        # One card scanned twice is one card; only a box that says something else is news.
        is_same = draft.written is None or any(
            one.written == draft.written for one in piece.returns
        )
        yield Finding.of(
            Code.RETURN_SAME if is_same else Code.RETURN_AGAIN,
            piece=piece.name,
            day=first.at[:10],
            entry=first.sequence,
        )
    if draft.written is not None and draft.written != piece.article:
        yield Finding.of(
            Code.RETURN_NAMES_ANOTHER,
            written=_shown(draft.written) or "none",
            article=_shown(piece.article),
        )


def _returned_piece(draft: Draft, standing: Standing) -> Piece | None:
    """The piece that a returned card belongs to: by reference, else by its own number, and
    where it has none (CN 07) by the article's. The youngest that is not void comes first."""
    if draft.refers is not None:
        return standing.pieces.get(draft.refers)
    if draft.card is not None:
        found = [one for one in standing.pieces.values() if one.card == draft.card]
    else:
        article = draft.article or draft.written
        found = [
            one
            for one in standing.pieces.values()
            if article is not None and one.article == article and one.card is None
        ]
    found.sort(key=lambda one: (one.state is not State.VOID, one.sequence))
    return found[-1] if found else None


def _of_void(draft: Draft, standing: Standing) -> Ruling:
    match standing.target(draft.refers):
        case Piece(state=State.OPEN) | Entry():
            return Ruling(is_accepted=True, refers=draft.refers)
        case Expectation(is_withdrawn=False):
            return Ruling(is_accepted=True, refers=draft.refers)
        case Piece(state=State.VOID) | Expectation():
            return _refused(draft, Finding.of(Code.VOID_AGAIN))
        case Piece() as piece:
            return _refused(draft, Finding.of(Code.VOID_OF_RETURNED, piece=piece.name))
        case _:
            return _refused(draft, Finding.of(Code.VOID_OF_NOTHING))


def _refused(draft: Draft, finding: Finding) -> Ruling:
    return Ruling(is_accepted=False, refers=draft.refers, findings=(finding,))


def _shown(text: str | None) -> str | None:
    return printed(text) or None


def free_from(number: str, used: datetime) -> datetime:
    """When a number used at `used` may be used again. A 29 February counts to 1 March."""
    years = S10_YEARS if s10.is_valid(number) else LABEL_YEARS
    try:
        return used.replace(year=used.year + years)
    except ValueError:
        return used.replace(year=used.year + years, month=3, day=1)


def is_free(number: str, used: datetime, now: datetime) -> bool:
    """Whether the window of a number used at `used` is over at `now`."""
    return now >= free_from(number, used)
