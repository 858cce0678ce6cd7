"""A day at the counter with names, as typed: what the lists and the search say of it."""

from __future__ import annotations

import json
from pathlib import Path

import pypdfium2

from tests.cli.calling import call
from tests.desk.test_piece_kind import PARCEL_SELECT
from tests.ledger.making import card, label


def test_a_day_with_names_and_the_search_for_them(tmp_path: Path) -> None:
    ledger, listed = tmp_path / "ledger.db", tmp_path / "pairs.csv"
    listed.write_text(
        f"article,card,name,reference,service,fee\n"
        f"{label(1)},{card(1)},Adaline Orrick,2026-CV-00417,Return receipt,8.65\n"
        f"{label(2)},{card(2)},,,,\n",
        "utf-8",
    )
    done = call("expect", listed, "--ledger", ledger)
    assert "name     name (1 filled)" in done.out
    lines = [
        label(1), card(1), f"/{label(1)}",
        label(2), "to José \x1b[31mPeña", card(2), f"/{label(2)}", "fee 1.35",
    ]  # fmt: skip
    day = call("counter", "--ledger", ledger, "--ask", "after", stdin="\n".join(lines).encode())
    assert day.out.count("Seal") >= 2
    found = call("ledger", "find", "orrick", "--ledger", ledger)
    assert found.code == 0
    assert "Adaline Orrick; reference 2026-CV-00417; service Return receipt; fee 8.65" in found.out
    assert "its card has not come back" in found.out
    hit = json.loads(call("ledger", "find", "--json", "PENA", "--ledger", ledger).out)
    assert (hit["state"], hit["about"]["fee"]) == ("open", "1.35")
    shown = call("ledger", "find", "pena", "--ledger", ledger).out
    assert "\x1b" not in shown  # what is shown acts on no terminal
    none = call("ledger", "find", "orrick", "--state", "returned", "--ledger", ledger)
    assert (none.code, none.out) == (11, "")
    outstanding = call("outstanding", "--ledger", ledger).out
    assert "Adaline Orrick" in outstanding
    assert "fees 10.00 for 2" in outstanding
    day_list = tmp_path / "list.pdf"
    made = call("daylist", "--names", "--pdf", day_list, "--ledger", ledger)
    assert "Declared: Return receipt 1; fees 10.00 for 2." in made.out
    page = " ".join(pypdfium2.PdfDocument(day_list)[0].get_textpage().get_text_range().split())
    assert "Adaline Orrick; Return receipt" in page
    assert "fees 10.00 for 2" in page
    inquiry = tmp_path / "inquiry.pdf"
    assert call("outstanding", "--pdf", inquiry, "--ledger", ledger).code == 0
    assert "Adaline Orrick" in pypdfium2.PdfDocument(inquiry)[0].get_textpage().get_text_range()
    assert call("ledger", "forget", "--yes", label(1), "--ledger", ledger).code == 0
    assert call("ledger", "find", "orrick", "--ledger", ledger).code == 11


def test_a_parcels_label_on_a_letter_is_told_with_the_seal(tmp_path: Path) -> None:
    lines = [PARCEL_SELECT, card(1), "piece l", f"/{PARCEL_SELECT}"]
    day = call(
        "counter", "--ledger", tmp_path / "ledger.db", "--ask-kind", stdin="\n".join(lines).encode()
    )
    assert day.code == 0
    said = " ".join(day.out.replace("¦", " ").split())
    assert "The label is of a parcel's service, and the piece is a letter." in said
