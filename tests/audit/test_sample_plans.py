"""Samples drawn by steps, strata, value and stages; void pieces; samples drawn until one passes."""

from __future__ import annotations

import hashlib
import itertools
from collections import Counter
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from scipy.stats import chi2, hypergeom

from counterfoil.commands.sample import command
from pairing.audit.reports import front, outcome
from pairing.audit.run.records import Records
from pairing.audit.statistics import draws, earlier_samples, sample_counts, sampling, selection
from pairing.audit.statistics.aims import aim_of
from pairing.audit.statistics.bounds import upper_share
from pairing.audit.statistics.draws import Drawn, Plan
from pairing.audit.statistics.piece_lists import Listed
from pairing.audit.statistics.strata import allocate, combined_upper, stratified_size
from pairing.errors import NotCalculable, TableUnusable
from tests.audit.making import report_job, row, with_rows

ASKED = Plan(share="0.05", confidence="0.95")
NAMES = [f"{n:05}" for n in range(1000)]


def sample(*words: str) -> Result:
    return CliRunner().invoke(command, words, standalone_mode=False)


def a_table(folder: Path, count: int = 300) -> Path:
    table = folder / "lot.csv"
    lines = (f'{n:05},desk {n % 3},"{1 + n:,}.50"\n' for n in range(count))
    table.write_text("piece,desk,amount\n" + "".join(lines))
    return table


# --- which pieces


def test_equal_steps_from_a_random_start() -> None:
    """Every piece is drawn from exactly one of the starts that a step holds."""
    found = selection.systematic(NAMES, lot=1000, size=40, seed="x")
    start = Fraction(int.from_bytes(hashlib.sha256(b"x:start").digest()), 1 << 256)
    assert found == tuple(NAMES[int((start + k) * 25)] for k in range(40))
    with pytest.raises(NotCalculable):
        selection.systematic(NAMES, lot=1000, size=1001, seed="x")


def test_a_step_that_is_no_whole_number_gives_as_many_pieces() -> None:
    for seed in "abcdef":
        found = selection.systematic(NAMES[:997], lot=997, size=60, seed=seed)
        steps = {int(b) - int(a) for a, b in itertools.pairwise(found)}
        assert (len(found), steps) == (60, {16, 17})


def test_by_value_a_piece_is_as_likely_as_it_is_dear() -> None:
    """On average as many points as its share of the value (4 standard errors allowed); a piece
    dearer than a cell is drawn always."""
    values = [("a", Fraction(1)), ("b", Fraction(5)), ("none", Fraction(0)), ("c", Fraction(14))]
    drawn: Counter[str] = Counter()
    for seed in range(400):
        found = selection.by_value(values, total=Fraction(20), size=2, seed=str(seed))
        assert sum(found.values()) == 2
        assert "c" in found
        drawn.update(found)
    for name, value in values[:2]:
        share = float(value / 20)
        assert abs(drawn[name] / 800 - share) < 4 * (share * (1 - share) / 800) ** 0.5
    assert drawn["none"] == 0


@pytest.mark.parametrize("text", ["-1", "1.2.3", "NaN", "about 5", "1e999999999", "1e-999999999"])
def test_what_is_no_value(text: str) -> None:
    with pytest.raises(TableUnusable, match="line 7"):
        selection.value_of(text, where="x line 7")
    assert selection.value_of("$1,250.10", where="") == Fraction("1250.1")


# AICPA, Audit Guide Audit Sampling, monetary unit sampling: confidence (Poisson) factors by
# overstatements found, 0 to 5; from memory, and by scipy's chi-square.
FACTORS = {0.95: (3.00, 4.75, 6.30, 7.76, 9.16, 10.52), 0.90: (2.31, 3.89, 5.33, 6.69, 8.00, 9.28)}


@pytest.mark.parametrize("confidence", FACTORS)
def test_the_bound_by_value_approaches_the_published_factors(confidence: float) -> None:
    for found, factor in enumerate(FACTORS[confidence]):
        exact = chi2.ppf(confidence, 2 * (found + 1)) / 2
        bound = 100_000 * upper_share(100_000, found, confidence)
        assert exact == pytest.approx(factor, abs=0.011)
        assert bound == pytest.approx(exact, abs=0.001)


# --- strata


def test_strata_are_drawn_in_proportion() -> None:
    sizes = {"a": 900, "b": 80, "c": 20}
    assert allocate(sizes, 60) == {"a": 54, "b": 5, "c": 2}
    assert allocate({"a": 2, "b": 1}, 3) == {"a": 2, "b": 1}
    found = stratified_size(sizes, share=0.05, confidence=0.95)
    drawn = [(many, found[name]) for name, many in sizes.items()]
    assert combined_upper(drawn, 0) <= 0.05
    assert sum(found.values()) < 66  # 59 of an endless lot; rounding costs a few
    with pytest.raises(NotCalculable):
        stratified_size({"a": 3, "b": 4}, share=0.05, confidence=0.95, allowed=9)


def test_the_combined_bound_holds_wherever_the_bad_ones_lie() -> None:
    """Every way to put bad ones into three strata, the outcomes' chances by scipy: the bound
    lies below the truth no oftener than one time in ten."""
    parts = [(6, 3), (4, 2), (2, 1)]
    laws = {
        (lot, bad): [hypergeom.pmf(k, lot, bad, size) for k in range(size + 1)]
        for lot, size in parts
        for bad in range(lot + 1)
    }
    for inside in ((a, b, c) for a in range(7) for b in range(5) for c in range(3)):
        chances = {0: 1.0}
        for (lot, _), bad in zip(parts, inside, strict=True):
            more: dict[int, float] = {}
            for found, chance in chances.items():
                for k, part in enumerate(laws[lot, bad]):
                    more[found + k] = more.get(found + k, 0) + chance * part
            chances = more
        truth = sum(inside) / 12 - 1e-12
        missed = sum(
            chance
            for found, chance in chances.items()
            if combined_upper(parts, found, confidence=0.9) < truth
        )
        assert missed <= 0.1 + 1e-9, inside


# --- what is counted


def said(names: Any, **others: str) -> dict[str, str]:
    return dict.fromkeys(names, "agrees") | {key[1:]: value for key, value in others.items()}


def test_a_void_piece_is_replaced_by_the_next_one_drawn() -> None:
    drawn = draws.draw_from(
        NAMES, size=59, seed="x", share="0.05", confidence="0.95", allowed=0, spares=2
    )
    order = sorted(NAMES, key=lambda name: hashlib.sha256(f"x:{name}".encode()).digest())
    assert (set(drawn.pieces), drawn.spares) == ({*order[:59]}, (*order[59:61],))
    void = frozenset(drawn.pieces[:2])
    found = sample_counts.count(drawn, said(drawn.names - void), void)
    assert (found.checked, found.agrees, found.replaced, found.not_replaced) == (59, 59, 2, 0)
    more = frozenset((*drawn.pieces[:2], drawn.spares[0]))  # a spare may be void itself
    found = sample_counts.count(drawn, said(drawn.names - more), more)
    assert (found.checked, found.agrees, found.replaced, found.not_replaced) == (59, 58, 1, 1)
    lost = sample_counts.count(drawn, said(drawn.pieces[1:]))  # not found is not void
    assert (lost.agrees, lost.missing) == (58, 1)


def two_stages() -> Drawn:
    return draws.draw_from(
        NAMES, size=60, seed="x", share="0.05", confidence="0.95", allowed=1, second=60
    )


def test_the_second_stage_counts_only_where_the_first_does_not_decide() -> None:
    drawn = two_stages()
    first, second = drawn.pieces, drawn.second
    bad = dict.fromkeys(second, "differs")
    good = aim_of(drawn, sample_counts.count(drawn, said(first) | bad))
    assert (good.is_reached, good.checked) == (True, 60)
    one_bad = said(first) | {first[0]: "differs"}
    open_one = aim_of(drawn, sample_counts.count(drawn, one_bad))
    assert (open_one.is_reached, open_one.second) == (False, 60)
    assert "photograph the 60 pieces of the second stage" in front.aim_in_words(open_one)
    both = aim_of(drawn, sample_counts.count(drawn, one_bad | said(second)))
    assert (both.is_reached, both.checked, both.bad) == (True, 120, 1)
    failed = aim_of(drawn, sample_counts.count(drawn, one_bad | said(second[1:])))
    assert (failed.is_reached, failed.is_reachable, failed.bad) == (False, True, 2)
    assert "more pieces added to it show nothing" in front.aim_in_words(failed)
    at_once = said(first) | dict.fromkeys(first[:2], "differs")
    refused = aim_of(drawn, sample_counts.count(drawn, at_once | said(second)))
    assert (refused.is_reached, refused.checked) == (False, 60)


def test_bounds_after_the_second_stage_are_those_of_the_plan() -> None:
    drawn = two_stages()
    found = sample_counts.count(
        drawn, said(drawn.pieces) | {drawn.pieces[0]: "differs"} | said(drawn.second)
    )
    known = sample_counts.bounds_of(drawn, found, found.bad, confidence=0.95)
    plain = sampling.sample_size(share="0.05", confidence="0.95", lot=1000, allowed=1)
    assert known.checked == 120 > plain
    assert known.low < 1 / 120 < known.upper < known.high
    assert known.upper <= 0.05


def test_a_point_of_value_on_a_bad_piece_counts_as_often_as_it_was_hit() -> None:
    listed = [Listed(name=name, value=Fraction(1 + n)) for n, name in enumerate(NAMES)]
    listed.append(Listed(name="dear", value=Fraction(100_000)))
    drawn = draws.draw_by_value(listed, ASKED, size=59, seed="x")
    assert drawn.points["dear"] >= 8
    found = sample_counts.count(drawn, said(drawn.pieces) | {"dear": "differs"})
    assert (found.checked, found.differs) == (59, drawn.points["dear"])
    aim = aim_of(drawn, found)
    assert "of the value on bad pairs" in front.aim_in_words(aim)
    assert not aim.is_reached


def test_strata_give_their_own_spares() -> None:
    listed = [Listed(name=name, stratum=f"desk {n % 2}") for n, name in enumerate(NAMES)]
    drawn = draws.draw_strata(listed, {"desk 0": 30, "desk 1": 30}, ASKED, seed="x", spares=1)
    void = frozenset([drawn.strata[1].pieces[0]])
    found = sample_counts.count(drawn, said(drawn.names - void), void)
    assert (found.checked, found.agrees, found.replaced) == (60, 60, 1)
    assert int(drawn.strata[1].spares[0]) % 2 == 1
    known = sample_counts.bounds_of(drawn, found, 0, confidence=0.95)
    assert known.upper == pytest.approx(upper_share(60, 0, 0.95))
    assert aim_of(drawn, found).is_reached


# --- the command


def test_every_plan_is_recorded_and_read_back(tmp_path: Path) -> None:
    table, out = a_table(tmp_path), tmp_path / "s.json"
    for words in (
        ("--expected", "1%"),
        ("--two-stage", "--spares", "2"),
        ("--systematic",),
        ("--strata", "desk", "--spares", "1"),
        ("--value", "amount"),
    ):
        done = sample(
            "--from", str(table), "--share", "10%", "--seed", "s", "--out", str(out), *words
        )
        assert done.return_value == 0, done.exception
        drawn = draws.read(out)
        assert drawn.format == draws.FORMAT_WITH_PLAN
        again = sample("--from", str(table), "--share", "10%", "--seed", "s", *words).output
        assert all(name in again.splitlines() for name in drawn.names)
    assert "With at most 1 bad" in sample("--expected", "1%", "--share", "5%").output
    assert "Check 93 pieces." in sample("--expected", "1%", "--share", "5%").output  # AICPA, A-1


def test_the_power_of_a_plan_is_shown() -> None:
    """93 pieces of an endless lot, one bad allowed; at 5 % by hand .95^93 + 93 * .05 * .95^92."""
    text = sample("--share", "5%", "--expected", "0.1%").output
    assert "  0 % 100.0 %  ####################" in text
    assert f"  5 % {100 * (0.95**93 + 93 * 0.05 * 0.95**92):>5.1f} %  #\n" in text
    assert "not a share" in str(sample("--expected", "0").exception)


@pytest.mark.parametrize(
    "words",
    [
        ("--two-stage", "--systematic"),
        ("--expected", "1%", "--defects", "2"),
        ("--value", "amount"),
        ("--strata", "desk"),
        ("--lot", "100", "--systematic", "--spares", "2"),
        ("--ledger", "x", "--strata", "clerk"),
    ],
)
def test_what_contradicts_itself(words: tuple[str, ...]) -> None:
    assert type(sample(*words).exception).__name__ == "UsageError"


# --- drawn until it passes


def outcome_of(folder: Path, drawn: Drawn, bad: int) -> Any:
    rows = [row(n, "differs" if n < bad else "agrees", piece=name)
            for n, name in enumerate(drawn.pieces)]  # fmt: skip
    with_rows(folder, rows)
    with report_job(folder, sample=drawn) as job:
        return outcome.summarize(job, Records())[1]


def test_a_sample_extended_until_it_passes_is_named(tmp_path: Path) -> None:
    """The chance that one of the two passes a lot with 51 bad of 1,000: by scipy."""
    plans = [(57, 0), (92, 1)]
    first, longer = (
        draws.draw_from(NAMES, size=size, seed="x", share="0.05", confidence="0.95", allowed=most)
        for size, most in plans
    )
    assert outcome_of(tmp_path, first, 1).warning == ""
    found = outcome_of(tmp_path, longer, 1)
    assert found.aim.is_reached
    one = hypergeom.pmf(1, 1000, 51, 57) * hypergeom.cdf(0, 943, 50, 35)
    risk = 100 * (hypergeom.pmf(0, 1000, 51, 57) + one)
    assert f"with a chance of {risk:.1f} %, not 5 %" in found.warning
    assert outcome_of(tmp_path, first, 0).warning == ""  # the same sample again, looked at
    assert outcome_of(tmp_path, longer, 1).warning == ""
    assert (tmp_path / earlier_samples.FILE).read_bytes().count(b"\n") == 2
