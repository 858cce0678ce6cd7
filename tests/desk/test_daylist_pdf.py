"""The acceptance list on paper, read back with PDFium (which reportlab knows nothing of)."""

from __future__ import annotations

import random
import re
from datetime import date
from pathlib import Path

import pypdfium2
import pytest
import reportlab
from hypothesis import given, settings
from hypothesis import strategies as st

from pairing.demo.scenario import SENDER
from pairing.desk.daylist import Change, DayList, Row
from pairing.desk.daylist_pdf import PAPERS, Sheet, pdf
from pairing.errors import OutputRefused
from pairing.numbers import identify, printed
from tests.ledger.making import card, label

DAY = date(2026, 3, 2)
LONGEST = "92612901131854174685101234"
MM = 72 / 25.4


def rows(count: int, start: int = 1) -> tuple[Row, ...]:
    return tuple(
        Row(sequence=number, article=label(number), card=card(number))
        for number in range(start, start + count)
    )


def a_list(count: int, **more: object) -> DayList:
    found = {"day": DAY, "desk": "", "number": 1, "supplements": (), "entered": rows(count)}
    return DayList(**(found | {"standing": count} | more))  # type: ignore[arg-type]


def pages(data: bytes) -> list[str]:
    """The text of each page, as PDFium reads it."""
    document = pypdfium2.PdfDocument(data)
    return [page.get_textpage().get_text_bounded() for page in document]


def numbers_on(page: str) -> list[str]:
    """Every article number of the page (22 digits in groups) in reading order."""
    found = re.findall(r"92\d\d(?: \d{4}){4} \d\d", page)
    return [text.replace(" ", "") for text in found]


def test_one_page_has_all_that_a_list_needs() -> None:
    (page,) = pages(pdf(a_list(7), Sheet(sender=SENDER)))
    # PS Form 3877 (6/2011), guide: numerical order, total entered; the rest is our own.
    assert numbers_on(page) == [label(number) for number in range(1, 8)]
    assert "Total sealed on this list: 7" in page
    assert "page 1 of 1" in page
    assert "2026-03-02" in page
    for line in SENDER:
        assert line in page
    for number in range(1, 8):
        assert printed(identify(card(number))) in page
    assert "Acceptance mark" in page
    assert "Nothing is listed below" in page


@settings(max_examples=25, deadline=None)
@given(count=st.integers(1, 130), paper=st.sampled_from(sorted(PAPERS)), named=st.booleans())
def test_every_row_is_on_one_page_and_no_page_is_a_signature_alone(
    count: int, paper: str, named: bool
) -> None:
    about = {key: {"name": "Isaura Penbrook, 3 Lantern Steps"} for key in range(1, count + 1, 3)}
    found = pages(pdf(a_list(count), Sheet(paper=paper, about=about if named else {})))
    shown = [number for page in found for number in numbers_on(page)]
    assert shown == [label(number) for number in range(1, count + 1)]
    assert all(numbers_on(page) for page in found)
    for place, page in enumerate(found, 1):
        assert f"page {place} of {len(found)}" in page
        assert f"Lines on this page: {len(numbers_on(page))}" in page
        assert ("Total sealed" in page) == (place == len(found))
        assert "initials" in page


@pytest.mark.parametrize("paper", sorted(PAPERS))
@pytest.mark.parametrize("count", [1, 24, 25, 26, 27, 28, 29, 30, 31, 59, 60, 61, 62])
def test_nothing_runs_over_the_edge_or_into_the_next(count: int, paper: str) -> None:
    about = {key: {"name": "Theda Orrick, 40 Causeway Road, Quillhaven"} for key in range(1, 5)}
    data = pdf(a_list(count), Sheet(sender=SENDER * 2, paper=paper, about=about, seal=("x" * 90,)))
    document = pypdfium2.PdfDocument(data)
    for page in document:
        text = page.get_textpage()
        boxes = [text.get_rect(index) for index in range(text.count_rects())]
        width, height = page.get_size()
        for left, bottom, right, top in boxes:
            assert left > 10 * MM
            assert right < width - 10 * MM
            assert bottom > 8 * MM
            assert top < height - 10 * MM
        for index, one in enumerate(boxes):
            for other in boxes[index + 1 :]:
                assert not _overlap(one, other), (one, other)


def _overlap(one: tuple[float, ...], other: tuple[float, ...]) -> bool:
    return (
        min(one[2], other[2]) - max(one[0], other[0]) > 0.5
        and min(one[3], other[3]) - max(one[1], other[1]) > 0.5
    )


def test_a_long_number_is_set_smaller_rather_than_over_the_next() -> None:
    row = Row(sequence=1, article=LONGEST, card=card(1))
    data = pdf(a_list(1, entered=(row,)), Sheet())
    text = pypdfium2.PdfDocument(data)[0].get_textpage()
    boxes = [text.get_rect(index) for index in range(text.count_rects())]
    assert not any(_overlap(a, b) for i, a in enumerate(boxes) for b in boxes[i + 1 :])
    assert printed(identify(LONGEST)) in text.get_text_bounded()


def test_a_supplement_strikes_and_changes() -> None:
    was, now = rows(1, 50)[0], Row(sequence=50, article=label(50), card=card(99))
    found = a_list(
        2,
        number=2,
        supplements=(1,),
        struck=rows(1, 40),
        changed=(Change(was=was, now=now),),
        standing=41,
    )
    (page,) = pages(pdf(found, Sheet()))
    assert "Supplement to list 1" in page
    assert "Total sealed on this list: 2" in page
    assert "Voided: 1, corrected: 1. On all lists of this day now: 41" in page
    order = [
        page.index(text)
        for text in ("Also sealed", "Strike these", "voided", "Change these", "was", "now")
    ]
    assert order == sorted(order)
    assert printed(identify(card(99))) in page


def test_a_struck_row_is_struck_through() -> None:
    """The line is a path on the page; a first list has one path fewer a row."""
    plain = pypdfium2.PdfDocument(pdf(a_list(1, supplements=(1,)), Sheet()))[0]
    struck = pypdfium2.PdfDocument(
        pdf(a_list(0, entered=(), supplements=(1,), struck=rows(1)), Sheet())
    )[0]
    paths = [len([one for one in page.get_objects() if one.type == 2]) for page in (plain, struck)]
    assert paths[1] == paths[0] + 1


def test_names_are_in_a_face_that_is_embedded_and_long_ones_are_broken() -> None:
    long = "Theda Orrick-Švarcová of the Fenwater Growers' Association, " + "Long Drove Farm, " * 9
    data = pdf(a_list(2), Sheet(about={1: {"name": long}, 2: {"name": "Åsa Łacka"}}))
    (page,) = pages(data)
    assert "Åsa Łacka" in page
    assert "Švarcová" in page
    assert "..." in page
    assert b"/FontFile2" in data  # ISO 32000-1, 9.9: an embedded TrueType program


def test_letters_that_the_font_lacks_are_said_and_not_left_out() -> None:
    with pytest.raises(OutputRefused, match="lacks 2 characters") as caught:
        pdf(a_list(1), Sheet(about={1: {"name": "Жэ"}}))
    assert "--font" in caught.value.remedy


@pytest.mark.parametrize("content", [b"", b"no font", b"\x00\x01\x00\x00" + b"\xff" * 40])
def test_a_file_that_is_no_font_is_said(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "x.ttf"
    path.write_bytes(content)
    for font in (path, tmp_path / "gone.ttf", tmp_path):
        with pytest.raises(OutputRefused, match="not a TrueType font"):
            pdf(a_list(1), Sheet(font=font))


def test_a_damaged_font_is_refused_or_used_and_raises_nothing_else(tmp_path: Path) -> None:
    whole = (Path(reportlab.__file__).parent / "fonts" / "Vera.ttf").read_bytes()
    chance = random.Random(3)
    path = tmp_path / "x.ttf"
    refused = 0
    for _ in range(60):
        data = bytearray(whole[: chance.choice((len(whole), len(whole) // 2, 2000))])
        for _ in range(chance.choice((1, 20, 300))):
            data[chance.randrange(min(len(data), 4000))] = chance.randrange(256)
        path.write_bytes(data)
        try:
            pdf(a_list(1), Sheet(sender=("abc",), font=path))
        except OutputRefused as problem:
            refused += 1
            assert str(path) in str(problem)
    assert refused > 20


def test_another_font_can_be_named() -> None:
    other = Path(reportlab.__file__).parent / "fonts" / "VeraIt.ttf"
    assert pages(pdf(a_list(1), Sheet(sender=("A b",), font=other)))[0].count("A b") == 1


def test_the_same_list_gives_the_same_bytes() -> None:
    assert pdf(a_list(40), Sheet(sender=SENDER)) == pdf(a_list(40), Sheet(sender=SENDER))
