"""A bag of court mail: the cards' numbers follow from the labels', and so name the pairs.

Numbers of the shape that the rule's sources give (pairing/numbers/derived.py), invented.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

import msgspec
import pytest

from pairing.audit.run import lot
from pairing.audit.run.codec import encoded
from pairing.audit.run.job import Job
from pairing.audit.run.photo_line import PhotoLine, reader_signature
from pairing.audit.run.rows import Row, rows_in
from pairing.audit.run.sources import Source, Wanted
from pairing.findings import Code
from pairing.model import How, Quad, Reading, Side
from pairing.numbers.derived import COURT_MAIL_ITALY as RULE
from pairing.photos.pool import Done, Task
from pairing.pieces import office_rules
from pairing.pieces.photo_groups import Photo
from pairing.pieces.reading import FrameReadings, PhotoReadings

LABELS = [f"7612345678{n:02}" for n in range(30)]
HELD = {3: LABELS[4]}
"""The card of label 3 holds the next one's number."""

PLACE = Quad(top_left=(0, 0), top_right=(9, 0), bottom_right=(9, 1), bottom_left=(0, 1))


class Bag(Source):
    """Photos that are nowhere."""

    def photos(self) -> Iterator[Wanted]:
        for n in range(len(LABELS)):
            for side in ("card", "label"):
                yield Wanted(photo=f"{n:02}{side}.jpg", size=1, stamp="1", shows="")


def read(tasks: Iterable[Task[Any, Any]]) -> Iterator[Done[Any, Any]]:
    """Bars on each."""
    for wanted, _, _ in tasks:
        n = int(wanted.photo[:2])
        label = LABELS[n]
        shown = [(Side.LABEL, label)]
        if "card" in wanted.photo:
            shown = [(Side.CARD, RULE.card_text(label)), (Side.BOX, HELD.get(n, label))]
        readings = tuple(
            Reading(
                side=side,
                how=How.BARCODE,
                number=office_rules.identified(text),
                source=wanted.photo,
                quad=Quad(
                    top_left=(0, 0), top_right=(9, 0), bottom_right=(9, 1), bottom_left=(0, 1)
                ),
            )
            for side, text in shown
        )
        frame = FrameReadings(page=1, readings=readings, found=())
        photo = Photo(path=Path(wanted.photo), shows=None)
        whole = PhotoReadings(photo=photo, frames=(frame,), missing=())
        yield (
            wanted,
            PhotoLine(
                **msgspec.structs.asdict(wanted),
                sha256=f"{n:063x}{'card' in wanted.photo:d}",
                reader=reader_signature(),
                reading=encoded(whole),
            ),
        )


def rows(out: Path) -> dict[str | None, Row]:
    lot.run(Job(source=Bag(root="/nowhere"), out=out, is_unsorted=True), engine=read, workers=1)
    return {row.article: row for row in rows_in(out / lot.ROWS)}


def test_cards_whose_numbers_follow_from_their_labels_are_put_with_them(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(office_rules.VARIABLE, RULE.name)
    found = rows(tmp_path / "out")
    assert {label: row.card for label, row in found.items()} == {
        label: RULE.card_text(label) for label in LABELS
    }
    differing = {label for label, row in found.items() if row.verdict == "differs"}
    assert differing == {LABELS[3]}
    assert all(row.verdict == "agrees" for label, row in found.items() if label not in differing)
    assert all(row.has(Code.MATCHED_BY_RECORD) for row in found.values())
    assert "pairing rule" in found[LABELS[0]].findings[0].message
