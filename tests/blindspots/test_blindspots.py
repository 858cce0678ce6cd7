"""What check digits miss: handbook figures, simulations, and the table itself."""

from __future__ import annotations

import os
import random
from collections.abc import Iterator
from fractions import Fraction
from math import sqrt

import pytest
from stdnum import ean

from pairing.blindspots import BlindspotTable, blindspots
from pairing.compare import compare
from pairing.errors import CounterfoilError
from pairing.model import CheckRule, Family, Role
from pairing.numbers import MODULES
from tests.blindspots.engine.__main__ import EXAMPLES, families
from tests.blindspots.engine.edits import changed
from tests.blindspots.engine.schemes import scheme_for
from tests.blindspots.engine.tables import counted
from tests.compare import oracle

IS_FULL = os.environ.get("COUNTERFOIL_ORACLE") == "full"
ORIGINALS = 2000 if IS_FULL else 500
"""Numbers that a simulation begins with."""
MOD10_RULES = [(CheckRule.MOD10, n) for n in (20, 22, 26)] + [(CheckRule.MOD10_AI91, 20)]


def family(rule: CheckRule, *lengths: int) -> Family:
    return Family(
        name="test",
        title="test",
        role=Role.ARTICLE,
        lengths=lengths,
        group_sizes=(2, 3, 3, 3, 2) if rule is CheckRule.S10_MOD11 else (4,),
        check_rule=rule,
        source="",
    )


@pytest.fixture(scope="module")
def s10() -> BlindspotTable:
    return counted(family(CheckRule.S10_MOD11, 13))


@pytest.mark.parametrize(("rule", "length"), MOD10_RULES)
def test_mod10_figures_of_the_handbook(rule: CheckRule, length: int) -> None:
    """Standards handbook section 6.3 (computed, reproducible), column "MOD 10 3-1"."""
    table = counted(family(rule, length))
    ninth = Fraction(1, 9)
    figures = {
        "one-digit": Fraction(0), "adjacent-swap": ninth, "jump-swap": Fraction(1),
        "twin": ninth, "jump-twin": ninth, "phonetic": Fraction(0), "groups": Fraction(1),
        "groups-full": Fraction(1), "two-any": ninth,
    }  # fmt: skip
    assert {code: table.row(code).share for code in figures} == figures
    # "passes MOD 10 about 2.9 % of the time (omissions/insertions caught by length)"
    assert round(float(table.weighted), 3) == 0.029
    for code in ("dropped", "extra", "truncated"):
        assert table.row(code).share == 0
    for code in ("card-own", "other-piece", "pad-neighbour"):
        assert table.row(code).share == 1


def s10_share(*edits: tuple[tuple[int, ...], tuple[int, ...]]) -> float:
    scheme = scheme_for(CheckRule.S10_MOD11, 13)
    assert scheme is not None
    counts = [changed(scheme, before, after) for before, after in edits]
    return sum(c.passed for c in counts) / sum(c.all for c in counts)


NINE = tuple(range(9))


def with_terms(**new: int) -> tuple[int, ...]:
    return tuple(new.get(f"p{i}", i) for i in NINE)


def test_s10_single_digit_figures_of_the_handbook(s10: BlindspotTable) -> None:
    """Section 6.3: 1.62 %; serial digits 2/110, check digit 0.

    2/110 takes all remainders mod 11 for equally likely. Eight uniform digits come within
    1e-6 of that, not nearer, because a digit leaves only ten of eleven remainders.
    """
    assert round(100 * float(s10.row("one-digit").share), 2) == 1.62
    serial = s10_share(*((NINE, with_terms(**{f"p{i}": 9})) for i in range(8)))
    assert serial == pytest.approx(2 / 110, abs=1e-6)
    assert s10_share((NINE, with_terms(p8=9))) == 0


@pytest.mark.parametrize("gap", [1, 2])
def test_s10_swaps_and_twins_of_the_handbook(s10: BlindspotTable, gap: int) -> None:
    """Section 6.3 gives 1.82 % for swaps and twins, ~1.9 % for jump twins.

    That holds for pairs within the serial. The table's rows count the pair that takes in
    the check digit too, and that one is missed more often (swaps, twins) or less (jump
    twins); the simulations below confirm the rows.
    """
    places = [(i, i + gap) for i in range(8 - gap)]
    swaps = [(NINE, with_terms(**{f"p{i}": j, f"p{j}": i})) for i, j in places]
    assert s10_share(*swaps) == pytest.approx(0.0182, abs=5e-5)
    twins = [
        (with_terms(**{f"p{j}": i}), with_terms(**{f"p{i}": 9, f"p{j}": 9})) for i, j in places
    ]
    assert s10_share(*twins) == pytest.approx(0.0182, abs=1e-3)
    row = s10.row("adjacent-swap" if gap == 1 else "jump-swap")
    assert s10_share(*swaps) < row.share < Fraction(25, 1000)
    assert s10.row("jump-twin").share == pytest.approx(0.019, abs=1e-3)


def test_s10_figures_that_the_handbook_simulated(s10: BlindspotTable) -> None:
    """Section 6.3: phonetic ~12 %, two random wrong digits ~11.6 %, 60,000 trials each.

    Four standard errors of such a simulation are 0.5 %.
    """
    assert s10.row("phonetic").share == pytest.approx(0.12, abs=0.005)
    assert s10.row("two-any").share == pytest.approx(0.116, abs=0.005)


def covered(number: str) -> str:
    return number[2:11] if oracle.is_s10(number) else number


def simulated(code: str, rng: random.Random, number: str, sizes: tuple[int, ...]) -> Iterator[str]:
    """All altered numbers of a class, by the test's own enumeration."""
    digits = covered(number)
    makers = {
        "one-digit": lambda: oracle.one_digit(digits),
        "adjacent-swap": lambda: oracle.swaps(digits, 1),
        "jump-swap": lambda: oracle.swaps(digits, 2),
        "twin": lambda: oracle.twins(digits, 1),
        "jump-twin": lambda: oracle.twins(digits, 2),
        "phonetic": lambda: oracle.phonetic(digits),
    }
    if code == "groups":
        yield from (y for y, _ in oracle.groups(number, sizes))
        return
    if code == "shifted":
        lost, at = rng.choice([(i, j) for i in range(len(digits)) for j in range(len(digits))
                               if abs(i - j) >= 2])  # fmt: skip
        left = digits[:lost] + digits[lost + 1 :]
        made = [left[:at] + rng.choice("0123456789") + left[at:]]
    elif code in {"two-any", "three", "six"}:
        k = {"two-any": 2, "three": 3, "six": 6}[code]
        new = {
            i: rng.choice("0123456789".replace(digits[i], ""))
            for i in rng.sample(range(len(digits)), k)
        }
        made = [oracle.put(digits, new)]
    else:
        made = [y for y, _ in makers[code]()]
    yield from (number.replace(digits, y) for y in made)


@pytest.mark.parametrize("length", [13, 22])
@pytest.mark.parametrize(
    "code",
    ["one-digit", "adjacent-swap", "jump-swap", "twin", "jump-twin", "phonetic", "groups",
     "shifted", "two-any", "three", "six"],
)  # fmt: skip
def test_rows_against_simulation(code: str, length: int) -> None:
    """Check digits by python-stdnum (GS1 mod-10) and by the test's own S10 rule."""
    rule = CheckRule.S10_MOD11 if length == 13 else CheckRule.MOD10
    about = family(rule, length)
    rng = random.Random(f"{code} {length}")
    tries = missed = 0
    for _ in range(ORIGINALS):
        if length == 13:
            serial = f"{rng.randrange(10**8):08}"
            letters = [rng.choice(oracle.LETTERS) for _ in range(4)]
            check = oracle.s10_check_digit(serial)
            number = "".join((*letters[:2], serial, check, *letters[2:]))
        else:
            data = f"{rng.randrange(10**21):021}"
            number = data + ean.calc_check_digit(data)
        for altered in simulated(code, rng, number, about.group_sizes):
            if altered != number:
                tries += 1
                missed += oracle.is_valid(altered)
    exact = float(counted(about).row(code).share)
    # Altered numbers from one original are not independent, so the error is taken over
    # the originals (or the tries where those are fewer), four standard errors wide.
    error = sqrt(exact * (1 - exact) / min(tries, ORIGINALS))
    assert missed / tries == pytest.approx(exact, abs=4 * error + 1e-12)


@pytest.mark.parametrize("rule_and_length", [*MOD10_RULES, (CheckRule.S10_MOD11, 13)])
def test_examples_differ_and_pass(rule_and_length: tuple[CheckRule, int]) -> None:
    rule, length = rule_and_length
    ahead = "91" if rule is CheckRule.MOD10_AI91 else ""

    def passes(text: str) -> bool:
        if rule is CheckRule.S10_MOD11:
            return oracle.is_valid(text)
        whole = ahead + text
        return len(text) == length and ean.calc_check_digit(whole[:-1]) == whole[-1]

    about = family(rule, length)
    shown = 0
    for row in counted(about).rows:
        if row.share == 0:
            assert row.example is None
        if row.example is None:
            continue
        first, second = row.example
        assert first != second
        assert passes(first) and passes(second)
        shown += 1
        found = compare(first, second, group_sizes=about.group_sizes, is_valid=passes)
        if row.error is not None and not row.code.endswith(("-own", "-piece")):
            fitting = {found.error, *found.also}
            assert row.error in fitting or row.code in {"two-far", "three", "four", "five", "six"}
    assert shown >= 15


def test_a_given_number_is_the_one_worked_from() -> None:
    number = "9400111201080805483016"  # tracking_number_data, couriers/usps.json
    table = counted(family(CheckRule.MOD10, 22), example=number)
    assert table.row("jump-swap").example is not None
    assert table.row("jump-swap").example[0] == number  # type: ignore[index]


def test_verhoeffs_counts() -> None:
    """J. Verhoeff 1969, counts from memory (standards handbook section 6.1)."""
    table = counted(family(CheckRule.MOD10, 22))
    counts = {r.code: r.verhoeff_count for r in table.rows if r.verhoeff_count is not None}
    assert sum(counts.values()) == 12_112
    shares = {"one-digit": 79.05, "adjacent-swap": 10.21, "jump-swap": 0.82, "twin": 0.55,
              "phonetic": 0.49, "jump-twin": 0.29, "other-adjacent": 1.92, "other-jump": 0.36,
              "two-far": 0.81, "three": 1.40, "four": 0.97, "five": 1.81, "six": 1.34}  # fmt: skip
    found = {c: round(100 * float(table.row(c).verhoeff_share or 0), 2) for c in counts}
    assert found == pytest.approx(shares, abs=0.011)
    assert any("remembered" in note for note in table.notes)


def test_letters_are_outside_the_s10_check(s10: BlindspotTable) -> None:
    assert s10.row("letter").share == s10.row("letters-swapped").share == 1
    assert any("does not cover the letters" in note for note in s10.notes)


def test_a_second_length_opens_a_gap() -> None:
    """22 cut to 20 digits passes one time in ten; 20 ways to be cut (2 to 21 missing)."""
    table = counted(family(CheckRule.MOD10, 22, 20))
    assert table.row("truncated").share == Fraction(1, 10) / 20
    assert table.row("dropped").share == 0
    assert counted(family(CheckRule.MOD10, 22, 21)).row("dropped").share > Fraction(9, 100)


def test_no_check_digit_misses_everything_of_the_same_length() -> None:
    table = counted(family(CheckRule.NONE, 12))
    assert table.weighted == 1
    assert table.row("dropped").share == 0


def test_what_cannot_be_asked() -> None:
    with pytest.raises(CounterfoilError, match="length"):
        counted(family(CheckRule.MOD10, 22), length=20)
    with pytest.raises(CounterfoilError, match="length"):
        counted(family(CheckRule.S10_MOD11, 12))
    with pytest.raises(CounterfoilError, match="check digit"):
        counted(family(CheckRule.MOD10, 22), example="9400111201080805483017")
    with pytest.raises(CounterfoilError, match="no such row"):
        counted(family(CheckRule.MOD10, 22)).row("spilt ink")


@pytest.mark.parametrize(("about", "length"), families(), ids=lambda one: getattr(one, "name", one))
def test_the_table_that_is_shipped_is_what_is_counted(about: Family, length: int) -> None:
    """Every share, example and remark of `pairing/blindspots/figures.py`."""
    example = EXAMPLES.get((about.name, length))
    assert blindspots(about, length=length) == counted(about, length=length, example=example)


def test_what_is_not_in_the_table() -> None:
    about = MODULES["package"].FAMILY
    with pytest.raises(CounterfoilError, match="length"):
        blindspots(about, length=20)
    with pytest.raises(CounterfoilError, match="length"):
        blindspots(family(CheckRule.MOD10, 22))
    assert blindspots(about).length == 22
    assert blindspots(about, length=26).length == 26
    with pytest.raises(CounterfoilError, match="no such row"):
        blindspots(about).row("spilt ink")
