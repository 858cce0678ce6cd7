"""Two engines' detections of one photo: what is one printed symbol, and what disagrees.

zxing-cpp gives each symbol its own four corners. zbar gives one hull for all
symbols that bear the same text, and the hull may be a mere line; so zxing-cpp's
places come first and zbar's detections are hung on them.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from pairing.model import Finding, Quad, Symbol, Weight
from pairing.photos import code128
from pairing.photos.engines import CODE_128, ZXING, Detection
from pairing.photos.places import (
    contains,
    grown,
    length_px,
    overlap_share,
    quad_around,
    quad_of,
    reading_angle_deg,
)

_MARGIN_SHARE = 0.04
"""How far, in symbol lengths, a zbar point may lie outside zxing-cpp's quad. zbar's
hull ends about three modules inside the bars (measured), zxing-cpp's ends on them."""

_SAME_PLACE_SHARE = 0.3
"""Overlap, as a share of the smaller quad, from which two readings claim one place."""


@dataclass(slots=True, kw_only=True)
class _Candidate:
    detection: Detection
    quad: Quad
    witnesses: list[str] = field(default_factory=list)
    disputed: bool = False


def merge_detections(
    detections: list[Detection],
) -> tuple[tuple[Symbol, ...], tuple[Finding, ...]]:
    """One symbol for each printed one; a place read in two ways is a finding instead."""
    candidates = [
        _Candidate(detection=d, quad=quad_of(d.points), witnesses=[d.engine])
        for d in detections
        if d.engine == ZXING
    ]
    conflicts: list[Finding] = []
    for detection in detections:
        if detection.engine != ZXING:
            _hang(detection, candidates, conflicts)
    symbols = tuple(_symbol(c) for c in candidates if not c.disputed)
    return symbols, tuple(conflicts)


def _hang(detection: Detection, candidates: list[_Candidate], conflicts: list[Finding]) -> None:
    """Count the detection as a witness, an objection, or a symbol of its own."""
    same = [c for c in candidates if says_the_same(c.detection, detection)]
    touched = [c for c in same if _touches(detection, c.quad)]
    if touched:
        for candidate in touched:
            candidate.witnesses.append(detection.engine)
        return
    others = [c for c in candidates if c not in same and _touches(detection, c.quad)]
    if others:
        for candidate in others:
            candidate.disputed = True
            conflicts.append(disagreement(candidate.detection, detection))
        return
    quad = quad_around(detection.points, turn_deg=detection.turn_deg or 0)
    if quad is None:
        # No place of its own, so never a symbol of its own. Without any point at
        # all it can only speak of the one symbol that has its text.
        if len(same) == 1 and not detection.points:
            same[0].witnesses.append(detection.engine)
        return
    if any(overlap_share(quad, c.quad) > _SAME_PLACE_SHARE for c in same):
        return
    candidates.append(_Candidate(detection=detection, quad=quad, witnesses=[detection.engine]))


def _touches(detection: Detection, quad: Quad) -> bool:
    """Whether any point of the detection lies in the quad, a small margin allowed."""
    margin = _MARGIN_SHARE * length_px(quad)
    wide = grown(quad, along_px=margin, across_px=margin)
    points = detection.points
    middle = (
        sum(x for x, _ in points) / max(len(points), 1),
        sum(y for _, y in points) / max(len(points), 1),
    )
    return any(contains(wide, p) for p in (*points, middle))


def says_the_same(zxing: Detection, other: Detection) -> bool:
    """Same symbology and text; zbar drops FNC1 in front and FNC4's high bits."""
    if zxing.kind != other.kind:
        return False
    plain = "".join(chr(ord(c) & 0x7F) for c in zxing.text)
    return other.text in (zxing.text, plain)


def disagreement(first: Detection, second: Detection) -> Finding:
    """The finding for one place that two engines read in two ways."""
    return Finding(
        code="engines-disagree",
        message=(
            f"{first.engine} reads {first.kind} {first.text!r} and {second.engine} reads "
            f"{second.kind} {second.text!r} at the same place."
        ),
        action="Look at the symbol yourself, or take the photo again.",
        weight=Weight.DOUBT,
    )


def _symbol(candidate: _Candidate) -> Symbol:
    seen = candidate.detection
    quad = candidate.quad
    x_px = 0.0
    if seen.kind == CODE_128:
        x_px = length_px(quad) / code128.shortest_modules(seen.text, aim=seen.aim)
    return Symbol(
        text=seen.text,
        aim=seen.aim,
        kind=seen.kind,
        quad=quad,
        angle_deg=reading_angle_deg(quad),
        x_px=x_px,
        witnesses=tuple(dict.fromkeys(candidate.witnesses)),
    )
