"""Who may be believed: two independent witnesses and no objection."""

from __future__ import annotations

import pytest

from pairing.findings import Weight
from pairing.model import GS
from pairing.photos.barcodes import votes
from pairing.photos.barcodes.quads import quad_of
from pairing.photos.barcodes.votes import LOWER, UPPER, WHOLE, Vote, outcome

PLACE = quad_of([(0, 0), (100, 0), (100, 20), (0, 20)])


def vote(
    engine: str, text: str, *, aim: str = "]C0", band: str = WHOLE, kind: str = "Code 128"
) -> Vote:
    return Vote(engine=engine, band=band, text=text, aim=aim, kind=kind, quad=PLACE)


def test_two_engines_are_two_witnesses() -> None:
    both = [vote("zxing-cpp", "123456"), vote("zbar", "123456", aim="")]
    assert len(outcome(both).accepted) == 2


def test_one_engine_twice_is_one_witness() -> None:
    result = outcome([vote("zxing-cpp", "123456"), vote("zxing-cpp", "123456")])
    assert result.accepted == ()
    assert result.finding is not None
    assert (result.finding.code, result.finding.weight) == ("one-witness", Weight.DOUBT)


def test_two_disjoint_bands_are_two_witnesses() -> None:
    bands = [vote("profile", "123456", band=band) for band in (WHOLE, UPPER, LOWER)]
    assert len(outcome(bands).accepted) == 3
    assert outcome(bands[:2]).accepted == ()


# The last digits: IBM/AFP "Bar Code Object Content Architecture Reference" (9 is right).
@pytest.mark.parametrize(
    ("text", "is_believed"),
    [("9374890100000003985039", True), ("9374890100000003985038", False), ("9374890", True)],
)
def test_one_engine_on_bands_must_pass_a_claimed_check_digit(text: str, is_believed: bool) -> None:
    bands = [vote("profile", text, band=band) for band in (UPPER, LOWER)]
    assert bool(outcome(bands).accepted) is is_believed


def test_an_objection_stands_against_any_number() -> None:
    said = [
        vote("zxing-cpp", "123456"),
        vote("zbar", "123456", aim=""),
        vote("profile", "123457", band=UPPER),
    ]
    result = outcome(said)
    assert result.accepted == ()
    assert result.finding is not None
    assert "'123456'" in result.finding.message
    assert "'123457'" in result.finding.message


def test_gs1_and_plain_are_not_the_same_symbol() -> None:
    said = [vote("zxing-cpp", "123456", aim="]C1"), vote("profile", "123456", aim="]C0")]
    assert outcome(said).finding is not None


def test_zbar_may_leave_high_bits_out() -> None:
    # Measured with libzbar 0.23.92 on zxing's blackbox image code128-1/6.
    said = [vote("zbar", "ssss1234", aim=""), vote("zxing-cpp", "óóóó1234")]
    accepted = outcome(said).accepted
    assert len(accepted) == 2
    assert votes.best_placed(accepted).text == "óóóó1234"


@pytest.mark.parametrize(
    ("text", "claims", "passes"),
    [
        # github jkeen/tracking_number_data: valid numbers, and 71... with AI 91 in front.
        ("9400111201080805483016", True, True),
        ("71123456789123456787", True, True),
        ("71969010756003077385", True, True),
        ("71123456789123456780", True, False),
        (f"42012345{GS}9374890100000003985039", True, True),
        ("420123459374890100000003985039", True, True),
        ("0001285112001000040801", False, False),
        ("005-3379497200006", False, False),
    ],
)
def test_mod10_claims(text: str, claims: bool, passes: bool) -> None:
    assert votes.claims_mod10(text) is claims
    if claims:
        assert votes.passes_mod10(text) is passes
