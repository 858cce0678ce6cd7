"""The report in a real browser: what was decided on other photos is not decided of these."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import msgspec

from pairing.audit.reports import outcome
from pairing.audit.run import review
from pairing.audit.run.rows import Row, RowReview
from pairing.photos.pool import Pool
from tests.audit.making import on_other_photos, report_job, row, with_rows
from tests.kiosk.driving import Browser


def report(folder: Path, found: list[Row]) -> str:
    """The report on these rows; always at the same address and with the same title."""
    engine = Pool[Any, Any](1).run
    with report_job(with_rows(folder, found)) as job:
        path = outcome.report(
            job, outcome.Summary(), None, 0, engine=engine, progress=lambda *_: None
        )
    return path.as_uri()


def saved(browser: Browser, page: Any, target: Path) -> dict[str, review.Decision]:
    """The decisions that the page hands out."""

    async def save() -> None:
        async with page.expect_download() as waiting:
            await page.keyboard.press("s")
        await (await waiting.value).save_as(target)

    browser(save())
    return review.Decisions.read(target).by_piece


def test_a_decision_stays_with_what_it_was_made_on(browser: Browser, tmp_path: Path) -> None:
    first, second = row(0, "differs"), row(1, "unread", article=None)
    context = browser(browser._browser.new_context())
    page = browser(context.new_page())
    browser(page.goto(report(tmp_path, [first, second])))
    for key in ("c", "j", "m"):
        browser(page.keyboard.press(key))
    given = saved(browser, page, tmp_path / "one.json")
    assert {name: one.decision for name, one in given.items()} == {
        "00000": "confirmed",
        "00001": "misread",
    }
    decisions = review.Decisions(given)
    assert decisions.about(first)
    assert decisions.about(second)

    # The run again: the first piece's photo was taken again, the second one is judged otherwise.
    first = on_other_photos(first)
    second = msgspec.structs.replace(row(1, "differs"), photos=second.photos)
    browser(page.goto(report(tmp_path, [first, second])))
    assert saved(browser, page, tmp_path / "two.json") == {}

    # What was taken back into the rows can be undone.
    one = row(2, "differs")
    said = RowReview(decision="misread", note="", by="ab", at="2026-11-25T10:00:00Z")
    browser(page.goto(report(tmp_path, [msgspec.structs.replace(one, review=said)])))
    browser(page.keyboard.press("u"))
    given = saved(browser, page, tmp_path / "three.json")
    assert given["00002"].decision == review.WITHDRAWN
    before = review.Decision(
        piece="00002", photos=one.hashes, seen=one.in_short, decision="misread", by="ab", at=said.at
    )
    kept = review.Decisions({"00002": before})
    assert kept.about(one)
    kept.merge(review.Decisions(given))
    assert kept.about(one) is None


def test_a_box_is_keyed_without_its_label(browser: Browser, tmp_path: Path) -> None:
    """Nothing that can be seen holds the label's number until the box is keyed or given up."""
    unread, other = row(0, "unread"), row(1, "unread")
    context = browser(browser._browser.new_context())
    page = browser(context.new_page())
    browser(page.goto(report(tmp_path, [unread, other])))

    def seen() -> str:
        return "".join(browser(page.inner_text("body")).split())

    assert str(unread.article) not in seen()
    browser(page.keyboard.press("m"))
    browser(page.keyboard.type("9589 0710 5270 0000 0000 07"))
    browser(page.keyboard.press("Enter"))
    assert "initialsaremissing" in seen()
    browser(page.keyboard.type("ab"))
    browser(page.keyboard.press("Enter"))
    assert str(unread.article) not in seen()
    browser(page.keyboard.press("c"))  # the second one: it cannot be read
    assert str(other.article) in seen()
    assert "Theboxsays" not in seen()
    given = saved(browser, page, tmp_path / "keyed.json")
    keyed = given["00000"].keyed
    assert keyed is not None
    assert (keyed.text, keyed.by, keyed.seen) == (
        "9589 0710 5270 0000 0000 07", "ab", unread.in_short
    )  # fmt: skip
    assert (given["00001"].decision, given["00001"].keyed) == ("confirmed", None)
    browser(page.reload())  # once shown, it is not keyed blind any more
    browser(page.keyboard.press("j"))
    assert "Theboxsays" not in seen()
