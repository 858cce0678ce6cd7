"""The card's other fields before the kiosk's camera: what is said of each, and what it does to the
verdict. That return address and article number have to be on the card before it is attached:
Guide to Firm Mailers printed with PS Form 3877 (6/2011), as quoted in ../shared/forms.md."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import pytest

from pairing.findings import Code, Weight
from pairing.judge.fields import SETTABLE, FieldSeen, State
from pairing.kiosk import Settings
from pairing.kiosk.camera_box import Frame
from pairing.kiosk.camera_fields import CardFields
from pairing.kiosk.sessions import EntryKind, Sessions
from pairing.ledger import Ledger
from pairing.model import How, Reading, Side
from pairing.numbers import identify
from tests.kiosk.making import CARD, LABEL, pair

FILLED, EMPTY, UNTOLD = State.FILLED, State.EMPTY, State.UNTOLD


def reading(side: Side, text: str) -> Reading:
    return Reading(number=identify(text), side=side, how=How.BARCODE, source="")


LABEL_SEEN, CARD_SEEN = reading(Side.LABEL, LABEL), reading(Side.CARD, CARD)


def frame(*readings: Reading, **fields: State) -> Frame:
    """A picture: numbers, and fields by name."""
    seen = tuple(FieldSeen(name=name, state=state, share=0.1) for name, state in fields.items())
    return Frame(readings=readings, seen=None, digest="0" * 64, fields=seen)


def codes(fields: CardFields) -> list[str]:
    return [one.code for one in fields.found]


def test_all_pictures_of_a_piece_count_together() -> None:
    fields = CardFields()
    fields.add(frame(CARD_SEEN, addressee=UNTOLD), None)
    fields.add(frame(sender=EMPTY), CARD)  # the card's other side: no number is there
    assert [(one.name, one.state) for one in fields.seen] == [
        ("addressee", UNTOLD), ("sender", EMPTY),
    ]  # fmt: skip
    assert codes(fields) == ["sender-empty"]
    fields.add(frame(sender=FILLED), CARD)
    assert codes(fields) == []


def test_another_card_says_nothing_of_this_one() -> None:
    fields = CardFields()
    fields.add(frame(reading(Side.CARD, pair(11)[1]), addressee=FILLED), CARD)
    assert fields.seen == ()


class Place:
    """One open page, its answers without a browser."""

    def __init__(self, sessions: Sessions) -> None:
        self.sessions, self.name, self.count = sessions, sessions.begin(), 0

    def see(self, seen: Frame) -> Any:
        self.count += 1
        return self.sessions.see(self.name, replace(seen, digest=f"{self.count:064}"), self.key)

    def enter(self, kind: EntryKind, text: str = "") -> Any:
        self.count += 1
        return self.sessions.enter(self.name, kind, text, self.key)

    @property
    def key(self) -> str:
        return f"key-of-the-entry-{self.count:06}"


@pytest.fixture
def place(ledger: Ledger) -> Iterator[Place]:
    sessions = Sessions(ledger, Settings())
    yield Place(sessions)
    sessions.close()


def answer(given: Any) -> tuple[str, list[str]]:
    (one,) = given["finished"]
    return one["advice"], [found["code"] for found in one["findings"]]


def test_each_field_is_told_and_a_missing_sender_is_asked_about(place: Place) -> None:
    place.see(frame(LABEL_SEEN))
    place.see(frame(CARD_SEEN, addressee=FILLED, signature=EMPTY))
    given = place.see(frame(sender=EMPTY, date=UNTOLD))
    assert given["fields"] == [
        {"name": "addressee", "state": "filled"}, {"name": "signature", "state": "empty"},
        {"name": "sender", "state": "empty"}, {"name": "date", "state": "untold"},
    ]  # fmt: skip
    advice, found = answer(place.enter(EntryKind.BOX, LABEL))
    assert (advice, "sender-empty" in found) == ("look", True)
    # Started over, the same piece may be shown again; what was seen of its card counts no more.
    place.enter(EntryKind.AGAIN)
    given = place.see(frame(LABEL_SEEN, CARD_SEEN, sender=FILLED))
    assert given["missing"] == ["box"]
    advice, found = answer(place.enter(EntryKind.BOX, LABEL))
    assert (advice, "sender-empty" in found) == ("seal", False)


def test_what_was_filled_in_before_the_camera_is_no_doubt(place: Place) -> None:
    place.see(frame(LABEL_SEEN, CARD_SEEN, addressee=EMPTY))
    place.see(frame(CARD_SEEN, addressee=FILLED))
    assert answer(place.enter(EntryKind.BOX, LABEL))[0] == "seal"


def test_a_stopped_piece_that_still_lies_there_is_not_begun_again(place: Place) -> None:
    place.see(frame(LABEL_SEEN, CARD_SEEN, addressee=EMPTY))
    assert answer(place.enter(EntryKind.BOX, LABEL))[0] == "look"
    given = place.see(frame(LABEL_SEEN, CARD_SEEN))
    assert (given["heard"], given["missing"]) == ([], ["label", "card", "box"])


def test_fields_alone_begin_no_piece(place: Place, ledger: Ledger) -> None:
    place.see(frame(sender=EMPTY))
    place.enter(EntryKind.NEXT)
    assert ledger.size() == 0


def test_an_office_may_have_them_as_notes(place: Place) -> None:
    assert Code.ADDRESSEE_EMPTY in SETTABLE
    seen = FieldSeen(
        name="addressee", state=EMPTY, share=0.0, only_notes=(str(Code.ADDRESSEE_EMPTY),)
    )
    place.see(replace(frame(LABEL_SEEN, CARD_SEEN), fields=(seen,)))
    given = place.enter(EntryKind.BOX, LABEL)
    assert answer(given)[0] == "seal"
    weights = {one["code"]: one["weight"] for one in given["finished"][0]["findings"]}
    assert weights["addressee-empty"] == Weight.NOTE.value
