"""What the ledger itself has to say about a draft, from the entries that touch its numbers.

Pure: the caller gathers those entries and holds the lock, so that of two desks that offer
the same number one is accepted and the other is told so here.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from pairing.ledger.drafts import Draft, Ruling
from pairing.ledger.entries import Entry, Kind
from pairing.ledger.state import Expectation, Piece, Standing, State
from pairing.model import Finding, Verdict, Weight
from pairing.numbers import identify, printed, s10

LABEL_YEARS = 2
S10_YEARS = 1


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
        yield Finding(
            code="piece-recorded-before",
            message=f"Label and card are those of {piece.name}: this piece is recorded already.",
            action="If it is that piece, nothing is left to do; if not, find both.",
            weight=Weight.DOUBT,
        )
        return
    if same_article and draft.article is not None:
        yield _used(piece, draft.article, "label", f"with card {_shown(piece.card)}", now)
    if same_card and draft.card is not None:
        yield _used(piece, draft.card, "card", f"with article {_shown(piece.article)}", now)


def _used(piece: Piece, number: str, what: str, pairing: str, now: datetime) -> Finding:
    if in_window(piece, number, now):
        return Finding(
            code=f"{what}-taken",
            message=f"This {what}'s number was accepted as {piece.name}, {pairing}.",
            action=f"Do not seal. Find both pieces; one of them needs a new {what}.",
            weight=Weight.CLASH,
        )
    return Finding(
        code=f"{what}-reused",
        message=f"This {what}'s number was used before, as {piece.name}; the time in which "
        "it must not be used again is over.",
    )


def _voids_before(draft: Draft, standing: Standing) -> Iterator[Finding]:
    for piece in standing.pieces.values():
        if piece.state is not State.VOID:
            continue
        for number, mine, what in (
            (draft.article, piece.article, "label"),
            (draft.card, piece.card, "card"),
        ):
            if number is not None and number == mine:
                yield Finding(
                    code=f"{what}-void-before",
                    message=f"This {what}'s number was on {piece.name}, which was voided.",
                )


def _of_correction(draft: Draft, standing: Standing, now: datetime) -> Ruling:
    piece = standing.pieces.get(draft.refers or 0)
    if piece is None:
        return _refused(draft, "correction-of-nothing", "There is no such piece to correct.")
    if piece.state is State.VOID:
        return _refused(
            draft, "correction-of-void", f"{_begin(piece.name)} was voided.", "Offer it as new."
        )
    same_card = draft.card is not None and draft.card == piece.card
    if draft.article != piece.article and not same_card:
        # It would take the place of a piece that may be on its way.
        return _refused(
            draft,
            "correction-of-another",
            f"Neither label nor card is that of {piece.name}: this is another piece.",
            f"Offer it as new; void {piece.name} if that one does not count.",
        )
    if piece.returns and (draft.article, draft.card) != (piece.article, piece.card):
        # What its card was held against on coming back would not be what stands there now.
        return _refused(
            draft,
            "correction-of-returned",
            f"The card of {piece.name} came back and was held against its numbers.",
            "Void the return first, correct the piece, and take the card back again.",
        )
    return _of_pair(draft, standing, now, own=piece.sequence)


def _of_return(draft: Draft, standing: Standing) -> Ruling:
    piece = _returned_piece(draft, standing)
    if piece is None:
        return Ruling(
            is_accepted=False,
            refers=None,
            findings=(
                Finding(
                    code="return-unknown",
                    message="No piece of this ledger has this card.",
                    action="Look for the mailing elsewhere; keep the card.",
                    weight=Weight.DOUBT,
                ),
            ),
        )
    findings = [*_return_findings(draft, piece)]
    return Ruling(
        is_accepted=all(finding.weight is Weight.NOTE for finding in findings),
        refers=piece.sequence,
        findings=tuple(findings),
    )


def _return_findings(draft: Draft, piece: Piece) -> Iterator[Finding]:
    if piece.state is State.VOID:
        yield Finding(
            code="return-of-void",
            message=f"The card of {piece.name} came back, but that piece was voided.",
            action="Find out whether it was mailed after all.",
            weight=Weight.CLASH,
        )
    if piece.returns and all(one.verdict is Verdict.UNREAD for one in piece.returns):
        # Whoever was told to look again does.
        yield Finding(
            code="return-read-again",
            message=f"This card was taken back on {piece.returns[0].at[:10]} "
            f"(entry {piece.returns[0].sequence}), and not read to the end.",
        )
    elif piece.returns:
        yield Finding(
            code="return-again",
            message=f"The card of {piece.name} came back before, "
            f"on {piece.returns[0].at[:10]} (entry {piece.returns[0].sequence}).",
            action="Compare both cards.",
            weight=Weight.CLASH,
        )
    if draft.written is not None and draft.written != piece.article:
        yield Finding(
            code="return-names-another",
            message=f"The box says {_shown(draft.written)}; the card was sent out with "
            f"article {_shown(piece.article)}.",
            action="Keep the card and show it to whoever needs the proof.",
            weight=Weight.CLASH,
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
            return _refused(draft, "void-again", "It was voided before.")
        case Piece() as piece:
            return _refused(
                draft,
                "void-of-returned",
                f"The card of {piece.name} came back, so that piece went out.",
                "Void the return first if that was the mistake.",
            )
        case _:
            return _refused(draft, "void-of-nothing", "There is nothing there to void.")


def _refused(draft: Draft, code: str, message: str, action: str = "") -> Ruling:
    finding = Finding(code=code, message=message, action=action, weight=Weight.DOUBT)
    return Ruling(is_accepted=False, refers=draft.refers, findings=(finding,))


def _shown(text: str | None) -> str:
    return printed(identify(text)) if text else "none"


def _begin(text: str) -> str:
    return text[:1].upper() + text[1:]


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
