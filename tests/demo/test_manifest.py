"""The shipped set's manifest is complete, and each row is what it claims to be."""

from __future__ import annotations

import csv
from itertools import pairwise
from pathlib import Path

import pytest
from stdnum import ean

from pairing.csv_tables import SAMPLES
from pairing.demo import MANIFEST, PIECES, Row
from pairing.demo.manifest import row_of
from pairing.demo.paper import grouped
from pairing.demo.scenario import CardDesign

SCANS = Path(__file__).parents[2] / "sample_scans"
VECTORS = Path(__file__).parents[3] / "shared" / "vectors.csv"
ROWS = {piece.name: row_of(piece) for piece in PIECES}


def is_valid_s10(number: str) -> bool:
    """UPU S10 check digit; the test below holds it against published examples."""
    total = sum(int(d) * w for d, w in zip(number[2:10], (8, 6, 4, 2, 3, 5, 9, 7), strict=True))
    check = 11 - total % 11
    return number[10] == str({10: 0, 11: 5}.get(check, check))


def is_valid(number: str) -> bool:
    """Check digit by python-stdnum (mod 10, weights 3 and 1), S10 by the rule above."""
    if number[:1].isalpha():
        return is_valid_s10(number)
    return ean.calc_check_digit(number[:-1]) == number[-1]


def test_s10_rule_against_published_examples() -> None:
    # 47312482 -> 9: UPU S10's worked example; EE876543216CA: S10-12 annex A.
    assert is_valid_s10("RR473124829US")
    assert is_valid_s10("EE876543216CA")
    assert not is_valid_s10("EE876543215CA")


def test_manifest_says_what_the_scenario_says() -> None:
    with (SCANS / MANIFEST).open(encoding="utf-8", newline="") as lines:
        cells = list(csv.reader(lines))
    assert tuple(cells[0]) == SAMPLES
    assert len(cells) - 1 == len(PIECES) >= 24
    for line, row in zip(cells[1:], ROWS.values(), strict=True):
        told = dict(zip(SAMPLES, line, strict=True))
        for column in SAMPLES:
            meant = getattr(row, column)
            text = ";".join(meant) if isinstance(meant, tuple) else str(meant)
            assert told[column] == text, (row.piece, column)


def test_every_photo_is_there_and_none_besides() -> None:
    named = [photo for row in ROWS.values() for photo in row.photos]
    found = sorted(path.name for path in SCANS.glob("*.jpg"))
    assert sorted(named) == found
    assert len(set(named)) == len(named)
    sizes = [(SCANS / name).stat().st_size for name in named]
    assert min(sizes) > 30_000
    assert sum(path.stat().st_size for path in SCANS.iterdir()) < 12_000_000


@pytest.mark.parametrize("row", ROWS.values(), ids=ROWS)
def test_numbers_are_valid_and_of_their_families(row: Row) -> None:
    assert is_valid(row.article)
    if row.article.startswith("RR"):
        assert row.card == ""
        assert len(row.article) == 13
    else:
        assert row.card.startswith("959094")
        assert len(row.card) == 22
        assert is_valid(row.card)
        lengths = {"70": 20, "95": 22, "94": 22, "92": 22}
        assert len(row.article) == lengths[row.article[:2]]
        assert row.article.startswith(("958907", "94073", "92088", "70"))
    for number in (row.box_bars, row.second_article):
        assert number == "" or is_valid(number)


def test_no_number_serves_twice() -> None:
    own = [n for row in ROWS.values() for n in (row.article, row.card, row.second_article) if n]
    assert len(set(own)) == len(own)


def test_no_number_is_a_published_one() -> None:
    if not VECTORS.exists():
        pytest.skip("no shared folder beside the repository")
    with VECTORS.open(encoding="utf-8", newline="") as lines:
        published = {line["string"] for line in csv.DictReader(lines)}
    for row in ROWS.values():
        assert not published & {row.article, row.card, row.box, row.second_article}


def differing(a: str, b: str) -> list[int]:
    assert len(a) == len(b)
    return [k for k, (x, y) in enumerate(zip(a, b, strict=True)) if x != y]


def without_one(text: str) -> set[str]:
    return {text[:k] + text[k + 1 :] for k in range(len(text))}


def swapped_groups(number: str) -> set[str]:
    groups = grouped(number).split()
    return {
        "".join([*groups[:k], b, a, *groups[k + 2 :]])
        for k, (a, b) in enumerate(pairwise(groups))
        if len(a) == len(b) == 4
    }


def is_the_edit(row: Row) -> bool:
    """Whether the box holds exactly the slip that the row names.

    The kinds are Verhoeff's (1969) and the trade's; look-alikes: common practice.
    """
    article, box = row.article, row.box
    if row.error in ("dropped", "extra"):
        short, long = sorted((article, box), key=len)
        return short in without_one(long) and (len(box) > len(article)) == (row.error == "extra")
    if row.error == "truncated":
        return 0 < len(article) - len(box) <= 4 and article.startswith(box)
    if row.error == "shifted":
        places = differing(article, box)
        return len(places) > 3 and bool(without_one(article) & without_one(box))
    if row.error == "groups-swapped":
        return box in swapped_groups(article)
    return is_the_edit_in_place(row.error, article, box)


def is_the_edit_in_place(kind: str, article: str, box: str) -> bool:
    """The same for slips that leave every other digit where it was."""
    places = differing(article, box)
    old = "".join(article[k] for k in places)
    new = "".join(box[k] for k in places)
    apart = places[-1] - places[0]
    if kind in ("digit", "look-alike"):
        alike = {"17", "49", "06", "38", "56", "35"}
        looks = "".join(sorted(old + new)) in alike
        return len(places) == 1 and looks == (kind == "look-alike")
    if len(places) != 2:
        return False
    first, last = places
    if kind in ("adjacent-swap", "adjacent-swap-five", "jump-swap"):
        is_five = abs(int(old[0]) - int(old[1])) == 5
        step = 2 if kind == "jump-swap" else 1
        right_five = kind == "jump-swap" or is_five == (kind == "adjacent-swap-five")
        return new == old[::-1] and apart == step and right_five
    if kind in ("twin", "jump-twin"):
        same = old[0] == old[1] and new[0] == new[1]
        return same and apart == (1 if kind == "twin" else 2)
    if kind == "phonetic":
        pair = {article[first : last + 1], box[first : last + 1]}
        return any(pair == {f"1{d}", f"{d}0"} for d in "3456789")
    raise AssertionError(kind)


TAUGHT = {piece.name for piece in PIECES if piece.design in (CardDesign.HARBOR, CardDesign.LOCK)}
MISSING = (
    "service-unmarked", "service-two", "service-between", "service-corrected", "sender-empty",
)  # fmt: skip
"""What a card may lack that is asked about before it goes out, once its fields are taught."""
STRUCK_OUT = next(piece.name for piece in PIECES if piece.struck)

SLIPS = (
    "digit",
    "look-alike",
    "adjacent-swap-five",
    "adjacent-swap",
    "jump-swap",
    "twin",
    "jump-twin",
    "phonetic",
    "dropped",
    "extra",
    "groups-swapped",
    "shifted",
    "truncated",
)


@pytest.mark.parametrize("kind", SLIPS)
def test_each_slip_is_on_some_card_and_is_that_slip(kind: str) -> None:
    rows = [row for row in ROWS.values() if row.error == kind]
    assert rows
    assert all(is_the_edit(row) for row in rows)


def test_slips_that_the_check_digit_lets_pass() -> None:
    # Even moves and swaps of digits five apart leave the 3-1 sum unchanged modulo 10.
    passing = {row.error for row in ROWS.values() if row.error in SLIPS and is_valid(row.box)}
    assert passing == {"adjacent-swap-five", "jump-swap", "jump-twin", "groups-swapped"}


def test_wrong_numbers_are_what_they_are_called() -> None:
    by_error: dict[str, list[Row]] = {}
    for row in ROWS.values():
        by_error.setdefault(row.error, []).append(row)
    assert {row.box_by for row in by_error["own-card-number"]} == {"hand", "strip-barcode"}
    assert all(row.box == row.card for row in by_error["own-card-number"])
    for row in by_error["neighbour-label"]:
        assert int(row.box[:-1]) - int(row.article[:-1]) == 1
        assert row.box == row.box_bars
        assert is_valid(row.box)
    for row in by_error["other-piece"]:
        assert row.box in {other.article for other in ROWS.values() if other is not row}
    for row in by_error["print-differs"]:
        assert row.box_bars == row.article
        assert len(differing(row.box, row.article)) == 1
    for row in by_error["second-article"]:
        assert row.second_article not in ("", row.article)
    assert all(row.box == "" for row in (*by_error["empty"], *by_error["blank-card"]))
    assert all(not any(c.isdigit() for c in row.box) for row in by_error["name"])
    rest = ("", "addressee-empty", "undated", "signature-outside", "unsigned", *MISSING)
    assert all(row.box == row.article for error in rest for row in by_error[error])


@pytest.mark.parametrize("row", ROWS.values(), ids=ROWS)
def test_verdicts_follow_from_what_stands_there(row: Row) -> None:
    # A card that came back is photographed without its label.
    is_stuck = row.error in ("second-article", "card-unreadable", "signature-outside", "unsigned")
    # A name is no number to a reader of numbers, and of two lines it takes neither.
    needs_a_person = is_stuck or row.error in ("empty", "blank-card", "name")
    needs_a_person = needs_a_person or row.piece == STRUCK_OUT or row.error in MISSING
    equal = row.box == row.article
    if needs_a_person:
        assert row.verdict_when_taught == "unread"
    else:
        assert row.verdict_when_taught == ("agrees" if equal else "differs")
    # Where a card's form has to be taught, a box may be read before, but no other field is.
    by_box = "agrees" if equal else "differs"
    assert row.verdict in (
        ("unread", by_box) if row.piece in TAUGHT else (row.verdict_when_taught,)
    )
    if is_stuck or not row.box:
        assert row.verdict_when_read == "unread"
    else:
        assert row.verdict_when_read == ("agrees" if equal else "differs")
    assert (row.box_by == "strip-barcode") == bool(row.box_bars)


def test_five_designs_of_cards_and_three_of_labels_are_shown() -> None:
    """The board's cards with a number and without differ in stock, wording and what is on them."""
    cards = {(piece.design, bool(piece.card)) for piece in PIECES}
    assert len(cards) == 5
    labels = {"routing" if piece.routing else piece.design is CardDesign.BOARD for piece in PIECES}
    assert len(labels) == 3
