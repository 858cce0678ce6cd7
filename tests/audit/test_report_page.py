"""The report in a real Chromium: reviewed by keyboard alone, its decisions taken back.

What is shown is held against the rows; access against axe-core's rules (Deque; WCAG 2.2 A, AA).
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import msgspec
import pytest

from pairing.audit.reports import outcome
from pairing.audit.run.rows import Row, RowBox, rows_in
from pairing.photos.pool import Pool
from tests.audit.making import lot, on_other_photos, report_job, row, take_back, with_rows
from tests.kiosk.driving import Browser, Tab
from tests.kiosk.looking import violations

RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


def reported(folder: Path, found: list[Any]) -> str:
    """The report's address."""
    return again(with_rows(folder, found))


def again(folder: Path) -> str:
    with report_job(folder) as job:
        counts, conclusion, missing = outcome.summarize(job, outcome.Records())
        pool: Pool[Any, Any] = Pool(1)
        path = outcome.report(
            job, counts, conclusion, missing, engine=pool.run, progress=lambda *_: None
        )
    return path.resolve().as_uri()


def press(tab: Tab, *keys: str) -> None:
    for key in keys:
        tab.run(tab.page.keyboard.press(key))


def saved(tab: Tab, folder: Path) -> Path:
    """What `s` saves."""

    async def download() -> Any:
        async with tab.page.expect_download() as coming:
            await tab.page.keyboard.press("s")
        return await coming.value

    target = folder / "decisions-given.json"
    tab.run(tab.run(download()).save_as(target))
    return target


def chosen(tab: Tab) -> str:
    return tab.text(".row.at b")


def doubtful(n: int) -> Row:
    """A row with a reading of which digits 3 and 7 are in doubt."""
    one = row(n, "unread")
    box = {
        "photo": one.photos[0].photo,
        "page": 1,
        "read": one.article,
        "read_by": "hand",
        "digit_probabilities": [],
        "doubtful": [3, 7],
        "unread": None,
        "found_by_shape": False,
        "place_px": [[0, 0], [1, 0], [1, 1], [0, 1]],
    }
    return msgspec.structs.replace(one, box=msgspec.convert(box, RowBox))


def test_reviewed_by_keyboard_and_taken_back(browser: Browser, tmp_path: Path) -> None:
    found = [row(0, "unread"), row(1, "differs"), row(2), row(3, "differs"), row(4, "differs")]
    address = reported(tmp_path, found)
    tab = browser.open(address, accept_downloads=True)
    assert chosen(tab) == "00001"  # those that differ come first
    press(tab, "j", "k", "c")
    assert chosen(tab) == "00003"
    press(tab, "n")
    tab.run(tab.page.keyboard.type("smudged; c and m in a note decide nothing"))
    press(tab, "Enter", "m")
    assert chosen(tab) == "00004"
    press(tab, "c", "k", "u")
    assert "2 looked at, 2 not saved yet" in tab.text("#count")
    press(tab, "n")  # a note without a decision is saved too
    tab.run(tab.page.keyboard.type("ask the day's clerk"))
    press(tab, "Enter")
    assert "2 looked at, 3 not saved yet" in tab.text("#count")
    tab.run(tab.page.reload())
    assert "2 looked at, 3 not saved yet" in tab.text("#count")
    given = saved(tab, tmp_path)
    assert "not saved" not in tab.text("#count")
    assert take_back(given, tmp_path) == (2, 0)
    after = {one.piece: one.review for one in rows_in(tmp_path / "rows.jsonl")}
    confirmed, misread = after["00001"], after["00003"]
    assert confirmed is not None
    assert misread is not None
    assert (confirmed.decision, misread.decision) == ("confirmed", "misread")
    assert misread.note.startswith("smudged")
    (left,) = [one for one in after.values() if one and one.decision == "noted"]
    assert left.note == "ask the day's clerk"
    # What was taken back can be undone in the next report.
    tab = browser.open(again(tmp_path), accept_downloads=True)
    press(tab, "u")
    assert take_back(saved(tab, tmp_path), tmp_path) == (1, 0)
    assert tab.errors == []


def test_decisions_on_other_photos_are_not_shown_as_made(browser: Browser, tmp_path: Path) -> None:
    """The browser keeps decisions by the report's place; another run may be written there."""
    tab = browser.open(reported(tmp_path, [row(0, "differs"), row(1, "differs")]))
    press(tab, "c", "c")
    assert "2 looked at" in tab.text("#count")
    reported(tmp_path, [on_other_photos(row(0, "differs")), row(1, "differs")])
    tab.run(tab.page.reload())
    assert "1 looked at" in tab.text("#count")


def test_differing_and_doubtful_digits_are_marked_below_them(
    browser: Browser, tmp_path: Path
) -> None:
    tab = browser.open(reported(tmp_path, [row(0, "differs"), doubtful(1)]))
    assert len(tab.run(tab.page.query_selector_all(".digits .x"))) == 2  # on label and box
    assert tab.text(".digits .marks").split() == ["^"]
    assert under(tab, "^") == {12 + 3}  # digit 13, three blanks before it
    press(tab, "j", "c")  # nobody can read it: only then the label is shown
    assert "box, in doubt" in tab.text(".digits")
    assert tab.text(".digits .marks").split() == ["?", "?"]
    assert under(tab, "?") == {2, 6 + 1}


def under(tab: Tab, mark: str) -> set[int]:
    """The places of a mark in its row."""
    cells = tab.run(
        tab.page.eval_on_selector_all(".marks td:not(.o)", "all => all.map(e => e.innerText)")
    )
    return {place for place, text in enumerate(cells) if text == mark}


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("wide_px", [340, 1360])
def test_it_fits_and_can_be_read(
    browser: Browser, tmp_path: Path, scheme: str, wide_px: int
) -> None:
    found = [*lot(200), row(500, "differs", piece="a very long folder name/" * 8), doubtful(501)]
    tab = browser.open(
        reported(tmp_path, found),
        color_scheme=scheme,
        viewport={"width": wide_px, "height": 800},
    )
    assert tab.run(tab.page.evaluate("document.documentElement.scrollWidth")) <= wide_px
    press(tab, "c", "j")
    assert tab.run(tab.page.evaluate("document.documentElement.scrollWidth")) <= wide_px
    assert violations(tab, {"type": "tag", "values": RULES}) == []
    assert tab.errors == []


def test_at_ten_thousand_pieces_only_what_is_seen_is_built(
    browser: Browser, tmp_path: Path
) -> None:
    found = list(lot(10_000))
    tab = browser.open(reported(tmp_path, found))
    bad = [one.piece for one in found if one.verdict != "agrees"]
    assert f"{len(bad):,} of {len(bad):,} shown" in tab.text("#count")
    assert len(tab.run(tab.page.query_selector_all(".row"))) < 60
    tab.run(tab.page.evaluate("document.getElementById('list').scrollTop = 1e9"))
    last = next(one.piece for one in reversed(found) if one.verdict == "unread")
    tab.run(tab.page.wait_for_selector(f".row:has-text('{last}')"))
    assert len(tab.run(tab.page.query_selector_all(".row"))) < 60
    good = next(one for one in reversed(found) if one.verdict == "agrees")
    tab.run(tab.page.fill("#good", good.article or ""))
    assert tab.text("#goodcount") == "1 found"
    assert good.piece in tab.text("#goodlist")


def test_the_gravest_finding_leads_to_its_piece(browser: Browser, tmp_path: Path) -> None:
    tab = browser.open(reported(tmp_path, [row(n, "differs") for n in range(4)]))
    press(tab, "j", "j")
    assert chosen(tab) == "00002"
    named = tab.run(tab.page.get_attribute("[data-go]", "data-go"))
    tab.run(tab.page.click("[data-go]"))
    assert chosen(tab) == named
    assert tab.errors == []


def test_the_pieces_are_on_paper_too(browser: Browser, tmp_path: Path) -> None:
    """Fields and findings of each piece that is shown, and what was decided; not the buttons."""
    address = reported(tmp_path, [row(0, "unread"), row(1, "differs"), row(2), row(3, "differs")])
    tab = browser.open(address)
    assert not tab.run(tab.page.is_visible("#paper"))
    press(tab, "m")
    press(tab, "k")
    assert tab.text("#sheet h3").startswith("MISREAD") or tab.text("#sheet h3").startswith(
        "misread"
    )
    tab.run(tab.page.emulate_media(media="print"))
    tab.run(tab.page.evaluate("window.dispatchEvent(new Event('beforeprint'))"))
    assert tab.run(tab.page.is_visible("#paper"))
    assert not tab.run(tab.page.is_visible("#sheet"))
    paper = tab.text("#paper")
    assert all(name in paper for name in ("00000", "00001", "00003"))
    assert "00002" not in paper  # it agrees
    assert "Looked at: misread" in paper
    assert (
        tab.run(tab.page.locator("#paper figure").count()) == 5
    )  # of the unread one the box alone
    assert tab.errors == []
