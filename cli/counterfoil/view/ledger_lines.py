"""How entries and pieces of the ledger look: what happened, when, where, by whom."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date, datetime

from counterfoil.view import style, verdicts
from pairing.desk.daylist import MARK
from pairing.desk.for_whom import SIGNED_BY, Field, addressee
from pairing.findings import Weight
from pairing.ledger import Entry, Hit, Kind, Observed, Piece, State, Via
from pairing.model import Side
from pairing.numbers import printed

_HAPPENED = {
    Kind.PAIRED: "sealed",
    Kind.STOPPED: "stopped",
    Kind.RETURNED: "card came back",
    Kind.VOIDED: "voided",
    Kind.CORRECTED: "corrected",
    Kind.EXPECTED: "expected",
    Kind.NOTE: "note",
}

_REMARKS = {
    Kind.VOIDED: "why",
    Kind.RETURNED: "signed",
    Kind.EXPECTED: "list",
}

STATES = {State.OPEN: "sealed", State.RETURNED: "returned", State.VOID: "voided"}
"""What a piece's state is called where people read it; what is stored says `open` and `void`."""

_STATE_SENTENCES = {
    State.OPEN: "sealed: its card has not come back",
    State.RETURNED: "returned: its card came back",
    State.VOID: "voided",
}


def moment(when: datetime) -> str:
    """`2026-11-25 16:04:12 -08:00`, in this machine's time zone."""
    local = when.astimezone()
    offset = f"{local:%z}"
    return f"{local:%Y-%m-%d %H:%M:%S} {offset[:3]}:{offset[3:]}"


def day(when: datetime) -> date:
    """The day of a moment, in this machine's time zone."""
    return when.astimezone().date()


def number(text: str | None) -> str:
    """A number in its printed groups, a word as it is; `none` where there is none."""
    if not text:
        return "none"
    return style.plain(printed(text) if verdicts.is_number_like(text) else text)


def piece_line(piece: Piece) -> str:
    """One line for a piece."""
    first = piece.first
    return (
        f"{piece.sequence:>7}  {first.when.astimezone():%Y-%m-%d %H:%M}  "
        f"{STATES[piece.state]:<8}  {number(piece.article):<28}  card {number(piece.card):<28}  "
        f"{style.plain(first.desk)}{_contradicted(piece)}"
    ).rstrip()


def hit_line(hit: Hit) -> str:
    """When it was recorded and where."""
    said = f"{'sealed' if hit.piece else hit.state} {day(hit.entry.when)}"
    if hit.piece:
        sentence = _STATE_SENTENCES[hit.piece.state]
        said += f", {sentence.partition(': ')[2] or sentence}"
    return style.paragraph(said, head=f"entry {hit.entry.sequence}")


def about_lines(about: Mapping[str, str]) -> Iterator[str]:
    """For whom and why a piece is, as far as it is kept."""
    others = (Field.PIECE, Field.REFERENCE, Field.SERVICE, Field.FEE, SIGNED_BY)
    whom = addressee({name: value for name, value in about.items() if name not in others})
    parts = [f"{name} {about[name]}" for name in others if about.get(name)]
    if whom or parts:
        yield style.paragraph("; ".join([whom, *parts] if whom else parts), head="for")


def _contradicted(piece: Piece) -> str:
    if piece.contradicted is None:
        return ""
    return f"  DIFFERS by entry {piece.contradicted.sequence}"


def entry_line(entry: Entry) -> str:
    """One line for an entry."""
    numbers = [number(entry.article)] if entry.article else []
    numbers += [f"card {number(entry.card)}"] if entry.card else []
    numbers += [f"of entry {entry.refers}"] if entry.refers else []
    return (
        f"{entry.sequence:>7}  {entry.when.astimezone():%Y-%m-%d %H:%M}  "
        f"{_happened(entry):<23}  {'  '.join(numbers) or _remark(entry)[:60]}  "
        f"({style.plain(entry.desk)}, {style.plain(entry.operator)})"
    )


def stop_line(entry: Entry) -> str:
    """A stopped piece in a few lines, the last with what stopped it."""
    wrong = [one for one in entry.findings if one.weight is not Weight.NOTE]
    why = next((one.message for one in wrong if one.weight is Weight.CLASH), None)
    why = why or (wrong[0].message if wrong else "Not everything was read.")
    # The box is still to be read by somebody who has not seen the label's number.
    is_blind = entry.written is None and entry.article is not None
    label = "read; shown once the box is" if is_blind else number(entry.article)
    return "\n".join(
        (
            f"{entry.sequence:>7}  {entry.when.astimezone():%Y-%m-%d %H:%M}  "
            f"({style.plain(entry.desk)}, {style.plain(entry.operator)})",
            style.paragraph(label, head="label"),
            style.paragraph(number(entry.card), head="card"),
            style.paragraph(why, head="why"),
        )
    )


def piece_block(piece: Piece) -> str:
    """A piece as it is now, some lines."""
    lines = [
        style.paragraph(f"entry {piece.sequence} of {moment(piece.first.when)}", head="piece"),
        style.paragraph(_STATE_SENTENCES[piece.state], head="state"),
        style.paragraph(number(piece.article), head="label"),
        style.paragraph(number(piece.card), head="card"),
    ]
    lines += [
        style.paragraph(f"{day(one.when)} (entry {one.sequence})", head="back on")
        for one in piece.returns
    ]
    if (later := piece.contradicted) is not None:
        lines.append(
            style.paragraph(
                f"It was read again on {day(later.when)}, and label and box differ (entry "
                f"{later.sequence}). It is not settled: find the piece, then correct or void it.",
                head="stop",
            )
        )
    return "\n".join(lines)


def entry_block(entry: Entry, particulars: Mapping[str, str] | None = None) -> str:
    """Everything that an entry says, some lines."""
    about = f" (entry {entry.refers})" if entry.refers else ""
    lines = [
        f"{moment(entry.when)}  {_happened(entry)}{about}",
        style.paragraph(
            f"{entry.sequence}, by {entry.operator or 'nobody named'} at {entry.desk or 'no desk'}",
            head="entry",
        ),
        *_numbers(entry),
    ]
    if entry.remark:
        lines.append(style.paragraph(_remark(entry), head=_REMARKS.get(entry.kind, "says")))
    for name, value in (particulars or {}).items():
        lines.append(style.paragraph(f"{name}: {value}", head="beside"))
    if entry.commitment and particulars is None:
        lines.append(style.paragraph("Names or addresses belong to this entry.", head="beside"))
    return "\n".join([*lines, *(style.finding_line(one) for one in entry.said)])


def _happened(entry: Entry) -> str:
    """What an entry says happened; for a stop and a return with its verdict."""
    word = _HAPPENED[entry.kind]
    if entry.kind in (Kind.STOPPED, Kind.RETURNED) and entry.verdict is not None:
        return f"{word}: {entry.verdict.value}"
    return word


def _numbers(entry: Entry) -> Iterator[str]:
    """Each side as it was read; a number that no reading gave is shown by itself."""
    read = {side: [one for one in entry.readings if one.side is side] for side in Side}
    for side, text in (
        (Side.LABEL, entry.article),
        (Side.BOX, entry.written),
        (Side.CARD, entry.card),
    ):
        for one in read[side]:
            yield style.paragraph(f"{number(one.text)}   ({_how(one)})", head=side.value)
        if text is not None and text not in {one.text for one in read[side]}:
            yield style.paragraph(number(text), head=side.value)
    for one in read[Side.UNPLACED]:
        yield style.paragraph(f"{number(one.text)}   ({_how(one)})", head="unplaced")


def _how(one: Observed) -> str:
    if one.via is Via.KEYED:
        return "keyed by a person"
    photo = f", photo {one.photo_sha256[:12]}" if one.photo_sha256 else ""
    return f"{one.how.value}{photo}"


def _remark(entry: Entry) -> str:
    """The remark for people; a day list's has the list's rows in it."""
    if entry.remark.startswith(MARK):
        return entry.remark.partition("\n")[0]
    return entry.remark
