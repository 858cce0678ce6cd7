"""How results look on a terminal or in a pipe: words first, no colour needed.

Emphasis is bold, reverse and underline alone, so that nothing depends on telling hues apart.
"""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Iterable

import click

from pairing.compare import Column, Comparison, compare
from pairing.model import Finding, Judgement, TrackingNumber, Verdict, Weight
from pairing.numbers import grouping, identify, is_number, printed

WIDTH = 96
_EMPHASIS: dict[Verdict, dict[str, bool]] = {
    Verdict.AGREES: {"bold": True},
    Verdict.DIFFERS: {"bold": True, "reverse": True},
    Verdict.UNREAD: {"bold": True, "underline": True},
}
_MARGIN = 9


def headline(name: str, judgement: Judgement) -> str:
    """`0007  Do not seal  (differs)`."""
    word = click.style(judgement.verdict.clerk_word, **_EMPHASIS[judgement.verdict])
    return f"{name}  {word}  ({judgement.verdict.value})"


def verdict_block(name: str, judgement: Judgement, *, notes: bool = True) -> str:
    """The whole answer for one piece, several lines."""
    lines = [headline(name, judgement), *_numbers(judgement)]
    for finding in judgement.findings:
        if notes or finding.weight is not Weight.NOTE:
            lines.append(_finding(finding))
    return "\n".join(lines)


def aligned(comparison: Comparison, sizes: tuple[int, ...], names: tuple[str, str]) -> list[str]:
    """Two texts below each other in printed groups, the differing places marked below.

    A place that one side lacks shows as `-`. The groups are those of the first text.
    """
    first, second, marks = [], [], []
    for gap, column in _with_gaps(comparison.columns, sizes):
        if gap:
            first.append(" ")
            second.append(" ")
            marks.append(" ")
        emphasis: Callable[[str], str] = str if column.same else _strong
        first.append(emphasis(column.label or "-"))
        second.append(emphasis(column.box or "-"))
        marks.append(" " if column.same else "^")
    rows = [_row(names[0], "".join(first)), _row(names[1], "".join(second))]
    return [*rows, _row("", "".join(marks).rstrip())] if not comparison.equal else rows


def paragraph(text: str, *, head: str = "") -> str:
    """Wrapped text in the right-hand column, `head` in the left one."""
    indent = " " * (_MARGIN + 2)
    return textwrap.fill(
        text,
        width=WIDTH,
        initial_indent=f"  {head:<{_MARGIN}}" if head else indent,
        subsequent_indent=indent,
    )


def counts(judgements: Iterable[Judgement]) -> str:
    """`24 pieces: 9 Seal, 6 Do not seal, 9 Look again`."""
    verdicts = [judgement.verdict for judgement in judgements]
    each = ", ".join(f"{verdicts.count(one)} {one.clerk_word}" for one in Verdict)
    return f"{len(verdicts)} piece{'' if len(verdicts) == 1 else 's'}: {each}"


def _numbers(judgement: Judgement) -> list[str]:
    rows = []
    if judgement.article and judgement.written and judgement.article != judgement.written:
        label = identify(judgement.article)
        assert isinstance(label, TrackingNumber)
        comparison = compare(
            judgement.article,
            judgement.written,
            group_sizes=label.family.group_sizes,
            is_valid=is_number,
        )
        rows += aligned(comparison, label.family.group_sizes, ("label", "box"))
    else:
        rows.append(_row("label", _number(judgement.article)))
        rows.append(_row("box", _number(judgement.written)))
    if judgement.written_by:
        rows[1] += f"   by {judgement.written_by.value}"
    rows.insert(len(rows), _row("card", _number(judgement.card)))
    return rows


def _number(text: str | None) -> str:
    return printed(identify(text)) if text else "not read"


def _finding(finding: Finding) -> str:
    head = {Weight.NOTE: "note", Weight.DOUBT: "look", Weight.CLASH: "stop"}[finding.weight]
    action = f" {finding.action}" if finding.action and finding.weight is not Weight.NOTE else ""
    return paragraph(f"{finding.message}{action}", head=head)


def _row(head: str, text: str) -> str:
    return f"  {head:<{_MARGIN}}{text}"


def _strong(text: str) -> str:
    return click.style(text, bold=True, underline=True)


def _with_gaps(
    columns: tuple[Column, ...], sizes: tuple[int, ...]
) -> Iterable[tuple[bool, Column]]:
    text = "".join(column.label or "" for column in columns)
    ends, length = set(), 0
    for group in grouping.groups(text, sizes):
        length += len(group)
        ends.add(length)
    seen = 0
    for column in columns:
        yield (seen in ends and column.label is not None, column)
        seen += column.label is not None
