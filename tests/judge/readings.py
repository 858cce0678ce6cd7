"""Readings of a box made up of likelihoods, so that every case is met whatever the reader can
do."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from pairing.findings import Finding
from pairing.judge import Weighed, judge, weigh
from pairing.judge.box import Seen, Stretch, Thresholds
from pairing.model import How, Judgment, Quad, Reading, Side, TrackingNumber
from pairing.numbers import identify

PACKAGE = "9374890100000003985039"  # BCOCA Reference, IMpb example
OTHER = "9400111201080805483016"  # tracking_number_data
CARD = "9590940258780038231151"  # NC DEQ public record NOV-2020-DV-0495
RULE = Thresholds(agrees=2.0, differs=3.0, differs_sure=0.9, asks=2.0)
PLACE = Quad(top_left=(0, 0), top_right=(90, 0), bottom_right=(90, 9), bottom_left=(0, 9))


@dataclass
class Said:
    best: str
    chances: dict[str, float] = field(default_factory=dict)

    def log_likelihoods(self, texts: Sequence[str]) -> list[float]:
        return [math.log(self.chances.get(text, 1e-9)) for text in texts]


def seen(best: str = PACKAGE, /, how: How = How.HAND, **more: object) -> Seen:
    """`chances` gives other texts than a sure `best`."""
    said = Said(best, more.pop("chances", {best: 0.97}))  # type: ignore[arg-type]
    values: dict[str, object] = {
        "source": "card.jpg",
        "how": how,
        "evidence": said,
        "reason": None,
        "digit_probabilities": (0.9,) * len(best),
        "digit_quads": (),
        "box": PLACE,
    }
    return Seen(**{**values, **more})  # type: ignore[arg-type]


def put(text: str, at: int, digit: str) -> str:
    return text[: at - 1] + digit + text[at:]


def read(side: Side, text: str, how: How = How.BARCODE) -> Reading:
    return Reading(side=side, how=how, number=identify(text), source=f"{side}.jpg")


def weighed(
    what: Seen | None,
    *more: Reading,
    label: str | None = PACKAGE,
    others: Mapping[str, str] | None = None,
    answers: Mapping[Stretch, str] | None = None,
    rule: Thresholds = RULE,
) -> tuple[Weighed, Judgment]:
    sides = [read(Side.CARD, CARD), *more]
    if label:
        sides.append(read(Side.LABEL, label))
    number = identify(label) if label else None
    found = weigh(
        what,
        sides,
        article=number if isinstance(number, TrackingNumber) else None,
        card=CARD,
        others=others or {},
        thresholds=rule,
        answers=answers,
    )
    return found, judge([*sides, *found.readings], others=others, found=found.findings)


def codes(findings: Sequence[Finding]) -> set[str]:
    return {finding.code for finding in findings}
