"""How a piece looks at the counter: a stub, with what it is about to the left of the line.

On a terminal the verdict is in letters three lines high; it is in words everywhere.
Emphasis is bold, reverse and underline alone.
"""

from __future__ import annotations

import sys
import textwrap
from collections.abc import Iterable, Sequence

from counterfoil.letters import large
from counterfoil.view import style, verdicts
from pairing.desk.answers import Advice, Finished
from pairing.desk.days import DayCount
from pairing.findings import Code, Finding, Weight
from pairing.model import How

_HEAD = 10
_EDGE, _EDGE_ASCII = "¦", ":"

_TONES = {
    Advice.SEAL: style.Tone.GOOD,
    Advice.CORRECTED: style.Tone.GOOD,
    Advice.DO_NOT_SEAL: style.Tone.STOP,
    Advice.SCAN_AGAIN: style.Tone.LOOK,
    Advice.ASK: style.Tone.LOOK,
    Advice.DONE_ALREADY: style.Tone.GOOD,
    Advice.NOT_RECORDED: style.Tone.STOP,
}

_SENTENCES = {
    Advice.SEAL: "Seal. Label and box agree, and it is recorded.",
    Advice.DO_NOT_SEAL: "Do not seal.",
    Advice.SCAN_AGAIN: "Scan again. Something on this piece was not read.",
    Advice.ASK: "Ask before this piece goes on. Everything was read, and somebody has to decide.",
    Advice.DONE_ALREADY: "Done already. This piece is sealed, and nothing is left to do with it.",
    Advice.NOT_RECORDED: "Not recorded. Keep the piece open.",
}


_NEXT = {
    Advice.DO_NOT_SEAL: "Set the piece aside and type aside. Once its card is put right, scan it "
    "from the start. If you mistyped the box, type again, and scan it from the start.",
    Advice.SCAN_AGAIN: "Scan this piece from the start; where the line below says stopped, type "
    "again first. If it cannot be read, set it aside.",
    Advice.ASK: "Type aside, set the piece aside, and ask who may decide.",
    Advice.DONE_ALREADY: "Put it with the sealed mail, and scan another piece.",
}
"""What the clerk does now, at a terminal."""

_NEXT_SCANNED = (
    "Set the piece aside and type aside. Once its card is put right, scan it from the start. If "
    "what was scanned is not the strip in its box, type again, and scan it from the start."
)
_NEXT_UNLISTED = (
    "If it belongs on no list, a walk-in piece for example, type unlisted. Otherwise type aside, "
    "set the piece aside, and ask."
)


def piece(finished: Finished, *, is_large: bool) -> str:
    """The whole answer for one piece, several lines."""
    rows = [("", "")]
    heads = _stub(finished)
    if is_large:
        art = large(finished.advice, fancy=is_fancy(), width=style.width() - _HEAD - 3)
        art = [_styled(finished.advice, line) for line in art]
        rows += zip([*heads, "", ""], art, strict=False)
        heads = []
    rows.append((heads[0] if heads else "", _sentence(finished)))
    rows += verdicts.number_rows(finished.judgment)
    for finding in _worth_saying(finished.judgment.findings):
        rows += _wrapped(style.HEADS[finding.weight], _sentences(finding))
    if is_large and finished.advice in _NEXT:
        rows += _wrapped("next", _next_step(finished))
    if finished.corrects and finished.advice not in (Advice.SEAL, Advice.CORRECTED):
        rows.append(("", f"Entry {finished.corrects} stays as it was."))
    if finished.trouble:
        rows += _wrapped("ledger", finished.trouble)
        rows.append(("", "retry offers it again; so does scanning it again."))
    return "\n".join(row(head, text) for head, text in rows)


def lines(texts: Iterable[str]) -> str:
    """A line for each text, none of them wrapped."""
    return "\n".join(row("", f"  {text}") for text in texts)


def _next_step(finished: Finished) -> str:
    codes = {one.code for one in finished.judgment.findings}
    is_unlisted = finished.advice is Advice.ASK and Code.NOT_EXPECTED in codes
    if is_unlisted:
        return _NEXT_UNLISTED
    is_scanned = finished.judgment.written_by is How.BARCODE
    is_stop = finished.advice is Advice.DO_NOT_SEAL
    return _NEXT_SCANNED if is_scanned and is_stop else _NEXT[finished.advice]


def row(head: str, text: str) -> str:
    """One line of a stub."""
    edge = _EDGE if is_fancy() else _EDGE_ASCII
    return f"{head:>{_HEAD}} {edge} {text}".rstrip()


def wrapped(text: str, *, head: str = "") -> str:
    """Wrapped text to the right of the line."""
    return "\n".join(row(*one) for one in _wrapped(head, text))


def count(day: DayCount) -> str:
    """The day's count in one sentence."""
    return (
        f"Today: {day.sealed} sealed, {day.here} of them at this desk; "
        f"{day.voided} voided; stopped: {day.differs} differed, {day.unread} unread."
    )


def is_fancy() -> bool:
    """Whether the output takes more than ASCII."""
    encoding = (getattr(sys.stdout, "encoding", None) or "ascii").lower()
    return encoding.replace("-", "").startswith("utf")


def _stub(finished: Finished) -> list[str]:
    entry = finished.entry
    if entry is None:
        return ["no entry", ""]
    return [f"entry {entry.sequence}", f"{entry.when.astimezone():%H:%M}"]


def _sentence(finished: Finished) -> str:
    if finished.advice is Advice.CORRECTED:
        return f"Corrected. Entry {finished.corrects} has these numbers now."
    return _SENTENCES[finished.advice]


def _styled(advice: Advice, text: str) -> str:
    return style.emphasized(text, _TONES[advice])


_NOTES = frozenset(
    (
        "card-by-list", "card-keyed", "card-numberless", "card-reused", "card-stopped-before",
        "card-void-before", "clock-set-back", "label-keyed", "label-reused",
        "label-stopped-before", "label-void-before", "piece-kind-odd", "read-anew", "rule-unchosen",
    )
)  # fmt: skip
"""The notes that a clerk is told; the others are in the record."""


def _worth_saying(findings: Sequence[Finding]) -> list[Finding]:
    """What a clerk is told: without remarks on how a number is made, and without what was not
    read where the piece was cut short by another one."""
    is_cut_short = any(finding.code.startswith("second-") for finding in findings)
    return [
        one
        for one in findings
        if (one.weight is not Weight.NOTE or one.code in _NOTES)
        and not (is_cut_short and one.code.endswith("-unread"))
    ]


def _sentences(finding: Finding) -> str:
    return f"{finding.message} {finding.action}".strip()


def _wrapped(head: str, text: str) -> list[tuple[str, str]]:
    lines = textwrap.wrap(style.plain(text), width=style.width() - _HEAD - 4) or [""]
    return [(head if place == 0 else "", line) for place, line in enumerate(lines)]
