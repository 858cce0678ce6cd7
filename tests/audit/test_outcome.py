"""What a run leaves behind: counts, bounds, tables, report, evidence, decisions.

Rows are made up (tests/audit/making.py); bounds are checked against section 8 of the project's
collection of standards (Clopper-Pearson), the sheet's text with pypdfium2.
"""

from __future__ import annotations

import csv
import json
import math
import re
from fractions import Fraction
from pathlib import Path
from typing import Any

import cv2
import jsonschema
import msgspec
import numpy as np
import pypdfium2
import pytest

from pairing import csv_tables
from pairing.audit.reports import (
    charts,
    code_words,
    crops,
    evidence_sheet,
    front,
    outcome,
    sheet_words,
    tables,
)
from pairing.audit.run import review, rows
from pairing.audit.run.rows import Row, rows_in
from pairing.audit.statistics import bounds, draws, reader_rates, summary
from pairing.audit.statistics.summary import Conclusion, Summary
from pairing.errors import TableUnusable
from pairing.ledger import Draft, Kind, Ledger, check_proof
from pairing.model import Verdict
from pairing.numbers import identify, printed
from pairing.photos import written
from pairing.photos.pool import Pool
from tests.audit.making import lot, on_other_photos, report_job, row, take_back, with_rows


def counted(found: list[Any]) -> Summary:
    one = Summary()
    for each in found:
        one.add(each)
    return one


def test_made_up_rows_are_rows() -> None:
    validator = jsonschema.Draft202012Validator(rows.schema())
    for one in lot(60):
        validator.validate(json.loads(msgspec.json.encode(one)))


def test_unread_pieces_count_against_the_bound() -> None:
    found = [row(n) for n in range(100)]
    found[3:5] = [row(3, "unread"), row(4, "differs")]
    conclusion = summary.conclude(counted(found), confidence=0.95, lot=None)
    assert conclusion is not None
    assert (conclusion.known.low, conclusion.known.high) == pytest.approx(
        (0.002431, 0.070384), abs=1e-6
    )
    assert (conclusion.if_read.low, conclusion.if_read.high) == pytest.approx(
        (0.000253, 0.054459), abs=1e-6
    )
    assert conclusion.upper > conclusion.known.upper


def test_the_readers_own_errors_are_those_of_the_model_card() -> None:
    """The rate that the strictness states, and that the calibration in model.json keeps twice
    over; bars: 0 wrong of 8,794, rule of three."""
    rate = reader_rates.rates("1e-4")
    assert rate.line == 1e-4
    card = json.loads((Path(written.__file__).parent / "model.json").read_text(encoding="utf-8"))
    assert card["thresholds"]["1e-4"]["rate_bound"] <= rate.line / 2
    assert rate.bars == pytest.approx(3 / 8794, rel=0.01)
    by_hand = counted([row(n, written_by="hand") for n in range(50)])
    found = summary.conclude(by_hand, confidence=0.95, lot=None)
    assert found is not None
    assert found.hidden == rate.line
    assert found.upper == pytest.approx(found.known.upper / (1 - rate.line))
    assert found.false_differs == pytest.approx(50 * rate.differs)


def test_a_sample_speaks_for_its_lot_and_what_was_not_photographed_is_unread() -> None:
    found = [row(n) for n in range(60)]
    drawn = draws.draw_from(
        (f"{n:05}" for n in range(1000)),
        size=0,
        seed="x",
        share="0.01",
        confidence="0.95",
        allowed=0,
    )
    names = (*(one.piece for one in found[:58]), "00998", "00999")
    sample = draws.Drawn(
        **{**{f: getattr(drawn, f) for f in draws.Drawn.__slots__}, "size": 60, "pieces": names}
    )
    one = Summary()
    for each in found:
        one.add(each, frozenset(names))
    conclusion = summary.conclude(one, confidence=0.95, lot=None, sample=sample)
    assert conclusion is not None
    assert (conclusion.known.checked, conclusion.known.bad, conclusion.known.lot) == (60, 2, 1000)


def test_a_drawn_piece_photographed_twice_does_not_stand_for_another() -> None:
    """60 drawn, one of them never photographed, another in two folders: one is missing."""
    found = [row(n) for n in range(59)]
    found.append(row(58, "unread"))
    names = tuple(f"{n:05}" for n in range(60))
    drawn = draws.draw_from(names, size=60, seed="x", share="0.01", confidence="0.95", allowed=0)
    one = Summary()
    for each in found:
        one.add(each, frozenset(names))
    conclusion = summary.conclude(one, confidence=0.95, lot=None, sample=drawn)
    assert conclusion is not None
    assert (conclusion.known.checked, conclusion.known.bad) == (60, 2)
    assert any("No photo shows 1 of them" in note for note in conclusion.notes)


def test_a_sample_of_names_finds_its_pieces_in_folders() -> None:
    one = Summary()
    for name in ("desk 1/0001", "desk 2/0002", "desk 2/0003"):
        one.add(row(int(name[-1]), piece=name), frozenset(("0001", "desk 2/0002", "0004")))
    assert one.drawn == {"0001": "agrees", "desk 2/0002": "agrees"}


def test_what_is_probable_by_the_boxes_alone_is_counted_apart() -> None:
    """And what agrees as put together carries the matching's own error."""
    match = {"label": "x", "log_odds": 9.0, "margin_log_odds": 20.0, "next": None}
    found = [row(n, match={**match, "counts": True}) for n in range(60)]
    for n, would in enumerate(("agrees", "agrees", "differs"), 60):
        found.append(row(n, "unread", match={**match, "counts": False, "would": would}))
    counts = counted(found)
    assert counts.probable == {"agrees": 2, "differs": 1}
    assert "1 probably differs and 2 probably agree" in front.probable_in_words(counts)
    conclusion = summary.conclude(counts, confidence=0.95, lot=None)
    sorted_ = summary.conclude(counted([row(n) for n in range(60)]), confidence=0.95, lot=None)
    assert conclusion is not None
    assert sorted_ is not None
    assert conclusion.known.bad == 3
    assert conclusion.hidden == pytest.approx(sorted_.hidden + 1e-4)
    short = {"code": "box-group-missing", "message": "", "positions": [], "weight": "doubt"}
    unread = {**match, "counts": False, "would": "unread"}
    apart = {**short, "code": "matched-by-box", "action": ""}
    counts.add(row(63, "unread", match=unread, findings=[{**short, "action": ""}, apart]))
    assert "1 probably lacks a group" in front.probable_in_words(counts)


def test_a_lot_checked_whole_is_counted() -> None:
    found = [row(n, "differs" if n < 3 else "agrees") for n in range(200)]
    conclusion = summary.conclude(counted(found), confidence=0.95, lot=200)
    assert conclusion is not None
    assert conclusion.known.upper == 3 / 200


def drawn_sample(found: list[Row], size: int, lot: int, allowed: int = 0) -> Conclusion:
    names = tuple(f"{n:05}" for n in range(size))
    drawn = draws.Drawn(
        lot=lot, size=size, share="0.01", confidence="0.95", allowed=allowed, seed="x",
        list_sha256="0" * 64, pieces=names,
    )  # fmt: skip
    counts = Summary()
    for each in found:
        counts.add(each, frozenset(names))
    conclusion = summary.conclude(counts, confidence=0.95, lot=None, sample=drawn)
    assert conclusion is not None
    return conclusion


def test_the_aim_of_a_sample_is_answered() -> None:
    """258 of 1,000 with none bad show at most 1 % (11 bad are refuted); with one bad, 385 are
    needed: both by whole-number arithmetic, C(989, n) / C(1000, n) and the term for one."""

    def chance(size: int, most: int, bad: int = 11, lot: int = 1000) -> Fraction:
        ways = sum(math.comb(bad, k) * math.comb(lot - bad, size - k) for k in range(most + 1))
        return Fraction(ways, math.comb(lot, size))

    size = next(n for n in range(1, 1000) if chance(n, 0) <= Fraction(1, 20))
    more = next(n for n in range(1, 1000) if chance(n, 1) <= Fraction(1, 20))
    good = drawn_sample([row(n) for n in range(size)], size, 1000).aim
    assert good is not None
    assert good.is_reached
    assert front.aim_in_words(good).startswith("Reached: at most 1 % bad pairs with 95 %")
    short = drawn_sample([row(n) for n in range(size - 1)], size - 1, 1000).aim
    assert short is not None
    assert not short.is_reached
    unread = drawn_sample(
        [row(n, "unread" if n == 3 else "agrees") for n in range(size)], size, 1000
    )
    assert unread.aim is not None
    assert (unread.aim.is_reached, unread.aim.is_reachable) == (False, True)
    assert unread.aim.needed == more
    text = front.aim_in_words(unread.aim)
    assert "if all of these are looked at and good, it would be reached" in text
    assert f"a new sample of {more} pieces" in text


def test_the_lead_of_a_sample_counts_the_sample() -> None:
    """Other pieces in the folder are no part of it."""
    found = [row(n, "differs" if n >= 60 else "agrees") for n in range(80)]
    conclusion = drawn_sample(found, 60, 1000)
    above = front.Front(title="t", made="m", summary=counted(found), conclusion=conclusion)
    assert front.found_in_words(above).startswith("None of the 60 pieces drawn differs.")
    text = " ".join(front.summary_html(above).split())
    assert '<div class="differs"><b>0</b>' in text
    lead = text[text.index('class="lead"') :]
    assert lead.index("Not reached") < lead.index("at most")
    low, high = conclusion.known.low, conclusion.known.high
    assert f"between {bounds.percent(low, is_lower=True)} and {bounds.percent(high)}" in text


def test_nothing_checked_concludes_nothing() -> None:
    assert summary.conclude(Summary(), confidence=0.95, lot=None) is None


def test_counts_by_kind_place_desk_and_day() -> None:
    one = counted(
        [row(0, "differs"), row(1, "differs"), row(3, "differs"), row(2, "unread"), row(5)]
    )
    assert one.errors == {"one-digit": 1, "adjacent-swap": 1, "card-own": 1}
    assert one.positions == {13: 2}  # another number altogether has no wrong digits to count
    assert one.desks["desk1"] == {"differs": 1, "agrees": 1}
    assert one.worst is not None
    assert one.worst.piece == "00003"


def said(found: list[Any], **given: Any) -> str:
    """The report's front as it reads, without its tags."""
    counts = counted(found)
    conclusion = summary.conclude(counts, confidence=0.95, lot=given.pop("lot", None))
    above = front.Front(title="t", made="m", summary=counts, conclusion=conclusion, **given)
    return " ".join(re.sub("<[^>]*>", " ", front.summary_html(above)).split())


def test_the_conclusion_comes_first_and_says_what_it_rests_on() -> None:
    found = [row(n) for n in range(1200)]
    found[:3] = [row(0, "differs"), row(1, "unread"), row(2, "unread")]
    text = said(found)
    assert "1 of the 1,200 pieces checked differs: its card does not go with the label." in text
    assert "2 could not be read, and count against the lot." in text
    # Photos of which nobody said how they were chosen bound nothing without saying so.
    assert text.index("1 of the 1,200") < text.index("If chance alone chose what was photographed")
    assert "If chance" not in said(found, lot=1200)
    assert "All 1,200 pieces of the lot were checked. At most 0.26 % of them" in said(
        found, lot=1200
    )


def test_nothing_wrong_is_said_so_and_nothing_checked_too() -> None:
    text = said([row(1)])
    assert "None of the 1 piece checked differs. All were read." in text
    assert "called" not in text  # nothing was called different
    assert "nothing can be concluded" in said([])


def test_bars_keep_every_count_and_name_what_they_leave_out() -> None:
    found = charts.bars("By kind", [(f"kind {n}", 1500 - n) for n in range(16)], most=14)
    assert found.count("<tr>") == 15
    assert "2 others" in found
    assert f"{1486 + 1485:,}" in found
    desks = {f"desk {n}": {"agrees": 90, "differs": n} for n in range(20)}
    shares = charts.shares("By desk", desks)
    assert shares.index("desk 19") < shares.index("desk 18")
    assert "and 6 more" in shares
    assert charts.bars("none", []) == charts.columns("none", {}) == ""
    assert charts.shares("one", {"a": {"agrees": 1}}) == ""


def test_codes_are_words_where_people_read_them() -> None:
    assert (
        code_words.of_code("card-own") == code_words.of_code("box-card-own") == "card's own number"
    )
    assert code_words.of_code("box-digits-doubtful") == "digits in the box in doubt"
    assert code_words.of_code("not-yet-known") == "not yet known"


def test_pairs_never_photographed_are_listed_in_groups() -> None:
    one = row(1)
    above = front.Front(
        title="t",
        made="m",
        summary=counted([one]),
        conclusion=None,
        missing=[(one.article or "", "", "<list>.csv")],
        missing_count=3,
    )
    text = front.missing_html(above)
    assert printed(identify(one.article or "")) in text
    assert "not known" in text  # the card, which the list does not give
    assert "&lt;list&gt;" in text
    assert "and 2 more" in text


def test_the_report_holds_everything_and_nothing_that_runs(tmp_path: Path) -> None:
    hostile = "</script><img src=x onerror=alert(1)>"
    found = [*lot(300), row(999, "differs", piece=hostile)]
    with_rows(tmp_path, found)
    with report_job(tmp_path) as job:
        counts, conclusion, missing = outcome.summarize(job, outcome.Records())
        pool: Pool[Any, Any] = Pool(1)
        path = outcome.report(
            job, counts, conclusion, missing, engine=pool.run, progress=lambda *_: None
        )
    text = path.read_text()
    assert hostile not in text
    assert text.count("</script>") == text.count("<script")
    start = text.index('id="exceptions">') + len('id="exceptions">')
    shown = json.loads(text[start : text.index("</script>", start)])
    bad = [one for verdict in ("differs", "unread") for one in found if one.verdict == verdict]
    assert [one["piece"] for one in shown] == [one.piece for one in bad]
    assert f"<b>{sum(one.verdict == 'differs' for one in found)}</b>differ" in text
    assert "http" not in text.replace("http://www.w3.org", "")


def test_a_piece_photographed_often_is_one_piece() -> None:
    often = [row(0, piece=f"again {n}") for n in range(60)]
    found = summary.conclude(counted(often), confidence=0.95, lot=60)
    assert found is not None
    assert (found.known.checked, found.known.bad) == (1, 0)
    assert found.upper > 0.9
    assert "59 rows" in " ".join(found.notes)
    # The gravest of what its photos say.
    found = summary.conclude(counted([*often, row(0, "differs")]), confidence=0.95, lot=60)
    assert found is not None
    assert (found.known.checked, found.known.bad) == (1, 1)


def test_a_drawn_piece_photographed_twice_stands_for_no_other() -> None:
    twice = [row(0), row(0, piece="again")]
    drawn = draws.draw_from(
        [str(row(n).article) for n in range(2)],
        size=2, seed="x", share="0.01", confidence="0.95", allowed=0,
    )  # fmt: skip
    one = Summary()
    for each in twice:
        one.add(each, frozenset(drawn.pieces))
    found = summary.conclude(one, confidence=0.95, lot=None, sample=drawn)
    assert found is not None
    assert (found.known.checked, found.known.bad) == (2, 1)  # the other one was never seen


def test_a_share_is_never_rounded_down() -> None:
    for share, shown in (
        (0.01231, "1.3 %"),
        (0.0123, "1.3 %"),
        (0.25421, "25.5 %"),
        (0.9999, "100 %"),
        (1.0, "100 %"),
        (1 / 1024, "0.098 %"),
        (0, "0 %"),
    ):
        text = bounds.percent(share)
        assert float(text.removesuffix(" %")) >= share * 100
        assert float(text.removesuffix(" %")) == pytest.approx(
            float(shown.removesuffix(" %")), rel=1e-9
        )


def test_tables_hold_every_row(tmp_path: Path) -> None:
    pq = pytest.importorskip("pyarrow.parquet", reason="needs counterfoil[parquet]")
    found = [*lot(50), row(77, piece="=1+1")]
    tables.write_csv(found, tmp_path / "a.csv")
    with (tmp_path / "a.csv").open(newline="") as file:
        lines = list(csv.DictReader(file))
    assert len(lines) == 51
    assert lines[-1]["piece"] == "'=1+1"
    assert lines[0]["article"].count(" ") == 5
    tables.write_parquet(found, tmp_path / "a.parquet")
    table = pq.read_table(tmp_path / "a.parquet").to_pylist()
    assert [one["article"] for one in table] == [one.article for one in found]
    assert tuple(table[0]) == csv_tables.AUDIT


def decisions(tmp_path: Path, *given: tuple[Any, str], at: str = "2026-11-25T10:00:00Z") -> Path:
    path = tmp_path / "given.json"
    body = [
        {
            "piece": one.piece,
            "photos": one.hashes,
            "seen": one.in_short,
            "decision": said,
            "note": "n",
            "by": "ab",
            "at": at,
        }
        for one, said in given
    ]
    path.write_text(json.dumps({"format": review.FORMAT, "decisions": body}))
    return path


def test_decisions_come_back_into_the_rows(tmp_path: Path) -> None:
    found = [row(0, "differs"), row(1, "differs"), row(2, "unread")]
    with_rows(tmp_path, found)
    given = decisions(tmp_path, (found[0], "confirmed"), (found[1], "misread"))
    assert take_back(given, tmp_path) == (2, 0)
    after = list(rows_in(tmp_path / "rows.jsonl"))
    assert [one.review and one.review.decision for one in after] == [
        "confirmed",
        "misread",
        None,
    ]
    counts = counted(after)
    assert counts.verdicts == {"differs": 1, "unread": 2}  # misread is not read, and not good
    assert counts.causes == {"misread": 1, "card-unread": 1}  # what the reader found does not count
    assert take_back(decisions(tmp_path, (found[2], "confirmed")), tmp_path) == (3, 0)


def test_a_decision_that_was_withdrawn_is_none_any_more(tmp_path: Path) -> None:
    found = [row(0, "differs")]
    with_rows(tmp_path, found)
    assert take_back(decisions(tmp_path, (found[0], "misread")), tmp_path) == (1, 0)
    assert take_back(decisions(tmp_path, (found[0], "withdrawn")), tmp_path) == (0, 0)
    (after,) = rows_in(tmp_path / "rows.jsonl")
    assert after.review is None


def test_decisions_of_another_run_are_counted_and_change_nothing(tmp_path: Path) -> None:
    with_rows(tmp_path, [row(0, "differs")])
    elsewhere = on_other_photos(row(0, "differs"))
    given = decisions(tmp_path, (elsewhere, "misread"), (row(7, "differs"), "confirmed"))
    assert take_back(given, tmp_path) == (0, 2)
    (after,) = rows_in(tmp_path / "rows.jsonl")
    assert after.review is None


def test_what_was_misread_is_not_the_gravest_finding() -> None:
    said = {"decision": "misread", "note": "", "by": "", "at": "2026-11-25T10:00:00Z"}
    one = counted([row(3, "differs", review=said), row(1, "differs")])  # 3: the card's own number
    assert one.worst is not None
    assert one.worst.piece == "00001"


def test_a_decision_on_other_photos_does_not_count(tmp_path: Path) -> None:
    one, other = row(0, "differs"), on_other_photos(row(0, "differs"))
    given = review.Decisions.read(decisions(tmp_path, (one, "misread")))
    assert given.about(one) is not None
    assert given.about(other) is None


def test_a_decision_on_another_verdict_does_not_count(tmp_path: Path) -> None:
    # The same photos judged less strictly, or with another list: nobody has looked at that.
    unread, agrees = row(0, "unread"), row(0, "agrees")
    given = review.Decisions.read(decisions(tmp_path, (unread, "confirmed")))
    assert given.about(unread) is not None
    assert given.about(agrees) is None
    assert given.about(msgspec.structs.replace(unread, article=row(1).article)) is None


def test_the_later_of_two_decisions_holds(tmp_path: Path) -> None:
    one = row(0, "differs")
    with_rows(tmp_path, [one])
    take_back(decisions(tmp_path, (one, "misread"), at="2026-11-26T09:00:00Z"), tmp_path)
    take_back(decisions(tmp_path, (one, "confirmed"), at="2026-11-25T09:00:00Z"), tmp_path)
    (after,) = rows_in(tmp_path / "rows.jsonl")
    assert after.review is not None
    assert after.review.decision == "misread"
    withdrawn = decisions(tmp_path, (one, review.WITHDRAWN), at="2026-11-26T10:00:00Z")
    assert take_back(withdrawn, tmp_path) == (0, 0)
    (after,) = rows_in(tmp_path / "rows.jsonl")
    assert after.review is None


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{}",
        '{"format": "x", "decisions": []}',
        '{"format": "counterfoil decisions 1", "decisions": [{"piece": "1", "photos": [], '
        '"decision": "fine"}]}',
    ],
)
def test_what_is_no_file_of_decisions(tmp_path: Path, text: str) -> None:
    (tmp_path / "d.json").write_text(text)
    with pytest.raises(TableUnusable):
        review.Decisions.read(tmp_path / "d.json")


def recorded(ledger: Ledger, one: Row) -> None:
    ledger.append(
        Draft(
            kind=Kind.PAIRED,
            desk="desk 3",
            operator="ab",
            article=one.article,
            card=one.card,
            written=one.article,
            verdict=Verdict.AGREES,
        )
    )


def test_reviewed_rows_are_noted_in_the_ledger_once(tmp_path: Path) -> None:
    one = row(0, "differs")
    with_rows(tmp_path, [one, row(1)])
    take_back(decisions(tmp_path, (one, "confirmed")), tmp_path)
    with Ledger.open(str(tmp_path / "l.db")) as ledger:
        recorded(ledger, one)
        for _ in range(2):
            assert outcome.note_in_ledger(tmp_path, ledger, desk="audit", operator="cd") == 1
        notes = list(ledger.entries(kinds=(Kind.NOTE,)))
        assert len(notes) == 1
        assert "confirmed" in notes[0].remark
        assert notes[0].readings[0].photo_sha256 == one.photos[1].sha256
        assert ledger.verify().is_clean


def jpeg() -> bytes:
    gray = np.full((80, 300), 220, np.uint8)
    cv2.putText(gray, "1234", (10, 60), cv2.FONT_HERSHEY_SIMPLEX, 2, 0, 3)
    return cv2.imencode(".jpg", gray)[1].tobytes()


def test_the_evidence_sheet_says_what_the_row_says(tmp_path: Path) -> None:
    one = row(0, "differs", record={"state": "as photographed", "entry": 1})
    with Ledger.open(str(tmp_path / "l.db")) as ledger:
        recorded(ledger, one)
        proof = check_proof(ledger.proof(one.article or ""))
    evidence = sheet_words.Evidence(
        row=one,
        label=jpeg(),
        box=jpeg(),
        made="made now",
        rates=reader_rates.rates("1e-4"),
        proof=proof,
        proof_file="p.json",
    )
    evidence_sheet.write(evidence, tmp_path / "e.pdf")
    document = pypdfium2.PdfDocument(tmp_path / "e.pdf")
    text = " ".join(document[n].get_textpage().get_text_range() for n in range(len(document)))
    text = " ".join(text.split())
    for photo in one.photos:
        assert str(photo.sha256) in text
    for said in (
        "DIFFERS",
        "<b>differs</b>",
        proof.key_id,
        "does not show",
        "p.json holds",
        "made now",
    ):
        assert said in text
    assert str(one.article)[:4] in text


def test_crops_are_level_and_show_the_place(tmp_path: Path) -> None:
    """A dark field in a tilted frame, drawn with cv2, comes out upright and whole."""
    gray = np.full((600, 900), 230, np.uint8)
    box = cv2.boxPoints(((450, 300), (400, 90), 30.0)).astype(np.int32)
    cv2.fillPoly(gray, [box], 40)
    across = np.array([np.cos(np.pi / 6), np.sin(np.pi / 6)]) * 200
    down = np.array([-np.sin(np.pi / 6), np.cos(np.pi / 6)]) * 45
    middle = np.array([450, 300])
    corners = [
        (middle + a * across + b * down).tolist() for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))
    ]
    cut = crops.level(gray, corners, is_label=False)
    assert cut.shape[1] > 2.5 * cut.shape[0]
    high, wide = cut.shape
    assert cut[high // 4 : 3 * high // 4, wide // 8 : 7 * wide // 8].max() < 60
    assert cut[0].min() > 200


def test_a_label_of_whose_bars_only_a_band_was_found_shows_its_number() -> None:
    """Drawn with cv2: bars 300 by 100 px, a dark line for the number below; the decoder found
    the bars' upper third."""
    gray = np.full((400, 500), 230, np.uint8)
    cv2.rectangle(gray, (100, 100), (400, 200), 130, -1)
    cv2.rectangle(gray, (120, 212), (380, 226), 0, -1)
    band = [[100.0, 100.0], [400.0, 100.0], [400.0, 133.0], [100.0, 133.0]]
    assert crops.level(gray, band, is_label=True).min() < 40


def test_a_piece_that_no_row_has(tmp_path: Path) -> None:
    with_rows(tmp_path, [row(1)])
    pool: Pool[Any, Any] = Pool(1)
    with report_job(tmp_path) as job, pytest.raises(TableUnusable, match="No row"):
        outcome.write_sheet(job, "nobody", None, engine=pool.run)
