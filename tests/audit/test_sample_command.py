"""`counterfoil sample`, as it is called. Figures as in test_sampling.py."""

from __future__ import annotations

import hashlib
import json
import time
import tracemalloc
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from counterfoil import exits
from counterfoil.commands.sample import command
from pairing.audit.statistics import draws, sampling
from pairing.ledger import Draft, Kind, Ledger
from pairing.model import Verdict


def sample(*words: str) -> Result:
    return CliRunner().invoke(command, words, standalone_mode=False)


def test_a_plan_alone() -> None:
    assert "Check 299 pieces." in sample().output
    assert "Check 90 pieces." in sample("--share", "5%", "--confidence", "0.99").output
    plan = sample("--lot", "1000", "--aql", "1.0").output
    assert "letter J, 80 pieces, AQL 1.0 %: accept with 2 bad, refuse with 3" in plan
    assert "78 %" in plan  # P(accept) at 2 %: .7844


def test_a_sample_of_a_list_is_recorded_and_can_be_drawn_again(tmp_path: Path) -> None:
    table, out = tmp_path / "day.csv", tmp_path / "sample.json"
    table.write_text("desk,article\n" + "".join(f"a,{n}\n" for n in range(1000, 1200)))
    done = sample("--from", str(table), "--share", "5%", "--out", str(out))
    assert done.return_value == exits.ALL_AGREE
    drawn = draws.read(out)
    assert (drawn.lot, len(drawn.pieces)) == (200, drawn.size)
    again = sample("--from", str(table), "--share", "5%", "--seed", drawn.seed).output
    assert again.splitlines()[2:] == list(drawn.pieces)
    assert json.loads(out.read_text())["list_sha256"] in again


def test_a_plain_list_and_a_column_that_is_not_there(tmp_path: Path) -> None:
    table = tmp_path / "pieces.txt"
    table.write_text("0001\n0002\n0003\n")
    assert "of 3." in sample("--from", str(table), "--share", "10%").output
    missing = sample("--from", str(table), "--column", "piece").exception
    assert "no column" in str(missing)


def test_a_sample_of_a_ledger(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with Ledger.open(str(tmp_path / "ledger.db")) as ledger:
        # Published check values, tests/facts/vectors.csv; invented pairing.
        for article in ("70191640000008004105", "9374890100000003985039"):
            ledger.append(
                Draft(
                    kind=Kind.PAIRED,
                    desk="1",
                    operator="a",
                    article=article,
                    written=article,
                    verdict=Verdict.AGREES,
                )
            )
        at = next(iter(ledger.pieces())).first.at
    done = sample("--ledger", str(tmp_path / "ledger.db"), "--share", "10%").output
    assert "Check 2 pieces of 2." in done
    assert "70191640000008004105" in done
    by_desk = sample("--ledger", str(tmp_path / "ledger.db"), "--share", "60%", "--strata", "desk")
    assert "  1: 2\n" in by_desk.output
    # A day is the desk's: fourteen hours before and twelve after UTC it is another one.
    for zone, hours in (("Etc/GMT-14", 14), ("Etc/GMT+12", -12)):
        monkeypatch.setenv("TZ", zone)
        time.tzset()
        there = datetime.fromisoformat(at) + timedelta(hours=hours)
        by_day = sample(
            "--ledger", str(tmp_path / "ledger.db"), "--share", "60%", "--strata", "day"
        )
        assert f"  {there:%Y-%m-%d}: 2\n" in by_day.output
    monkeypatch.undo()
    time.tzset()


def test_nothing_to_draw_from(tmp_path: Path) -> None:
    (tmp_path / "empty.csv").write_text("piece\n")
    done = sample("--from", str(tmp_path / "empty.csv"))
    assert done.return_value == exits.NOT_DONE


def test_what_is_no_record_of_a_sample(tmp_path: Path) -> None:
    for text in ("{}", "[]", "no", '{"format": "counterfoil sample 1"}'):
        (tmp_path / "s.json").write_text(text)
        try:
            draws.read(tmp_path / "s.json")
        except draws.TableUnusable as error:
            assert "not a sample" in str(error)
        else:
            raise AssertionError(text)


def test_a_table_in_which_no_column_is_known_is_not_drawn_from(tmp_path: Path) -> None:
    """Its first line would be a piece, and its first column might be anything."""
    table = tmp_path / "day.csv"
    table.write_text("desk,number\n1,70191640000008004105\n")
    refused = str(sample("--from", str(table)).exception)
    assert "--column" in refused
    assert "desk, number" in refused
    assert "of 1." in sample("--from", str(table), "--column", "number").output


def test_what_cannot_be_read_is_said_without_the_machines_words(tmp_path: Path) -> None:
    refused = str(sample("--from", str(tmp_path / "none.csv")).exception)
    assert "No such file" in refused
    assert "Errno" not in refused
    impossible = str(sample("--lot", "50", "--defects", "60").exception)
    assert "60 allowed" in impossible


def test_a_lot_that_is_only_counted_takes_no_memory() -> None:
    """A list of these names took 810 MB at ten million pieces."""
    tracemalloc.start()
    assert "of 1,000,000,000." in sample("--lot", "1000000000").output
    drawn = draws.draw_from(
        draws.Numbered(200_000), size=299, seed="x", share="0.01", confidence="0.95", allowed=0
    )
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert most < 2_000_000  # the names alone would take 11 MB
    assert (drawn.lot, drawn.size) == (200_000, 299)
    names = [f"{n:06}" for n in range(1, 200_001)]
    assert drawn.pieces == sampling.draw(names, 299, seed="x")
    assert (
        drawn.list_sha256 == hashlib.sha256("".join(f"{n}\n" for n in names).encode()).hexdigest()
    )
