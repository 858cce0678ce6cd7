"""What a person keyed of a box that the program did not read: judged as keyed, named so, and kept
by what it was keyed on.

Published check values (tests/facts/vectors.csv) and invented serials; the pairing is invented.
"""

from __future__ import annotations

from pathlib import Path

import msgspec
import pytest

from pairing.audit.reports import sheet_words
from pairing.audit.run import review
from pairing.audit.run.codec import encoded
from pairing.audit.run.judging import JudgingTask, RowContext, judged
from pairing.audit.run.photo_line import PhotoLine
from pairing.audit.run.review import Decision, Decisions, Keyed
from pairing.audit.run.rows import Row
from pairing.audit.statistics.summary import Summary
from pairing.ledger import Kind, Ledger, Via
from pairing.model import How, Quad, Reading, Side, Verdict
from pairing.numbers import identify
from pairing.pieces.photo_groups import Photo
from pairing.pieces.reading import FrameReadings, PhotoReadings
from tests.audit.making import label

ARTICLE, CARD = label(7), label(7, "95909402587")


def line(name: str, side: Side, text: str) -> PhotoLine:
    """A photo on which one symbol was read."""
    place = Quad(top_left=(0, 0), top_right=(500, 0), bottom_right=(500, 9), bottom_left=(0, 9))
    reading = Reading(side=side, how=How.BARCODE, number=identify(text), source=name, quad=place)
    frame = FrameReadings(page=1, readings=(reading,), found=())
    photo = Photo(path=Path(name), shows=None)
    read = PhotoReadings(photo=photo, frames=(frame,), missing=())
    return PhotoLine(
        photo=name, size=1, stamp="", shows="", sha256=f"{len(name):064}", reading=encoded(read)
    )


LINES = (line("7-label.jpg", Side.LABEL, ARTICLE), line("7-card-x.jpg", Side.CARD, CARD))


def row_of(keyed: Keyed | None = None, context: RowContext | None = None) -> Row:
    task = JudgingTask(
        name="7", is_declared=True, lines=LINES, context=context or RowContext(), keyed=keyed
    )
    return judged(task, Path())


def keyed(text: str, seen: str = "") -> Keyed:
    return Keyed(text=text, by="ab", at="2026-11-27T10:00:00Z", seen=seen or row_of().in_short)


WRONG = f"{ARTICLE[:12]}{(int(ARTICLE[12]) + 1) % 10}{ARTICLE[13:]}"


@pytest.mark.parametrize(
    ("text", "verdict"),
    [
        (ARTICLE, Verdict.AGREES),
        (" ".join((ARTICLE[:4], ARTICLE[4:8], ARTICLE[8:])), Verdict.AGREES),
        (WRONG, Verdict.DIFFERS),
        (ARTICLE[:-1], Verdict.DIFFERS),
        (CARD, Verdict.DIFFERS),
        (f"{ARTICLE[:12]}?{ARTICLE[13:]}", Verdict.UNREAD),
        ("", Verdict.UNREAD),
    ],
)
def test_it_is_judged_as_keyed(text: str, verdict: Verdict) -> None:
    before = row_of()
    assert (before.verdict, before.may_be_keyed) == (Verdict.UNREAD, True)
    after = row_of(keyed(text))
    assert after.verdict is verdict
    assert after.keyed is not None
    assert after.keyed.by == "ab"
    if verdict is Verdict.AGREES:
        assert after.written_by is How.KEYED


def test_it_holds_for_what_was_shown_and_nothing_else() -> None:
    """Another label, or a box that was read since: what was keyed before says nothing."""
    assert row_of(keyed(ARTICLE, seen="unread 1 2 -")).keyed is None
    apart = RowContext(is_apart=True)
    assert row_of(keyed(ARTICLE), apart).keyed is None  # nothing says that they belong together


def said(decision: str, **more: object) -> Decision:
    hashes = tuple(one.sha256 for one in LINES)
    return msgspec.convert(
        {"piece": "7", "photos": hashes, "decision": decision, **more}, Decision, strict=False
    )


def test_a_later_decision_stands_beside_it_and_withdrawing_takes_it_back() -> None:
    hashes = tuple(one.sha256 for one in LINES)
    first = msgspec.to_builtins(keyed(WRONG))
    kept = Decisions.of([said("keyed", seen=row_of().in_short, at="1", keyed=first)])
    found = kept.keyed("7", hashes)
    assert found is not None
    assert kept.keyed("7", ("other",)) is None
    after = row_of(found)
    assert kept.is_about(after)
    assert kept.about(after) is None  # it is no review
    kept.merge(Decisions.of([said("confirmed", seen=after.in_short, at="2")]))
    assert kept.keyed("7", hashes) == found
    assert getattr(kept.about(after), "decision", "") == "confirmed"
    kept.merge(Decisions.of([said("withdrawn", seen=after.in_short, at="3")]))
    assert kept.keyed("7", hashes) is None


def test_it_is_named_in_rows_summary_and_sheet(tmp_path: Path) -> None:
    after = row_of(keyed(ARTICLE))
    assert msgspec.json.decode(msgspec.json.encode(after), type=Row) == after
    counted = Summary()
    counted.add(after)
    assert (counted.keyed, counted.by_means["keyed"]) == (1, 1)
    assert "keyed by ab on 2026-11-27" in "".join(sheet_words.keyed(after))
    with Ledger.open(str(tmp_path / "ledger.db")) as ledger:
        assert review.record(after, ledger, desk="audit", operator="z")
        assert not review.record(row_of(), ledger, desk="audit", operator="z")
        (entry,) = ledger.entries(kinds=(Kind.NOTE,))
    assert entry.operator == "ab"
    assert "keyed by a person who saw no label" in entry.remark
    assert {one.via for one in entry.readings if one.side is Side.BOX} == {Via.KEYED}
