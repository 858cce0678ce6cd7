"""`daylist`, `returned` and `outstanding`, as their users call them."""

from __future__ import annotations

import csv
import io
import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from pathlib import Path

import pypdfium2
import pytest

from pairing import output
from pairing.demo.scenario import SENDER
from pairing.errors import OutputRefused
from pairing.ledger import Draft, Kind, Ledger
from pairing.numbers import is_number
from pairing.numbers.checkdigit import mod10
from tests.cli.calling import call
from tests.ledger.making import Clock, card, label, pair, void

SAMPLES = Path(__file__).resolve().parent.parent.parent / "sample_scans"
STRIP_ARTICLE, STRIP_CARD = "9589073361400182450735", "9590948231076137543417"
"""Sample 0001: its strip's barcode repeats the label (sample_scans/manifest.csv)."""


@pytest.fixture(autouse=True)
def surroundings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A ledger of this test alone, whatever the environment says; UTC."""
    monkeypatch.setenv("COUNTERFOIL_LEDGER", str(tmp_path / "ledger.db"))
    monkeypatch.setenv("COUNTERFOIL_DESK", "desk 5")
    monkeypatch.setenv("COUNTERFOIL_OPERATOR", "clerk 5")
    monkeypatch.delenv("COUNTERFOIL_SENDER", raising=False)
    monkeypatch.setenv("TZ", "UTC")
    time.tzset()
    monkeypatch.chdir(tmp_path)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Three pieces of 2 March, one with names."""
    place = tmp_path / "ledger.db"
    with Ledger.open(str(place), clock=Clock(now=datetime(2026, 3, 2, 12, tzinfo=UTC))) as ledger:
        for number in (30, 4, 200):
            names = {"name": "Isaura Penbrook"} if number == 4 else {}
            ledger.append(pair(number, number, particulars=names))
    return place


DAY = ("--day", "2026-03-02")


def rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text)))


def pdf_text(path: Path) -> str:
    document = pypdfium2.PdfDocument(path)
    return "\n".join(page.get_textpage().get_text_bounded() for page in document)


def test_the_days_list_on_paper_and_as_csv(path: Path, tmp_path: Path) -> None:
    target, table = tmp_path / "list.pdf", tmp_path / "list.csv"
    sender = "; ".join(SENDER)
    done = call("daylist", *DAY, "--pdf", target, "--csv", table, "--sender", sender)
    assert done.code == 0
    assert "3 sealed" in done.out
    text = pdf_text(target)
    assert "page 1 of 1" in text
    assert "Total sealed on this list: 3" in text
    for line in SENDER:
        assert line in text
    assert "Penbrook" not in text
    found = rows(table.read_text())
    assert [row["article"].replace(" ", "") for row in found] == [
        label(number) for number in (4, 30, 200)
    ]
    # The paper is tied to the ledger: its root is printed there, as verify gives it.
    foot = f"5:{verified_root()}"
    assert f"ledger {foot}" in text
    with Ledger.open(str(path)) as ledger:
        ledger.append(pair(5, 5))
    assert call("ledger", "verify", "--root", foot).code == 0
    for wrong in (f"3{foot[1:]}", f"4:{'ab' * 32}", f"9{foot[1:]}"):
        done = call("ledger", "verify", "--root", wrong)
        assert done.code == 10
        assert "not the ledger that the root was given for" in done.out
    for nonsense in ("4", foot[:-1], "0" + foot[1:]):
        assert call("ledger", "verify", "--root", nonsense).code == 2


def verified_root() -> str:
    out = call("ledger", "verify").out
    return out.partition("  root ")[2].split()[0]


def test_a_piece_voided_after_printing_shows_on_a_supplement(path: Path, tmp_path: Path) -> None:
    assert call("daylist", *DAY, "--csv", "-").code == 0
    with Ledger.open(str(path)) as ledger:
        ledger.append(void(2))
    done = call("daylist", *DAY, "--pdf", tmp_path / "s.pdf", "--csv", "-")
    assert done.code == 0
    assert [row["says"] for row in rows(done.out)] == ["voided"]
    assert "Supplement to list 1" in pdf_text(tmp_path / "s.pdf")
    assert "1 voided" in done.err
    again = call("daylist", *DAY, "--csv", "-")
    assert (again.code, again.out) == (11, "")
    assert "Nothing has changed" in again.err


def test_a_void_after_the_day_is_told_with_the_next_days_list(path: Path) -> None:
    assert call("daylist", *DAY, "--csv", "-").code == 0
    with Ledger.open(str(path), clock=Clock(now=datetime(2026, 3, 3, 12, tzinfo=UTC))) as ledger:
        ledger.append(void(2))
        ledger.append(pair(5, 5))
    done = call("daylist", "--day", "2026-03-03", "--csv", "-")
    assert done.code == 0
    assert "counterfoil daylist --day 2026-03-02" in " ".join(done.err.split())


def test_a_copy_and_a_draft_are_called_so_and_record_nothing(path: Path, tmp_path: Path) -> None:
    assert call("daylist", *DAY, "--again", "--csv", "-").code == 11
    draft = call("daylist", *DAY, "--draft", "--pdf", tmp_path / "d.pdf")
    assert draft.code == 0
    assert "Draft: not recorded" in pdf_text(tmp_path / "d.pdf")
    call("daylist", *DAY, "--csv", "first.csv")
    with Ledger.open(str(path)) as ledger:
        size = ledger.size()
    copy = call("daylist", *DAY, "--again", "--pdf", tmp_path / "c.pdf", "--csv", "-")
    assert copy.code == 0
    assert copy.out == Path("first.csv").read_text()
    assert "Copy of a list" in pdf_text(tmp_path / "c.pdf")
    with Ledger.open(str(path)) as ledger:
        assert ledger.size() == size
        lists = [one for one in ledger.entries(kinds=[Kind.NOTE]) if one.key[:8] == "daylist/"]
        assert len(lists) == 1


def test_names_are_on_a_list_only_if_asked(path: Path, tmp_path: Path) -> None:
    assert "Penbrook" in call("daylist", *DAY, "--draft", "--names", "--csv", "-").out
    call("daylist", *DAY, "--names", "--paper", "a4", "--pdf", tmp_path / "n.pdf")
    assert "Isaura Penbrook" in pdf_text(tmp_path / "n.pdf")


def test_a_list_that_cannot_be_written_was_not_given_out(path: Path, tmp_path: Path) -> None:
    taken = tmp_path / "taken.pdf"
    taken.write_text("mine")
    for words in (
        ("--pdf", taken),
        ("--csv", taken),
        ("--pdf", tmp_path / "no" / "l.pdf"),
        ("--pdf", tmp_path),
        ("--pdf", tmp_path / "l.pdf", "--font", path),
        ("--pdf", tmp_path / "l.pdf", "--sender", "\u0416"),
    ):
        done = call("daylist", *DAY, *words)
        assert done.code == 13, words
        assert done.err.startswith("Not done: ")
    assert taken.read_text() == "mine"
    with Ledger.open(str(path)) as ledger:
        assert ledger.size() == 3
    assert call("daylist", *DAY, "--csv", "-").code == 0


def test_a_list_that_is_recorded_and_not_printed_can_be_printed(
    path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object, **__: object) -> int:
        raise OutputRefused("No space left on device", where="l.pdf", remedy="Make room.")

    with monkeypatch.context() as patched:
        patched.setattr(output, "write_new", full)
        done = call("daylist", *DAY, "--pdf", tmp_path / "l.pdf")
    assert done.code == 13
    assert "Make room. The list is recorded: print it with --again." in done.err
    assert call("daylist", *DAY, "--again", "--pdf", tmp_path / "l.pdf").code == 0
    assert "Total sealed on this list: 3" in pdf_text(tmp_path / "l.pdf")


@pytest.mark.parametrize(
    "words",
    [
        (),
        ("--csv", "-", "--draft", "--again"),
        ("--csv", "x", "--pdf", "x"),
        ("--csv", "-", "--day", "tomorrow"),
        ("--csv", "-", "--paper", "a0"),
        ("--csv", "-", "--sender", "1;2;3;4;5;6"),
    ],
)
def test_daylist_called_wrongly(path: Path, words: tuple[str, ...]) -> None:
    assert call("daylist", *words).code == 2


def test_a_day_without_pieces(path: Path) -> None:
    done = call("daylist", "--csv", "-")
    assert done.code == 11
    assert "No piece of" in done.err
    done = call("daylist", *DAY, "--csv", "-", "--desk", "no such desk")
    assert done.code == 11


# Returned


def test_a_card_on_the_command_line(path: Path) -> None:
    done = call("returned", card(4), "--box", label(4), "--signed", "2026-03-05", "--name", "I. P.")
    assert done.code == 0
    assert "In order  (agrees)" in done.out
    assert "(keyed)" in done.out
    assert "3 days after it was sealed" in done.out
    assert "by clerk 7 at desk 1" in done.out
    with Ledger.open(str(path)) as ledger:
        entry = ledger.entry(4)
        assert entry is not None
        assert (entry.desk, entry.operator, entry.remark) == ("desk 5", "clerk 5", "2026-03-05")
        assert ledger.particulars(4) == {"signed by": "I. P."}


def test_cards_a_line_each_from_a_pipe(path: Path) -> None:
    lines = [
        card(30), f"box {label(30)}", "signed 2026-03-06",
        card(4), f"box {label(30)}",
        card(200), "",
        card(77), "next",
        "box 1",
    ]  # fmt: skip
    done = call("returned", stdin="\n".join(lines).encode())
    assert done.code == 10
    shown = [line for line in done.out.splitlines() if line.endswith(")") and "  " in line]
    heads = [line for line in shown if line.startswith(("9590", "Card"))]
    assert [line.rsplit("(", 1)[1] for line in heads] == [
        "agrees)", "differs)", "unread)", "unread)", "unread)",
    ]  # fmt: skip
    assert "the article in the box is that of entry 1" in " ".join(done.out.lower().split())
    assert "Nothing was recorded." in done.out


def test_without_a_box_the_articles_number_is_not_shown(path: Path) -> None:
    done = call("returned", card(4))
    assert done.code == 11
    assert label(4) not in (done.out + done.err).replace(" ", "")
    assert "shown once the box is read" in done.out
    assert call("returned", card(4), "--box", label(4)).code == 11  # signed? nobody said so
    again = call("returned", card(4), "--box", label(4), "--signed", "today")
    assert again.code == 0, again.out


@pytest.mark.parametrize(
    "stdin", [b"", b"\n\n", b"\x00\xff\xfe\n", b"9" * 200_000, b"next\nagain\n"]
)
def test_a_pipe_without_a_card(path: Path, stdin: bytes) -> None:
    done = call("returned", stdin=stdin)
    assert done.code == 11
    assert "No card was read." in done.err
    with Ledger.open(str(path)) as ledger:
        assert ledger.size() == 3


@pytest.mark.parametrize(
    "words",
    [
        (card(1), card(2), "--box", "1"),
        ("--box", "1"),
        ("--name", "x"),
        (card(1), "--signed", "5 March"),
        (card(1), "--signed", "today", "--unsigned"),
        ("9590", "9400", "0000"),
    ],
)
def test_returned_called_wrongly(path: Path, words: tuple[str, ...]) -> None:
    assert call("returned", *words).code == 2


def mailed(article: str, with_card: str) -> Draft:
    return replace(pair(0, 0), article=article, written=article, card=with_card, readings=())


def test_a_photo_of_a_card(path: Path) -> None:
    """Sample 0001: a strip with bars. Its photo is named by hash, and kept only if asked."""
    photo = SAMPLES / "0001-card.jpg"
    digest = sha256(photo.read_bytes()).hexdigest()
    with Ledger.open(str(path)) as ledger:
        ledger.append(mailed(STRIP_ARTICLE, STRIP_CARD))
    done = call("returned", "--photo", photo, "--signed", "today")
    assert done.code == 0, done.out + done.err
    with Ledger.open(str(path)) as ledger:
        entry = list(ledger.entries())[-1]
        assert {one.photo_sha256 for one in entry.readings} == {digest}
        assert ledger.photo(digest) is None
    again = call("returned", "--photo", photo, "--keep-photos", "--unsigned")
    assert again.code == 11
    assert "This card is not signed." in again.out
    with Ledger.open(str(path)) as ledger:
        assert ledger.photo(digest) == photo.read_bytes()


HAND_ARTICLE, HAND_CARD = "9407388126041970708426", "9590948231086170095101"
"""Sample 0010: written by hand (sample_scans/manifest.csv)."""


def test_a_box_written_by_hand_in_a_photo(path: Path) -> None:
    with Ledger.open(str(path)) as ledger:
        ledger.append(mailed(HAND_ARTICLE, HAND_CARD))
    done = call("returned", "--photo", SAMPLES / "0010-card.jpg", "--signed", "today")
    assert done.code == 0, done.out + done.err
    assert "(hand)" in done.out
    with Ledger.open(str(path)) as ledger:
        entry = list(ledger.entries())[-1]
        assert {one.how.value for one in entry.readings if one.side.value == "box"} == {"hand"}


def _near() -> list[str]:
    """Valid numbers near that one: the next three of the pad, and jump swaps, which the check
    digit never sees (handbook, 6.3)."""
    front = HAND_ARTICLE[:-1]
    found = [str(int(front) + step) for step in (1, 2, 10)]
    near = [one + mod10(one) for one in found]
    for place in (4, 12, 16):
        swapped = list(HAND_ARTICLE)
        swapped[place], swapped[place + 2] = swapped[place + 2], swapped[place]
        near.append("".join(swapped))
    return [one for one in near if one != HAND_ARTICLE]


@pytest.mark.parametrize("article", _near())
def test_a_box_written_by_hand_never_agrees_with_another_article(path: Path, article: str) -> None:
    """The reading is made without the ledger's number, so a near one does not pull it over."""
    assert is_number(article)
    with Ledger.open(str(path)) as ledger:
        ledger.append(mailed(article, HAND_CARD))
    done = call("returned", "--photo", SAMPLES / "0010-card.jpg")
    assert done.code in (10, 11), done.out
    assert "In order" not in done.out.replace("Not in order", "")


def test_what_is_no_photo_is_said(path: Path, tmp_path: Path) -> None:
    (tmp_path / "x.jpg").write_bytes(b"\xff\xd8 no picture")
    for place in (tmp_path / "x.jpg", tmp_path / "gone.jpg", tmp_path, path):
        done = call("returned", "--photo", place)
        assert done.code == 13
        assert done.err.startswith("Not done: ")
    with Ledger.open(str(path)) as ledger:
        assert ledger.size() == 3


# Outstanding


def test_what_is_outstanding(tmp_path: Path) -> None:
    clock = Clock(now=datetime.now(UTC) - timedelta(days=100))
    with Ledger.open(str(tmp_path / "ledger.db"), clock=clock) as ledger:
        ledger.append(pair(1, 1))
        clock.now += timedelta(days=70)
        ledger.append(pair(2, 2, desk="south"))
        clock.now += timedelta(days=29)
        ledger.append(pair(3, 3))
    done = call("outstanding", "--older-than", "30d")
    assert done.code == 0
    assert "2 cards outstanding." in done.out
    assert "(past)" in done.out
    assert "postal operator" in " ".join(done.out.split())
    found = call("outstanding", "--older-than", "6w", "--csv", "-")
    assert [row["article"].replace(" ", "") for row in rows(found.out)] == [label(1)]
    assert "postal operator" in " ".join(found.err.split())
    assert len(rows(call("outstanding", "--csv", "-").out)) == 3
    assert len(rows(call("outstanding", "--csv", "-", "--desk", "south").out)) == 1
    assert call("outstanding", "--csv", "o.csv").code == 0
    assert call("outstanding", "--csv", "o.csv").code == 13
    assert "(past)" not in call("outstanding", "--inquiry", "120d").out


@pytest.mark.parametrize("span", ["30x", "-1d", "", "d", "1e9d", "99999d"])
def test_spans_that_are_none(path: Path, span: str) -> None:
    assert call("outstanding", "--older-than", span).code == 2


@pytest.mark.parametrize("name", ["daylist", "returned", "outstanding"])
def test_each_command_has_help_and_is_listed(name: str) -> None:
    assert call(name, "--help").code == 0
    assert f"  {name} " in call("--help").out


def test_the_local_day_counts(path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """12:00 UTC of 2 March is the 3rd in Kiritimati (UTC+14, IANA)."""
    if not hasattr(time, "tzset") or not Path("/usr/share/zoneinfo/Pacific/Kiritimati").exists():
        pytest.skip("needs the IANA time zones of the system")
    monkeypatch.setenv("TZ", "Pacific/Kiritimati")
    time.tzset()
    try:
        assert call("daylist", *DAY, "--draft", "--csv", "-").code == 11
        assert call("daylist", "--day", "2026-03-03", "--draft", "--csv", "-").code == 0
        assert "2026-03-03 02:00" in call("ledger", "list").out
        assert "+14:00" in call("ledger", "show", label(4)).out
    finally:
        monkeypatch.setenv("TZ", "UTC")
        time.tzset()
