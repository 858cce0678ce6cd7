"""For whom a piece is and why: said at the counter, declared by a list, carried by the lists.

The words are the program's own. What a list for the post office wants (addressee, services, fees
in columns, their total) is said by the Guide to Firm Mailers printed with PS Form 3877 (6/2011),
as quoted in ../shared/forms.md."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC
from decimal import Decimal
from pathlib import Path

import pypdfium2
import pytest

from pairing.desk import daylist
from pairing.desk.answers import Advice
from pairing.desk.counter import Counter
from pairing.desk.daylist_rows import csv_lines
from pairing.desk.expecting import load
from pairing.desk.for_whom import Asked, Field, addressee, amount, described, total
from pairing.desk.inquiry_pdf import pdf
from pairing.desk.outstanding import csv_lines as csv_rows
from pairing.desk.outstanding import outstanding
from pairing.desk.pairlist import read_list
from pairing.desk.remarks import Say
from pairing.ledger import Kind, Ledger
from pairing.numbers import printed
from tests.ledger.making import Clock, card, label


@pytest.fixture
def clock() -> Clock:
    """A clock that goes on by itself."""
    return Clock()


@pytest.fixture
def ledger(tmp_path: Path, clock: Clock) -> Iterator[Ledger]:
    """A new ledger."""
    with Ledger.open(str(tmp_path / "ledger.db"), clock=clock) as opened:
        yield opened


def _counter(ledger: Ledger, clock: Clock, asked: Asked = Asked.NEVER) -> Counter:
    return Counter(ledger, desk="desk 1", operator="clerk 7", clock=clock, asked=asked)


def _seal(counter: Counter, number: int) -> int:
    """Scan and key a good piece; its entry."""
    counter.take(label(number))
    counter.take(card(number))
    (done,) = counter.take(f"/{label(number)}").finished
    assert done.advice is Advice.SEAL
    assert done.entry is not None
    return done.entry.sequence


def _codes(answer: object) -> list[Say]:
    return [one.code for one in answer.remarks]  # type: ignore[attr-defined]


def test_what_is_said_in_between_goes_with_the_piece_in_hand(ledger: Ledger, clock: Clock) -> None:
    counter = _counter(ledger, clock)
    counter.take(label(1))
    assert _codes(counter.take("to Adaline Orrick")) == [Say.FOR_WHOM_TAKEN]
    counter.take("address 4 Weir Lane,  Quillhaven")
    counter.take("fee $8.65")
    counter.take(card(1))
    counter.take(f"/{label(1)}")
    second = _seal(counter, 2)
    about = ledger.about([1, second])
    assert about == {
        1: {"name": "Adaline Orrick", "address": "4 Weir Lane, Quillhaven", "fee": "$8.65"}
    }
    entry = ledger.entry(1)
    assert entry is not None
    assert "Orrick" not in str(entry)  # beside the entry, not in it


def test_what_is_said_after_the_seal_goes_with_the_piece_that_was_sealed(
    ledger: Ledger, clock: Clock
) -> None:
    counter = _counter(ledger, clock, Asked.AFTER)
    counter.take(label(1))
    counter.take(card(1))
    answer = counter.take(f"/{label(1)}")
    assert _codes(answer) == [Say.FOR_WHOM_ENTRY]
    assert answer.finished[0].advice is Advice.SEAL  # nothing waits for the answer
    (remark,) = counter.take("to Adaline Orrick").remarks
    assert (remark.code, remark.entry) == (Say.FOR_WHOM_ADDED, 1)
    counter.take("to Adaline Orrick-Hale")  # said again, the later holds
    assert ledger.about([1]) == {1: {"name": "Adaline Orrick-Hale"}}
    assert ledger.forget(label(1), desk="", operator="") == 2
    assert ledger.about([1]) == {}


def test_what_is_asked_before_goes_with_the_next_piece(ledger: Ledger, clock: Clock) -> None:
    counter = _counter(ledger, clock, Asked.BEFORE)
    first = _seal(counter, 1)
    assert _codes(counter.take("ref 2026-CV-00417")) == [Say.FOR_WHOM_NEXT]
    assert Say.FOR_WHOM not in _codes(counter.take(label(2)))
    counter.take(card(2))
    counter.take(f"/{label(2)}")
    assert Say.FOR_WHOM in _codes(counter.take(label(3)))
    assert ledger.about([first, 2]) == {2: {"reference": "2026-CV-00417"}}


def test_a_reference_is_scanned_from_the_letter(ledger: Ledger, clock: Clock) -> None:
    counter = _counter(ledger, clock)
    counter.take(label(1))
    assert _codes(counter.take("ref")) == [Say.REFERENCE_NEXT]
    assert counter.reference_is_next
    counter.take("INV 88-1207")
    assert counter.about == {"reference": "INV 88-1207"}
    # A label or card is never taken for a reference.
    counter.take("ref")
    answer = counter.take(card(1))
    assert Say.REFERENCE_IS_NUMBER in _codes(answer)
    (done,) = counter.take(f"/{label(1)}").finished
    assert done.advice is Advice.SEAL
    assert ledger.about([1]) == {1: {"reference": "INV 88-1207"}}


def test_starting_over_forgets_for_whom_it_was(ledger: Ledger, clock: Clock) -> None:
    counter = _counter(ledger, clock)
    counter.take(label(1))
    counter.take("to Adaline Orrick")
    counter.take("again")
    assert _seal(counter, 1) == 1
    assert ledger.about([1]) == {}


def test_a_stopped_piece_keeps_it_for_the_same_label_and_card_alone(
    ledger: Ledger, clock: Clock
) -> None:
    counter = _counter(ledger, clock)
    counter.take(label(1))
    counter.take("to Adaline Orrick")
    counter.take(card(1))
    (done,) = counter.take(f"/{label(9)}").finished
    assert done.advice is Advice.DO_NOT_SEAL
    assert _seal(counter, 2) == 2
    assert _seal(counter, 1) == 3
    assert ledger.about([2, 3]) == {3: {"name": "Adaline Orrick"}}


LIST = """number,card,Name,address,REFERENCE,service,fee,remark
{0},{1},Adaline Orrick,4 Weir Lane,2026-CV-00417,Return receipt,8.65,x
{2},{3},José Peña,,,Return receipt,"$1,208.10",y
{4},{5},,,,,as agreed,z
"""


def _load(ledger: Ledger, path: Path, clock: Clock, text: str) -> None:
    path.write_text(text, "utf-8")
    load(ledger, read_list(path), desk="d", operator="o", now=clock.now)


def _list() -> str:
    return LIST.format(*(one for number in (1, 2, 3) for one in (label(number), card(number))))


def test_the_list_says_for_whom_a_piece_is(ledger: Ledger, clock: Clock, tmp_path: Path) -> None:
    _load(ledger, tmp_path / "pairs.csv", clock, _list())
    counter = _counter(ledger, clock, Asked.BEFORE)
    assert Say.FOR_WHOM not in _codes(counter.take(label(1)))  # it is known
    counter.take("to Adaline Orrick-Hale")  # the clerk's word is the later one
    counter.take(card(1))
    counter.take(f"/{label(1)}")
    second, third = _seal(counter, 2), _seal(counter, 3)
    about = ledger.about([4, second, third])
    assert about[4]["name"] == "Adaline Orrick-Hale"
    assert about[4]["reference"] == "2026-CV-00417"
    assert about[second] == {"name": "José Peña", "service": "Return receipt", "fee": "$1,208.10"}
    assert about[third] == {"fee": "as agreed"}
    found = daylist.compose(ledger, clock.now.date())
    rows = list(csv_lines(found, daylist.about(ledger, found)))
    assert rows[0].rstrip().endswith("addressee,reference,service,fee,piece")
    assert rows[1].rstrip().endswith('"Adaline Orrick-Hale, 4 Weir Lane",2026-CV-00417,'
                                     "Return receipt,8.65,")  # fmt: skip
    said = total(about.values())
    assert (said.fees, said.counted, said.unclear) == (Decimal("1216.75"), 2, 1)
    assert said.services == {"Return receipt": 2}
    assert said.sentence == ("Return receipt 2; fees 1216.75 for 2; fees that are not an amount: 1")


def test_a_list_that_is_loaded_again_adds_the_names(
    ledger: Ledger, clock: Clock, tmp_path: Path
) -> None:
    path = tmp_path / "pairs.csv"
    _load(ledger, path, clock, f"a,b\n{label(1)},{card(1)}\n")
    assert ledger.declared(article=label(1), card=None) == {}
    for _ in range(2):
        _load(ledger, path, clock, f"a,b,name\n{label(1)},{card(1)},Adaline Orrick\n")
    assert ledger.declared(article=label(1), card=None) == {"name": "Adaline Orrick"}
    assert len(list(ledger.entries(kinds=[Kind.NOTE]))) == 1


def test_columns_may_be_named(tmp_path: Path) -> None:
    path = tmp_path / "pairs.csv"
    path.write_text(f"nr,who,case\n{printed(label(1))},Adaline Orrick,417\n", "utf-8")
    pairs = read_list(path, about={Field.NAME: "who", Field.REFERENCE: "3"})
    assert pairs.pairs[0].about == {"name": "Adaline Orrick", "reference": "417"}


@pytest.mark.parametrize(
    ("text", "sum_of_it"),
    [
        ("8.65", "8.65"), ("$8.65", "8.65"), ("8,65 EUR", "8.65"), ("1,208.65", "1208.65"),
        ("1.208,65", "1208.65"), ("12", "12"), ("free", None), ("", None), ("8.6.5", None),
    ],
)  # fmt: skip
def test_amounts(text: str, sum_of_it: str | None) -> None:
    """Common ways to write an amount; no source."""
    assert amount(text) == (None if sum_of_it is None else Decimal(sum_of_it))


def test_what_stands_on_a_list() -> None:
    about = {"address": "4 Weir\nLane", "name": "A. Orrick", "reference": "417", "fee": "8.65",
             "service": "Registered"}  # fmt: skip
    assert addressee(about) == "A. Orrick, 4 Weir Lane"
    assert described(about) == "A. Orrick, 4 Weir Lane; Registered; reference 417"


def test_the_inquiry_list_has_number_day_and_addressee(ledger: Ledger, clock: Clock) -> None:
    counter = _counter(ledger, clock)
    for number in (1, 2):
        counter.take(label(number))
        counter.take(f"to Tamsin <Weatherby> {number}")
        counter.take("fee 8.65")
        counter.take(card(number))
        counter.take(f"/{label(number)}")
    rows = list(outstanding(ledger, now=clock.now, zone=UTC))
    assert [row.about["name"][-1] for row in rows] == ["1", "2"]
    assert "Tamsin <Weatherby> 1" in list(csv_rows(iter(rows)))[1]
    data = pdf(rows, day=clock.now.date(), sender=("Drainage Board of Quillhaven",))
    assert data == pdf(rows, day=clock.now.date(), sender=("Drainage Board of Quillhaven",))
    page = pypdfium2.PdfDocument(data)[0]
    words = " ".join(page.get_textpage().get_text_range().split())
    for row in rows:
        assert printed(row.piece.article) in words
    for text in (
        "Tamsin <Weatherby> 2",
        "2026-03-02",
        "17.30",
        "Drainage Board",
        "Articles on this",
    ):
        assert text in words
