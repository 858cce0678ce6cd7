"""What an evidence sheet says, in the small markup that reportlab's paragraphs take."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from xml.sax import saxutils

from pairing.audit.run.rows import Row, RowBox, RowFinding
from pairing.audit.statistics.bounds import percent
from pairing.audit.statistics.reader_rates import ReaderRates
from pairing.compare import compare
from pairing.findings import Code, Weight
from pairing.ledger import Entry, ProofCheck
from pairing.model import How
from pairing.numbers import group_sizes, is_number, printed
from pairing.numbers.grouping import bounds

CAUTIONS = (
    "This sheet says what was read from the photographs named above, and nothing of what the "
    "mailing contained or whether it was delivered.",
    "A photograph's SHA-256 shows that a file is the same as the one that was read; it does not "
    "show when it was taken or of what.",
    "Where it matters, compare with the piece itself.",
)
_PROVED = (
    "The ledger's proof shows that these entries were in it when its head was signed. That "
    "nothing was added about the piece later, it cannot show."
)
_MEANS = {
    How.BARCODE.value: "bars",
    How.PRINT.value: "print",
    How.HAND.value: "handwriting",
    How.KEYED.value: "a person",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """row: of the run. label, box: JPEGs, b"" where there is none. made: time and program, in
    words. rates: of the reader, at the strictness that the run had. proof: the ledger's,
    checked; None without. proof_file: its name."""

    row: Row
    label: bytes
    box: bytes
    made: str
    rates: ReaderRates
    proof: ProofCheck | None = None
    proof_file: str = ""


def escape(text: str) -> str:
    """Text as reportlab's paragraphs take it; what the PDF's own faces lack is spelled out."""
    return saxutils.escape(latin(text))


def latin(text: str) -> str:
    """What the PDF's own faces can show; anything else is spelled out."""
    return text.encode("cp1252", "backslashreplace").decode("cp1252")


def verdict(row: Row) -> str:
    """The verdict, and what it means."""
    words = {
        "agrees": "The box repeats the label's number.",
        "differs": "The card does not go with the label.",
        "unread": "The pair could not be decided.",
    }
    return f"<b>{row.verdict.upper()}.</b> {words[row.verdict]}"


def review(row: Row) -> Iterator[str]:
    """What a person said who looked at it again."""
    review = row.review
    if review:
        by = f" by {review.by}" if review.by else ""
        note = f" Note: {review.note}" if review.note else ""
        counts = " The piece counts as unread." if review.decision == "misread" else ""
        yield (f"Looked at again{by} on {review.at[:10]}: {review.decision}.{counts}{note}")


def keyed(row: Row) -> Iterator[str]:
    """Who read its box, where the program did not."""
    if row.keyed:
        by = f" by {row.keyed.by}" if row.keyed.by else ""
        yield (
            f"The program did not read the box. It was keyed{by} on {row.keyed.at[:10]} from its "
            "picture, the label not shown, and judged as keyed."
        )


def numbers(row: Row) -> Iterator[tuple[str, str]]:
    """Each number with its name, in groups, differing or doubtful digits marked."""
    label, box = marked(row)
    by = f" (by {_MEANS[row.written_by]})" if row.written_by else ""
    yield "on the label", label or "not read"
    yield f"in the box{by}", box or "not read"
    if not box and row.box and row.box.read:
        yield "in the box, in doubt", doubted(row.box)
    yield "card's own", plain(row.card) or "none read"


def marked(row: Row) -> tuple[str, str]:
    """Label and box below each other, differing digits bold and underlined; `-` where one side
    has nothing."""
    article, written = row.article, row.written
    if not article or not written:
        return plain(article), plain(written)
    sizes = group_sizes(article)
    found = compare(article, written, group_sizes=sizes, is_valid=is_number)
    ends = {end for _, end in bounds(len(article), sizes)}
    sides: tuple[list[str], list[str]] = ([], [])
    seen = 0
    for column in found.columns:
        for side, char in zip(sides, (column.label, column.box), strict=True):
            shown = escape(char or "-")
            side.append(shown if column.same else f"<b><u>{shown}</u></b>")
        seen += column.label is not None
        if column.label is not None and seen in ends and seen < len(article):
            sides[0].append("&nbsp;")
            sides[1].append("&nbsp;")
    return "".join(sides[0]), "".join(sides[1])


def doubted(box: RowBox) -> str:
    """What was read without being sure of it; the digits in doubt bold and underlined."""
    text, places = printed(box.read), itertools.count(1)
    shown = []
    for char in text:
        is_doubtful = char != " " and next(places) in box.doubtful
        one = "&nbsp;" if char == " " else escape(char)
        shown.append(f"<b><u>{one}</u></b>" if is_doubtful else one)
    return "".join(shown)


def plain(text: str | None) -> str:
    """In printed groups that no line breaks; "" for none."""
    return escape(printed(text)).replace(" ", "&nbsp;") if text else ""


def findings(row: Row) -> Sequence[str]:
    """What was found, each with its weight; or that nothing was."""
    heads = {"clash": "<b>Stop.</b>", "doubt": "<b>Look.</b>", "note": "Note."}
    said = [f"{heads[one.weight]} {escape(_in_full(one))}" for one in row.findings]
    return said or ["None: label and card were read beyond doubt, and the box repeats the label."]


def _in_full(finding: RowFinding) -> str:
    is_note = finding.weight is Weight.NOTE or not finding.action
    return finding.message if is_note else f"{finding.message} {finding.action}"


def ledger(evidence: Evidence) -> Iterator[str]:
    """What the ledger has, what its proof shows, and what it does not."""
    proof, record = evidence.proof, evidence.row.record
    if record:
        yield escape(f"How the ledger has the piece: {record.state}.")
    if proof is None:
        if not record:
            yield "No ledger was asked, or no number was read to ask it for."
        return
    for entry in proof.entries:
        yield escape(_entry(entry))
    held = "holds" if proof.holds else "DOES NOT HOLD"
    many = f"{proof.head.size:,} entr{'y' if proof.head.size == 1 else 'ies'}"
    yield escape(
        f"The proof in {evidence.proof_file} {held}. The ledger had {many} when its head was "
        f"signed, at {_moment(proof.head.at)}."
    )
    yield _mono(f"key  {proof.key_id}")
    yield _mono(f"root {proof.head.root.hex()}")
    for finding in proof.findings:
        yield f"<b>{escape(finding.message)}</b>"
    yield escape(_PROVED)


def _entry(entry: Entry) -> str:
    """One entry, as far as it was recorded."""
    verdict = f", {entry.verdict.value}" if entry.verdict else ""
    written = f"; in the box {printed(entry.written)}" if entry.written else ""
    return (
        f"Entry {entry.sequence:,}, {_moment(entry.at)}, {entry.desk}: "
        f"{entry.kind.value}{verdict}{written}."
    )


def _moment(at: str) -> str:
    """A ledger's time for people: to the second, which is more than a desk's clock is worth."""
    return f"{at[:10]} {at[11:19]} UTC"


def _mono(text: str) -> str:
    shown = escape(text).replace(" ", "&nbsp;")
    return f'<font name="Courier" size="8">{shown}</font>'


def cautions(evidence: Evidence) -> Iterator[str]:
    """What the sheet does not show."""
    yield from CAUTIONS
    rates = evidence.rates
    if evidence.row.written_by in (How.PRINT.value, How.HAND.value):
        yield (
            "What is written in the box was read by its shape. As measured, such a reading takes "
            f"up to {percent(rates.line)} of bad pairs for good ones, and calls up to "
            f"{percent(rates.differs)} of good pairs different; with photos of another kind it may "
            "be more."
        )
    if evidence.row.match:
        is_by_order = any(one.code == Code.MATCHED_BY_ORDER for one in evidence.row.findings)
        by = "order of their numbers" if is_by_order else "number in the box"
        yield (
            f"Label and card were put together by the {by} alone; that they were on one mailing, "
            "the photographs do not show."
        )
