"""How a verdict looks: its headline, the three numbers aligned, and what was found."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from counterfoil.view import style
from pairing.compare import Column, Comparison, compare
from pairing.findings import Weight
from pairing.model import Judgment, Verdict
from pairing.numbers import group_sizes, is_number, printed
from pairing.numbers.grouping import groups
from pairing.numbers.text import FEWEST_DIGITS, count_digits

_LONGEST_SHOWN = 48
"""Texts longer than this are cut: no number is, and alignment means nothing then."""

_BOX_WORDS = {
    "box-empty": "empty",
    "box-illegible": "no legible number",
    "box-two-numbers": "more than one number",
    "box-struck-out": "a number and other writing",
    "box-struck": "a stroke runs through it",
    "box-bars-unread": "bars that were not read",
    "box-group-missing": "read, but too short",
    "form-unknown": "the card's form is not known",
    "box-cut": "only a part of it is in the photo",
    "box-digits-doubtful": "read, a few digits in doubt",
    "box-doubtful": "read, in doubt",
    "box-over-edge": "read, in doubt",
}
"""What there is to say of a box whose number is not known, by the finding that says why."""


def headline(name: str, judgment: Judgment) -> str:
    """`0007  Do not seal  (differs)`."""
    word = style.emphasized(judgment.verdict.clerk_word, style.TONES[judgment.verdict])
    return f"{style.plain(name)}  {word}  ({judgment.verdict.value})"


def verdict_block(name: str, judgment: Judgment, *, notes: bool = True) -> str:
    """The whole answer for one piece, several lines."""
    lines = [headline(name, judgment), *(style.row(*row) for row in number_rows(judgment))]
    for finding in judgment.findings:
        if notes or finding.weight is not Weight.NOTE:
            lines.append(style.finding_line(finding))
    return "\n".join(lines)


def aligned(comparison: Comparison, sizes: tuple[int, ...], names: tuple[str, str]) -> list[str]:
    """Two texts below each other in printed groups, the differing places marked below.

    A place that one side lacks shows as `-`. The groups are those of the first text. Texts
    that share less than half their places are each shown in their own groups, with nothing
    marked, because all of it differs.
    """
    return [style.row(*row) for row in _aligned(comparison, sizes, names)]


def _aligned(
    comparison: Comparison, sizes: tuple[int, ...], names: tuple[str, str]
) -> list[tuple[str, str]]:
    if len(comparison.columns) > _LONGEST_SHOWN:
        return [
            (name, _cut("".join(getattr(column, side) or "" for column in comparison.columns)))
            for name, side in zip(names, ("label", "box"), strict=True)
        ]
    if 2 * sum(not column.same for column in comparison.columns) > len(comparison.columns):
        texts = (
            "".join(getattr(column, side) or "" for column in comparison.columns)
            for side in ("label", "box")
        )
        return [
            (name, style.strong(printed(text))) for name, text in zip(names, texts, strict=True)
        ]
    first, second, marks = [], [], []
    for gap, column in _with_gaps(comparison.columns, sizes):
        if gap:
            first.append(" ")
            second.append(" ")
            marks.append(" ")
        emphasis: Callable[[str], str] = style.plain if column.same else style.strong
        first.append(emphasis(column.label or "-"))
        second.append(emphasis(column.box or "-"))
        marks.append(" " if column.same else "^")
    rows = [(names[0], "".join(first)), (names[1], "".join(second))]
    return rows if comparison.equal else [*rows, ("", "".join(marks).rstrip())]


def counts(judgments: Iterable[Judgment]) -> str:
    """`24 pieces: 9 Seal, 6 Do not seal, 9 Look again`."""
    verdicts = [judgment.verdict for judgment in judgments]
    each = ", ".join(f"{verdicts.count(one)} {one.clerk_word}" for one in Verdict)
    return f"{len(verdicts)} piece{'' if len(verdicts) == 1 else 's'}: {each}"


def number_rows(judgment: Judgment) -> list[tuple[str, str]]:
    """Label, box and card, each with its head; label and box aligned where they differ."""
    how = f"   ({judgment.written_by.value})" if judgment.written_by else ""
    differs = judgment.written is not None and judgment.article != judgment.written
    if judgment.article and differs and is_number_like(judgment.written or ""):
        sizes = group_sizes(judgment.article)
        comparison = compare(
            judgment.article, judgment.written or "", group_sizes=sizes, is_valid=is_number
        )
        rows = _aligned(comparison, sizes, ("label", "box"))
    else:
        # Whoever reads the box next must not have the label's number before their eyes.
        blind = judgment.article is not None and judgment.written is None
        label_shown = "read; shown once the box is" if blind else _number(judgment, "label")
        rows = [("label", label_shown), ("box", _number(judgment, "box"))]
    rows[1] = (rows[1][0], rows[1][1] + how)
    return [*rows, ("card", _number(judgment, "card"))]


def is_number_like(text: str) -> bool:
    """Whether a text has a number's digits: a name is neither grouped nor aligned."""
    return count_digits(text) >= FEWEST_DIGITS


def _number(judgment: Judgment, side: str) -> str:
    texts = {"label": judgment.article, "box": judgment.written, "card": judgment.card}
    text = texts[side]
    if text is not None:
        return style.plain(_cut(printed(text) if is_number_like(text) else text))
    codes = {finding.code for finding in judgment.findings}
    if codes & {{"label": "two-articles", "box": "box-says-two-things", "card": "two-cards"}[side]}:
        return "two different numbers"
    if side == "box":
        said = next((words for code, words in _BOX_WORDS.items() if code in codes), None)
        if said is not None:
            return said
    doubtful = {"check-digit", "length", "prefix", "ambiguous", "not-digits", "shape", "unclear"}
    if codes & {f"{side}-{code}" for code in doubtful}:
        return "read, not a valid number"
    return "not read"


def _cut(text: str) -> str:
    if len(text) <= _LONGEST_SHOWN:
        return text
    return f"{text[:_LONGEST_SHOWN]} ... ({len(text)} characters)"


def _with_gaps(
    columns: tuple[Column, ...], sizes: tuple[int, ...]
) -> Iterable[tuple[bool, Column]]:
    text = "".join(column.label or "" for column in columns)
    ends, length = set(), 0
    for group in groups(text, sizes):
        length += len(group)
        ends.add(length)
    seen = 0
    for column in columns:
        yield (seen in ends and column.label is not None, column)
        seen += column.label is not None
