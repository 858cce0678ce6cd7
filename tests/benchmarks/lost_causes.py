"""Which checks speak against a right card's line, each asked by itself.

A check that is the only one to speak is what loses the card; one beside others may be right.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.judge.box import Thresholds, decide
from pairing.model import TrackingNumber, Verdict
from pairing.numbers import identify
from pairing.photos.barcodes.symbols import read_symbols
from pairing.photos.finder.number_lines import Proposal, proposals
from pairing.photos.finder.segmentation import EVERY_PX, NUMBER, STROKE, near
from pairing.photos.forms.box_region import region_of
from pairing.photos.forms.registration import Match
from pairing.photos.written import shared_reader, thresholds
from pairing.photos.written.beside_line import written_beside
from pairing.photos.written.box import LEAST_SURE, is_all_read, is_digit_struck
from pairing.photos.written.box_lines import Line
from pairing.photos.written.frame import Mark
from pairing.photos.written.plane import PX_PER_MM, corners_of, inverse, mapped, rectangle
from pairing.photos.written.proposed_line import is_line_altered, proposed_region
from pairing.photos.written.reader import LINE_KINDS, WrittenLine
from pairing.photos.written.region import Content, Region, content_of, is_cut
from pairing.photos.written.region_line import line_in
from pairing.photos.written.ruled_cells import (
    cell_region,
    cells,
    is_ruled,
    middle_of,
    open_regions,
    regions_across,
)
from pairing.photos.written.strokes import longest_stroke
from pairing.photos.written.unknown_card import LENGTHS, _parted, read_unknown
from tests.benchmarks.designs import Design

Gray = NDArray[np.uint8]
_SLACK_MM = 2.5
_FEWEST = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """What a right card's photo shows in truth. to_photo: (3, 3), from the card's mm to px."""

    design: Design
    article: str
    own: str
    to_photo: NDArray[np.float64]

    def holds(self, middle: NDArray[np.float64]) -> bool:
        """Whether a place in the photo, (1, 2) px, lies in the box."""
        ((x, y),) = mapped(inverse(self.to_photo), middle)
        left, top, wide, high = self.design.box
        return bool(
            left - _SLACK_MM < x < left + wide + _SLACK_MM
            and top - _SLACK_MM < y < top + high + _SLACK_MM
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Against:
    """What speaks against one line: checks by name, and what was measured."""

    checks: tuple[str, ...]
    told: str
    values: dict[str, float] = field(default_factory=dict)


def of_taught(photo: Gray, card: Card, match: Match | None) -> Against:
    """What speaks against the line in the box of a taught form."""
    if match is None:
        return Against(checks=("no form told",), told="")
    if match.form.name != card.design.name:
        return Against(checks=("other form told",), told=match.form.name)
    region = region_of(photo, match)
    content = content_of(region)
    checks = [name for name in ("is_cut", "has_bars", "is_covered") if getattr(content, name)]
    checks += ["left over in the box"] if content.left_over else []
    checks += ["no line"] if not content.rows else []
    checks += ["several lines"] if len(content.rows) > 1 else []
    told = " ".join(_mm(mark) for mark in content.left_over[:4])
    if not content.rows:
        return Against(checks=tuple(checks), told=told)
    row = max(content.rows, key=len)
    x, y = np.array(match.form.box).min(0)
    stretch = mapped(match.to_photo, rectangle(float(x), float(y), 52.0, 10.0))
    line = _line(photo, region, content, row, card, proposals(photo, stretch))
    return replace(line, checks=(*checks, *line.checks), told=f"{told} {line.told}")


def of_unknown(photo: Gray, card: Card) -> Against:
    """The same of a card of no known form: of the line as it is seen best."""
    own = next((one.quad for one in read_symbols(photo).symbols if one.text == card.own), None)
    proposed = proposals(photo, None if own is None else corners_of(own))
    is_found = any(card.holds(one.corners.mean(0)[None]) for one in proposed)
    enclosed = filter(is_ruled, (cell_region(photo, one) for one in cells(photo, own)))
    places = [("cell", one) for one in enclosed]
    places += [("finder", proposed_region(photo, one)) for one in proposed]
    seen = _lines_in(photo, places, card, proposed)
    if not seen and own is not None:
        # Asked only where nothing was found otherwise (`read_unknown`).
        around = (*open_regions(photo, own), *regions_across(photo, own))
        seen = _lines_in(photo, [("open", one) for one in around], card, proposed)
    reading = read_unknown(photo, own, card.own, shared_reader())
    elsewhere = [one for one in reading.lines if not card.holds(np.array([one.inked().center]))]
    checks = [] if own is not None or not card.own else ["own bars not read"]
    checks += ["another line is a number too"] if elsewhere else []
    told = f"{len(proposed)} proposed{'' if is_found else ', not it'}; "
    if not seen:
        return Against(checks=(*checks, "no line found"), told=told)
    name, best = min(seen, key=lambda one: len(one[1].checks))
    if not best.checks and reading.line is None and not elsewhere:
        checks.append("regions disagree")
    return replace(best, checks=(*checks, *best.checks), told=told + name + " " + best.told)


def _lines_in(
    photo: Gray, places: list[tuple[str, Region]], card: Card, proposed: tuple[Proposal, ...]
) -> list[tuple[str, Against]]:
    """What speaks against each line in these regions that is in the box."""
    seen: list[tuple[str, Against]] = []
    for name, region in places:
        content = content_of(region)
        for whole in content.rows:
            for row in [whole] if name == "cell" else _parted(whole):
                if len(row) < _FEWEST or not card.holds(middle_of(region, row)):
                    continue
                one = _line(photo, region, content, row, card, proposed, beside=name)
                seen.append((name, one))
    return seen


def _mm(mark: Mark) -> str:
    return "x".join(f"{side / PX_PER_MM:.1f}" for side in mark[2:])


def _line(
    photo: Gray, region: Region, content: Content, row: list[Mark], card: Card,
    proposed: tuple[Proposal, ...], *, beside: str = "",
) -> Against:  # fmt: skip
    """Every check asked of one line."""
    line = line_in(photo, region, content, row)
    look = shared_reader().look(line.picture)
    read = WrittenLine([look.chances], [look.blots])
    content = replace(content, rows=(row,)) if not beside else content
    stroke = longest_stroke(content.clean, content.ink, row)
    most = (3.5 if line.is_even else 2.8, 4.8, 1.35)
    drawn = (stroke.straight, stroke.wavy, stroke.steep)
    checks = [
        f"stroke {name}"
        for name, here, limit in zip(("straight", "wavy", "steep"), drawn, most, strict=True)
        if here > limit
    ]
    checks += [] if look.is_number else [f"reader: {'altered' if look.is_altered else look.kind}"]
    checks += ["cut"] if is_cut(row, content.ink) else []
    checks += ["barred digit"] if _alone(is_digit_struck, line, content, row, read) else []
    checks += [] if is_all_read(line, row, read) else ["not all read"]
    reader, is_cell = shared_reader(), beside == "cell"
    if beside and written_beside(photo, region, content, row, reader, is_cell=is_cell):
        checks.append("writing beside it")
    is_finder_against = is_line_altered(photo, line, look, proposed)
    checks += ["finder: altered"] if is_finder_against else []
    checks += _of_text(read, line, card)
    values = {
        "marks": float(len(row)), "is_even": float(line.is_even),
        **dict(zip(LINE_KINDS, map(float, look.kinds), strict=True)),
        **dict(zip(("straight", "wavy", "steep"), drawn, strict=True)),
        "barred": float("barred digit" in checks), "blot": float(look.blots.max()),
        "own": read.log_likelihood(card.article), "best": read.log_likelihood(read.best),
        "any": read.log_any, **_by_finder(photo, line, proposed),
    }  # fmt: skip
    shown = " ".join(f"{name} {value:.2f}" for name, value in values.items())
    told = f"{shown} read {read.best} {_off(read, card)}"
    return Against(checks=tuple(checks), told=told, values=values)


def _by_finder(photo: Gray, line: Line, proposed: tuple[Proposal, ...]) -> dict[str, float]:
    """What both networks say of the proposed line that this one is in; -1 where it is in none."""
    for one in proposed:
        corners = one.corners.astype(np.float32).reshape(-1, 1, 2)
        if cv2.pointPolygonTest(corners, line.inked().center, measureDist=False) < 0:
            continue
        gray = proposed_region(photo, one).plane.gray
        high, wide = gray.shape
        padded = cv2.copyMakeBorder(
            gray, 0, -high % EVERY_PX, 0, -wide % EVERY_PX, cv2.BORDER_REPLICATE
        )
        scores = near().look(np.asarray(padded, np.uint8))
        number = scores.kinds == NUMBER
        many = max(1, int(number.sum()))
        return {
            "far": one.altered,
            "near": float(scores.altered[number].mean()) if number.any() else 1.0,
            "strokes": float((scores.kinds == STROKE).sum()) / many,
        }
    return {"far": -1.0, "near": -1.0, "strokes": -1.0}


def _alone(check, line: Line, content: Content, row: list[Mark], read: WrittenLine) -> bool:  # type: ignore[no-untyped-def]
    return bool(read.best) and bool(check(line, replace(content, rows=(row,)), read))


def _off(read: WrittenLine, card: Card) -> str:
    return "".join("^" if a != b else "." for a, b in zip(read.best, card.article, strict=False))


def _of_text(read: WrittenLine, line: Line, card: Card) -> list[str]:
    """What speaks against the text: no number, doubts, another number."""
    checks = [] if len(read.best) in LENGTHS else ["no number's length"]
    checks += ["hardly a number"] if read.log_any < math.log(LEAST_SURE) else []
    number = identify(card.article)
    assert isinstance(number, TrackingNumber)
    limits: Thresholds = thresholds()
    decision = decide(
        read, card.article, thresholds=limits, group_sizes=number.family.group_sizes,
        spoiled=read.spoiled(is_print=line.is_even),
    )  # fmt: skip
    if decision.verdict is Verdict.DIFFERS:
        checks.append("called another number")
    elif decision.verdict is Verdict.UNREAD:
        keys = sum(one.last - one.first + 1 for one in decision.doubtful)
        what = "misread" if read.best != card.article else "doubts"
        what = "spoiled" if decision.spoiled else what
        checks.append(f"{what}: {keys or 'all'} to key")
    return checks
