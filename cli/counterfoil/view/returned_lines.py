"""How a returned card looks: its mailing, its age, and whether its box agrees."""

from __future__ import annotations

from collections.abc import Iterator

from counterfoil.view import ledger_lines, style, verdicts
from pairing.compare import compare
from pairing.desk.nearby import Near
from pairing.desk.returns import CardResult
from pairing.ledger import Piece
from pairing.model import Side, Verdict
from pairing.numbers import group_sizes, is_number

WORDS = {
    Verdict.AGREES: "In order",
    Verdict.DIFFERS: "Not in order",
    Verdict.UNREAD: "Look again",
}
"""What the clerk is told about a returned card."""


def block(result: CardResult) -> Iterator[str]:
    """The whole answer for one card, line by line."""
    name = ledger_lines.number(result.card) if result.card else "Card without its own number"
    word = style.emphasized(WORDS[result.verdict], style.TONES[result.verdict])
    yield f"{name}  {word}  ({result.verdict.value})"
    if result.piece is not None:
        yield from _mailing(result, result.piece)
        yield from _numbers(result, result.piece)
    elif result.written:
        yield style.paragraph(ledger_lines.number(result.written), head="box")
    if result.is_signed is False:
        yield style.paragraph("no", head="signed")
    if result.signed:
        yield style.paragraph(_signed(result), head="signed")
    for finding in result.findings:
        yield style.finding_line(finding)
    for piece in result.elsewhere:
        yield style.paragraph(
            f"The article in the box is that of {piece.name}, whose card is "
            f"{ledger_lines.number(piece.card)}.",
            head="hint",
        )
    for hint in result.hints:
        yield from _hint(hint)
    if result.outcome is None:
        yield style.paragraph("Nothing was recorded.", head="ledger")
    else:
        yield style.paragraph(f"entry {result.outcome.entry.sequence}", head="ledger")


def _mailing(result: CardResult, piece: Piece) -> Iterator[str]:
    first = piece.first
    days = result.days or 0
    ago = f"{days} day{'' if days == 1 else 's'} ago"
    yield style.paragraph(
        f"entry {piece.sequence} of {ledger_lines.day(first.when)}, {ago}, "
        f"by {first.operator or 'nobody named'} at {first.desk or 'no desk'}",
        head="mailing",
    )


def _numbers(result: CardResult, piece: Piece) -> Iterator[str]:
    if result.written is None:
        # Whoever reads the box next must not have the label's number before their eyes.
        yield style.paragraph("in the ledger; shown once the box is read", head="label")
        yield style.paragraph("not read", head="box")
        return
    if piece.article and result.written != piece.article:
        sizes = group_sizes(piece.article)
        found = compare(
            piece.article,
            result.written,
            group_sizes=sizes,
            is_valid=is_number,
            card=result.card,
            others=[one.article for one in result.elsewhere if one.article],
        )
        label, box, *marks = verdicts.aligned(found, sizes, ("label", "box"))
        yield from (label, f"{box}   ({_how(result)})", *marks)
        yield style.paragraph(found.message, head="differs")
        return
    yield style.paragraph(ledger_lines.number(piece.article), head="label")
    yield style.paragraph(f"{ledger_lines.number(result.written)}   ({_how(result)})", head="box")


def _how(result: CardResult) -> str:
    """By what the box was read."""
    readings = result.outcome.entry.readings if result.outcome else ()
    ways = dict.fromkeys(one.how.value for one in readings if one.side is Side.BOX)
    return " and ".join(ways)


def _signed(result: CardResult) -> str:
    days = result.days_to_signature
    if days is None or days < 0:
        return f"{result.signed}"
    return f"{result.signed}, {days} day{'' if days == 1 else 's'} after it was sealed"


def _hint(hint: Near) -> Iterator[str]:
    found = hint.comparison
    slip = found.error.value if found.error else "the same"
    yield style.paragraph(
        f"The ledger has a card whose number is one slip away ({slip}, {found.place}): that of "
        f"{hint.piece.name}. Look at the card again; nothing was assumed.",
        head="hint",
    )
    yield from verdicts.aligned(found, group_sizes(hint.number), ("known", "read"))
