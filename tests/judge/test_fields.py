"""What the fields of a card come to. That return address and article number have to be on the
card before it is attached, and services marked: Guide to Firm Mailers printed with PS Form 3877
(6/2011), as quoted in ../shared/forms.md. What a mark in two boxes means nobody says: it is
asked about."""

from __future__ import annotations

import pytest

from pairing.findings import Code, Weight
from pairing.judge.fields import (
    SETTABLE,
    SOLID,
    FieldSeen,
    Mark,
    State,
    before_mailing,
    is_name,
    on_return,
    together,
)


def seen(name: str, state: State, share: float = 0.2, **more: object) -> FieldSeen:
    return FieldSeen(name=name, state=state, share=share, **more)  # type: ignore[arg-type]


FILLED, EMPTY, UNTOLD = State.FILLED, State.EMPTY, State.UNTOLD


def services(*states: State, **shares: float) -> list[FieldSeen]:
    names = ("service A", "service B", "service C")
    return [
        seen(name, state, shares.get(name[-1], 0.3))
        for name, state in zip(names, states, strict=False)
    ]


@pytest.mark.parametrize(
    ("fields", "codes"),
    [
        ([], []),
        ([seen("sender", FILLED), seen("addressee", FILLED)], []),
        ([seen("sender", EMPTY), seen("addressee", FILLED)], ["sender-empty"]),
        ([seen("sender", UNTOLD), seen("addressee", EMPTY)], ["addressee-empty"]),
        # A card that goes out is not signed yet.
        ([seen("signature", EMPTY), seen("date", EMPTY)], []),
        (services(FILLED, EMPTY, EMPTY), []),
        (services(EMPTY, EMPTY, EMPTY), ["service-unmarked"]),
        (services(EMPTY, UNTOLD, EMPTY), []),  # the mark may be there
        (services(FILLED, EMPTY, FILLED), ["service-two"]),
        (services(FILLED, FILLED, EMPTY, A=0.95), ["service-corrected"]),
        (services(FILLED, FILLED, EMPTY, A=0.95, B=0.95), ["service-two"]),
        (services(FILLED, FILLED, FILLED, A=0.95, B=0.95), ["service-corrected"]),
        (services(FILLED, FILLED, FILLED, A=0.95), ["service-two"]),
        (services(FILLED, FILLED, EMPTY, A=SOLID), ["service-corrected"]),
        (services(FILLED, EMPTY, EMPTY, A=0.95), []),  # a box may be filled in
        (
            [seen("service A", FILLED, mark=Mark.BETWEEN), seen("service B", FILLED)],
            ["service-between"],
        ),
    ],
)
def test_before_mailing(fields: list[FieldSeen], codes: list[str]) -> None:
    found = before_mailing(fields)
    assert [one.code for one in found] == codes
    assert all(one.weight is Weight.DOUBT for one in found)  # the safe default


@pytest.mark.parametrize("code", SETTABLE)
def test_an_office_may_have_them_as_notes(code: Code) -> None:
    fields = [
        seen("sender", EMPTY, only_notes=(str(code),)),
        seen("addressee", EMPTY),
        *services(EMPTY, EMPTY),
    ]
    weights = {one.code: one.weight for one in before_mailing(fields)}
    for found, weight in weights.items():
        assert weight is (Weight.NOTE if found == code else Weight.DOUBT)


@pytest.mark.parametrize(
    ("fields", "is_signed", "is_dated", "codes"),
    [
        ([], None, None, []),
        ([seen("signature", FILLED), seen("date", EMPTY)], True, False, []),
        ([seen("signature", EMPTY), seen("date", UNTOLD)], False, None, []),
        ([seen("signature", EMPTY, mark=Mark.OUTSIDE)], None, None, ["signature-outside"]),
    ],
)
def test_on_return(
    fields: list[FieldSeen], is_signed: bool | None, is_dated: bool | None, codes: list[str]
) -> None:
    signed, dated, found = on_return(fields)
    assert (signed, dated) == (is_signed, is_dated)
    assert [one.code for one in found] == codes


def test_a_signature_beside_its_field_counts_where_the_office_has_it_as_a_note() -> None:
    beside = seen("signature", EMPTY, mark=Mark.OUTSIDE, only_notes=("signature-outside",))
    signed, _, found = on_return([beside])
    assert signed is True
    assert [(one.code, one.weight) for one in found] == [("signature-outside", Weight.NOTE)]
    *_, (asked,) = on_return([seen("signature", EMPTY, mark=Mark.OUTSIDE)])
    assert asked.weight is Weight.DOUBT


def test_what_one_photo_shows_another_need_not() -> None:
    fields = together([seen("date", UNTOLD), seen("date", FILLED), seen("date", EMPTY)])
    assert [one.state for one in fields] == [FILLED]
    assert [one.state for one in together([seen("date", UNTOLD), seen("date", EMPTY)])] == [EMPTY]


def test_of_two_photos_that_say_the_same_the_first_is_kept_and_of_two_the_one_with_a_mark() -> None:
    assert [one.state for one in together([seen("date", EMPTY), seen("date", FILLED)])] == [FILLED]
    first, second = seen("date", FILLED, 0.2), seen("date", FILLED, 0.3)
    assert together([first, second]) == (first,)
    marked = seen("date", EMPTY, mark=Mark.OUTSIDE)
    assert together([seen("date", EMPTY), marked, seen("date", EMPTY)]) == (marked,)


def test_names() -> None:
    assert all(is_name(name) for name in ("sender", "signature", "service Certified"))
    assert not any(is_name(name) for name in ("", "service", "service ", "services", "stamp"))
