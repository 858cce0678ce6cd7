"""Values as the JSON that pages and other software get. The piece's shape is the command
line's (`pairing.pieces.report.schema`)."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import msgspec

from pairing.compare import compare
from pairing.desk.answers import Advice, Answer, Finished
from pairing.desk.arrivals import Heard
from pairing.desk.phrases import worded
from pairing.findings import Finding
from pairing.judge.fields import FieldSeen
from pairing.kiosk import messages
from pairing.ledger import Entry
from pairing.model import Judgment, Quad, Reading, Side, TrackingNumber
from pairing.numbers import group_sizes, is_number, printed
from pairing.pieces import office_rules

ADVICE = {
    Advice.SEAL: "seal",
    Advice.CORRECTED: "look",
    Advice.DO_NOT_SEAL: "stop",
    Advice.SCAN_AGAIN: "look",
    Advice.ASK: "ask",
    Advice.DONE_ALREADY: "done",
    Advice.NOT_RECORDED: "lost",
}
"""The page's name for each advice. A correction is no kiosk's business: it says no "Seal"."""

_SIDES = (Side.LABEL, Side.CARD, Side.BOX)


def piece(judgment: Judgment, *, photos: Sequence[str] = ()) -> dict[str, Any]:
    """A judged piece in the command line's shape."""
    return {
        "photos": list(photos),
        "article": judgment.article,
        "card": judgment.card,
        "written": judgment.written,
        "written_by": judgment.written_by.value if judgment.written_by else None,
        "verdict": judgment.verdict.value,
        "findings": [finding(one) for one in judgment.findings],
    }


def finding(one: Finding) -> dict[str, Any]:
    """A finding in the command line's shape."""
    return {"code": one.code, "message": one.message, "positions": list(one.positions)}


def answer(given: Answer, *, strip_next: bool) -> dict[str, Any]:
    """What came of an entry, for the kiosk's page. No digit of a label whose box is not read
    stands in it."""
    return {
        "missing": [side.value for side in given.missing],
        "strip_next": strip_next,
        "is_stopped": given.is_stopped,
        "heard": [_heard(one) for one in given.heard],
        "remarks": _remarks(given),
        "finished": [_finished(one) for one in given.finished],
    }


def entry(one: Entry) -> messages.Entry:
    """An entry of the ledger, for other software."""
    return messages.Entry(
        sequence=one.sequence,
        at=one.at,
        kind=one.kind,
        desk=one.desk,
        operator=one.operator,
        article=one.article,
        card=one.card,
        written=one.written,
        verdict=one.verdict,
    )


def field(one: FieldSeen) -> dict[str, str]:
    """What was seen of one of a card's other fields."""
    return {"name": one.name, "state": one.state.name.lower()}


def outline(reading: Reading) -> dict[str, Any]:
    """Where something was read in a picture, in its pixels; not what."""
    assert reading.quad is not None
    return {"side": reading.side.value, "corners": corners(reading.quad)}


def corners(quad: Quad) -> list[list[float]]:
    """Four corners, px."""
    return [[round(float(x), 1), round(float(y), 1)] for x, y in quad.corners]


def _heard(one: Heard) -> dict[str, Any]:
    return {"side": one.side.value, "how": one.how.value, "counts": one.counts}


def _remarks(given: Answer) -> list[dict[str, str]]:
    found = [
        {"code": str(finding.code), "message": finding.message}
        for one in given.heard
        for finding in one.findings
    ]
    for one in given.heard:
        if one.side is Side.UNPLACED and not one.findings:
            found.append({"code": "other-number", "message": f"Not counted: {one.title}."})
    return found + [{"code": one.code.value, "message": worded(one)} for one in given.remarks]


def _finished(one: Finished) -> dict[str, Any]:
    judgment = one.judgment
    article = None if one.is_blind else judgment.article
    columns, sizes = _columns(article, judgment.written)
    sides = {reading.side for reading in one.readings}
    return {
        "advice": ADVICE[one.advice],
        "verdict": judgment.verdict.value,
        "entry": one.entry.sequence if one.entry else None,
        "at": one.entry.at if one.entry else None,
        "is_repeated": bool(one.outcome and one.outcome.is_repeated),
        "read": [side.value for side in _SIDES if side in sides],
        "article": article,
        "written": judgment.written,
        "written_by": judgment.written_by.value if judgment.written_by else None,
        "columns": columns,
        "group_sizes": sizes,
        "findings": [{**finding(each), "weight": each.weight.value} for each in judgment.findings],
    }


def _columns(label: str | None, box: str | None) -> tuple[list[list[str | None]], list[int]]:
    """Both numbers aligned, [label's character, box's], and the label's printed groups."""
    if not label or not box:
        return [], []
    sizes = group_sizes(label)
    comparison = compare(label, box, group_sizes=sizes, is_valid=is_number)
    return [[column.label, column.box] for column in comparison.columns], list(sizes)


def number(text: str) -> messages.Known:
    """What a number is; nothing yet of what the ledger knows."""
    found = office_rules.identified(text)
    blank = messages.Known(
        given=text,
        is_valid=False,
        number=None,
        printed=printed(found),
        family=None,
        title=None,
        role=None,
        check_rule=None,
        parts=[],
        message="",
        findings=[],
        pieces=[],
        expected=[],
    )
    if not isinstance(found, TrackingNumber):
        return msgspec.structs.replace(blank, family=found.likely or None, message=found.message)
    return msgspec.structs.replace(
        blank,
        is_valid=True,
        number=found.text,
        family=found.family.name,
        title=found.family.title,
        role=found.role.value,
        check_rule=found.check_rule.value,
        parts=[messages.Part(name=part.name, text=part.text) for part in found.parts],
        findings=[
            messages.Finding(code=one.code, message=one.message, positions=list(one.positions))
            for one in found.findings
        ],
    )
