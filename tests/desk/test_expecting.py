"""Pairs that another system printed: read from CSV, loaded, and reckoned with."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from pairing.desk.counter import Counter
from pairing.desk.expecting import Loaded, Reckoning, load, reckon
from pairing.desk.pairlist import PairList, read_list
from pairing.errors import TableUnusable
from pairing.ledger import Kind, Ledger
from tests.ledger.making import card, label

NOW = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
S10 = "EE876543216CA"  # UPU S10-12 Annex A


@pytest.fixture
def ledger(tmp_path: Path) -> Iterator[Ledger]:
    with Ledger.open(str(tmp_path / "ledger.db"), clock=lambda: NOW) as opened:
        yield opened


def write(folder: Path, text: str | bytes, name: str = "pairs.csv") -> Path:
    path = folder / name
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return path


def rows(*numbers: int) -> str:
    return "".join(f"{label(one)},{card(one)}\n" for one in numbers)


def loaded(ledger: Ledger, pairs: PairList) -> Loaded:
    return load(ledger, pairs, desk="desk 1", operator="Theda Orrick", now=NOW)


def work(ledger: Ledger, *lines: str) -> None:
    counter = Counter(ledger, desk="desk 1", operator="Theda Orrick", clock=lambda: NOW)
    for line in lines:
        counter.take(line)


def test_columns_are_told_by_what_they_hold(tmp_path: Path) -> None:
    text = "Ref;Addressee;Tracking no.;Return receipt\n"
    text += f"9;Corin Thackmire;{label(1)};{card(1)}\n7;Isaura Penbrook;{label(2)};\n"
    pairs = read_list(write(tmp_path, text))
    assert (pairs.article.name, pairs.article.holds, pairs.article.is_guessed) == (
        "Tracking no.",
        2,
        True,
    )
    assert pairs.card is not None
    assert (pairs.card.name, pairs.card.holds) == ("Return receipt", 1)
    assert [(one.line, one.article, one.card) for one in pairs.pairs] == [
        (2, label(1), card(1)),
        (3, label(2), None),
    ]


@pytest.mark.parametrize("mark", ["utf-8", "utf-8-sig", "utf-16"])
@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_encodings_and_delimiters(tmp_path: Path, mark: str, delimiter: str) -> None:
    text = f"Straße{delimiter}article{delimiter}card\r\nx{delimiter}{label(1)}{delimiter}{card(1)}"
    pairs = read_list(write(tmp_path, text.encode(mark)))
    assert [(one.article, one.card) for one in pairs.pairs] == [(label(1), card(1))]


def test_a_list_without_heads(tmp_path: Path) -> None:
    pairs = read_list(write(tmp_path, rows(1, 2)))
    assert pairs.article.name == "column 1"
    assert len(pairs.pairs) == 2


def test_what_spreadsheets_put_around_numbers(tmp_path: Path) -> None:
    text = f'a,c\n"=""{label(1)}""",\'{card(1)}\n'
    (pair,) = read_list(write(tmp_path, text)).pairs
    assert (pair.article, pair.card) == (label(1), card(1))


def test_two_columns_of_articles_are_not_chosen_from(tmp_path: Path) -> None:
    path = write(tmp_path, f"old,new,card\n{label(1)},{label(2)},{card(1)}\n")
    with pytest.raises(TableUnusable, match="'old' and 'new'"):
        read_list(path)
    assert read_list(path, article="NEW").pairs[0].article == label(2)
    assert read_list(path, article="1").pairs[0].article == label(1)
    for place in ("0", "99", "9" * 5000):  # the last one ended with a traceback
        with pytest.raises(TableUnusable, match="columns are called"):
            read_list(path, article=place)
    with pytest.raises(TableUnusable, match="No columns are called 'newer'"):
        read_list(path, article="newer")


def test_a_card_whose_form_does_not_tell_has_to_be_named(tmp_path: Path) -> None:
    path = write(tmp_path, f"article,cardno\n{label(1)},{label(9)}\n")
    pairs = read_list(path, article="article", card="cardno")
    assert pairs.pairs[0].card == label(9)


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        (f",{card(2)}", "no article number"),
        (f"9.20E+21,{card(2)}", "spreadsheet has rounded"),
        (f"{label(2)[:-1]}x,{card(2)}", "digits only"),
        (f"{label(2)},{card(2)[:-1]}", "digits"),
        (f"{card(2)},{card(3)}", "not an article number"),
        (f"{label(2)},{label(3)}", "not a card number"),
        (f"{label(1)},{card(2)}", "Line 2 gives this article another card"),
        (f"{label(2)},{card(1)}", "Line 2 gives this card to another article"),
    ],
)
def test_refused_rows_have_their_line_and_a_reason(tmp_path: Path, row: str, reason: str) -> None:
    pairs = read_list(write(tmp_path, f"article,card\n{rows(1)}\n{row}\n{rows(4)}"))
    (refused,) = pairs.refused
    assert refused.line == 4  # blank lines count, as in any editor
    assert reason in refused.reason
    assert [one.article for one in pairs.pairs] == [label(1), label(4)]


@pytest.mark.parametrize(
    ("data", "what"),
    [(b"", "empty"), (b"\n \n", "empty"), (b"a,b\nx,y\n", "No column holds"), (b"\xff\n", "read")],
)
def test_lists_that_cannot_be_used(tmp_path: Path, data: bytes, what: str) -> None:
    with pytest.raises(TableUnusable, match=what):
        read_list(write(tmp_path, data))
    with pytest.raises(TableUnusable, match="cannot be read"):
        read_list(tmp_path / "nowhere.csv")


def test_loading_twice_adds_nothing(tmp_path: Path, ledger: Ledger) -> None:
    pairs = read_list(write(tmp_path, rows(1, 2, 2)))
    assert pairs.repeated == 1
    assert loaded(ledger, pairs) == Loaded(added=2, known=0, refused=())
    assert loaded(ledger, pairs) == Loaded(added=0, known=2, refused=())
    more = read_list(write(tmp_path, rows(2, 3), "more.csv"))
    assert loaded(ledger, more) == Loaded(added=1, known=1, refused=())
    assert ledger.size() == 3
    entry = ledger.entry(3)
    assert entry is not None
    assert (entry.kind, entry.remark) == (Kind.EXPECTED, "more.csv, line 2")


def test_what_was_withdrawn_is_expected_anew(tmp_path: Path, ledger: Ledger) -> None:
    pairs = read_list(write(tmp_path, rows(1)))
    for void in ("void 1 no longer", "void 3 nor now"):
        assert loaded(ledger, pairs).added == 1
        assert loaded(ledger, pairs).known == 1
        assert reckon(ledger, since=NOW - timedelta(days=1)).expected == 1
        work(ledger, void)
        assert reckon(ledger, since=NOW - timedelta(days=1)).expected == 0


def test_a_list_that_contradicts_an_earlier_one(tmp_path: Path, ledger: Ledger) -> None:
    loaded(ledger, read_list(write(tmp_path, rows(1, 2))))
    text = f"{label(1)},{card(7)}\n{label(8)},{card(2)}\n"
    result = loaded(ledger, read_list(write(tmp_path, text, "late.csv")))
    assert result.added == 0
    assert [row.line for row in result.refused] == [1, 2]
    assert "pairs.csv, line 1 (entry 1)" in result.refused[0].reason
    work(ledger, "void 1 reprinted")
    result = loaded(ledger, read_list(write(tmp_path, text, "late.csv")))
    assert (result.added, [row.line for row in result.refused]) == (1, [2])


def test_the_days_reckoning(tmp_path: Path, ledger: Ledger) -> None:
    assert reckon(ledger, since=NOW - timedelta(days=1)) == Reckoning()
    work(ledger, label(1), card(1), f"box {label(1)}")  # before its list came
    loaded(ledger, read_list(write(tmp_path, rows(1, 2, 3, 4, 5))))
    work(ledger, label(2), card(2), f"box {label(2)}")
    work(ledger, label(3), card(4), f"box {label(3)}")  # stopped: the card of 4
    work(ledger, label(9), card(9), f"box {label(9)}")  # stopped: on no list
    work(ledger, label(5), card(4), f"box {label(5)}", label(5), card(5), f"box {label(5)}")
    reckoning = reckon(ledger, since=NOW - timedelta(days=1))
    assert reckoning.expected == 5
    assert [one.article for one in reckoning.missing] == [label(4)]
    assert [(one.article, one.kind) for one in reckoning.left] == [(label(3), Kind.STOPPED)]
    assert [(one.article, one.card) for one in reckoning.exchanged] == [(label(3), card(4))]
    assert [one.article for one in reckoning.unexpected] == [label(9)]


def test_voided_and_withdrawn_are_reckoned_with(tmp_path: Path, ledger: Ledger) -> None:
    loaded(ledger, read_list(write(tmp_path, rows(1, 2))))
    work(ledger, label(1), card(1), f"box {label(1)}", "void 3 torn", "void 2 not mailed")
    reckoning = reckon(ledger, since=NOW - timedelta(days=1))
    assert reckoning.expected == 1
    assert reckoning.missing == ()
    assert [(one.article, one.kind) for one in reckoning.left] == [(label(1), Kind.PAIRED)]
