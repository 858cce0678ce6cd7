"""Other fields proposed on an empty card: by its rules, its small squares and its captions.

A place is a ruled cell, the paper over a line to write on, a small square, or the open paper
under a caption that stands by itself. A place with a caption is proposed by name; all others by
place alone, numbered, for a person to name. What is proposed a person must confirm.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.judge.fields import NAME, RESTRICTED
from pairing.photos.forms import printed_places
from pairing.photos.forms.caption_words import named
from pairing.photos.forms.definition import NO_BOX, PX_PER_MM, Form, Polygon
from pairing.photos.forms.printed_places import Mask, Rect, bounds, in_mm, share_inside

_MARGIN_MM = 5.0
"""A card's own edge is no line to write on."""
_WORD_MM, _GAP = (1.0, 5.0), 0.19
"""How high a word is; letters of one word are nearer than this share of its height."""
_NEAR_MM = 7.0
"""A caption over a place is as near as this."""
_BESIDE_MM = 12.0
"""A small square's words stand to its right, as near as this."""
_OPEN_MM, _LEAST_OPEN_MM = (70.0, 22.0), (20.0, 6.0)
_SAME = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposed:
    """A place that could be a field. name: what its caption calls it, "" where none does.
    kind: cell, line, square or open."""

    place: Polygon
    name: str
    kind: str


@dataclass(frozen=True, slots=True)
class _Place:
    rect: Rect
    kind: str


@dataclass(frozen=True, slots=True)
class _Caption:
    rect: Rect
    name: str
    likeness: float


def proposed_fields(form: Form) -> tuple[Proposed, ...]:
    """The places of a form that could be fields, column by column, without those that it has."""
    missing = printed_places.missing_light(form.picture)
    ink = printed_places.ink_over(missing, printed_places.INK)
    taken = [bounds(one.place) for one in form.fields]
    taken += [] if form.kind == NO_BOX else [bounds(form.box)]
    taken += [] if form.bars is None else [bounds(form.bars)]
    squares = [one for one in printed_places.squares(missing) if not _is_taken(one, taken)]
    print_ = printed_places.without_rules(ink)
    captions = _captions(form, print_, missing, taken)
    found = [
        Proposed(place=_polygon(one), name=_beside(one, captions), kind="square") for one in squares
    ]
    captions = [one for one in captions if not _is_of_square(one.rect, squares)]
    found += _with_captions(_places(form, ink, print_, squares, taken), captions, form, ink)
    return tuple(sorted(found, key=lambda one: (round(one.place[0][0] / 8), one.place[0][1])))


def _places(
    form: Form, ink: Mask, print_: Mask, squares: Sequence[Rect], taken: Sequence[Rect]
) -> list[_Place]:
    """Cells, and paper over lines that are no cell's edge. A cell that holds others, or small
    squares, is none."""
    rules = printed_places.rules(ink)
    ruled = printed_places.cells(ink | rules)
    cells = [
        one for one in ruled
        if not any(share_inside(other, one) > _SAME for other in (*squares, *ruled)
                   if other is not one)
    ]  # fmt: skip
    lines = [
        one for one in printed_places.lines(rules, print_)
        if not any(share_inside(one, cell) > 0.3 or printed_places.is_edge(one, cell)
                   for cell in (*ruled, *taken))
        and _MARGIN_MM < one[3] < form.size_mm[1] - _MARGIN_MM
    ]  # fmt: skip
    both = [*(_Place(one, "cell") for one in cells), *(_Place(one, "line") for one in lines)]
    return [one for one in both if not _is_taken(one.rect, taken)]


def _captions(
    form: Form, print_: Mask, missing: NDArray[np.float32], taken: Sequence[Rect]
) -> list[_Caption]:
    """Words that are a field's caption."""
    found = []
    for rect, word in _words(print_, missing):
        if any(share_inside(rect, other) > _SAME for other in taken):
            continue
        name, likeness = named(word)
        # On the other side a name is asked for as part of the sender's address.
        if name and (name != NAME or form.kind != NO_BOX):
            found.append(_Caption(rect, name, likeness))
    return found


def _words(
    print_: Mask, missing: NDArray[np.float32]
) -> Iterator[tuple[Rect, NDArray[np.float32]]]:
    """Words of the print, each with its ink, 0 to 1."""
    joined = cv2.dilate(print_, np.ones((1, round(1.0 * PX_PER_MM)), np.uint8))
    count, labels, stats, _ = cv2.connectedComponentsWithStats(joined)
    for at in range(1, count):
        x, y, wide, high, _ = (int(v) for v in stats[at])
        if not _WORD_MM[0] < high / PX_PER_MM < _WORD_MM[1] or wide < 2 * high:
            continue
        line = np.where(labels[y : y + high, x : x + wide] == at,
                        print_[y : y + high, x : x + wide], np.uint8(0))  # fmt: skip
        columns = np.flatnonzero(line.max(0) > 0)
        if not len(columns):
            continue
        gaps = np.flatnonzero(np.diff(columns) > max(3.0, _GAP * high))
        starts = [columns[0], *columns[gaps + 1]]
        ends = [*columns[gaps], columns[-1]]
        for first, last in zip(starts, ends, strict=True):
            word = line[:, first : last + 1]
            rows = np.flatnonzero(word.max(1) > 0)
            low, top = x + int(first), y + int(rows[0])
            high_px, long = int(np.ptp(rows)) + 1, int(last - first) + 1
            dark = missing[top : top + high_px, low : low + long] * (word[rows[0] :][:high_px] > 0)
            inked = np.clip(dark / max(1e-3, float(np.percentile(dark, 95))), 0, 1)
            yield in_mm(low, top, low + long, top + high_px), np.pad(inked.astype(np.float32), 4)


def _with_captions(
    places: list[_Place], captions: list[_Caption], form: Form, ink: Mask
) -> list[Proposed]:
    """Places with the names that their captions give them, each name once; and open paper under
    captions that belong to none."""
    best: dict[int, _Caption] = {}
    given: set[str] = set()
    # Of the words of one caption the first one says what it is: "Sender: print your name".
    for one in sorted(captions, key=lambda one: (round(one.rect[3] / 2), one.rect[0])):
        at = _place_of(one.rect, places)
        if at is not None and at not in best and one.name not in given:
            best[at] = one
            given.add(one.name)
    found = [
        Proposed(place=_polygon(place.rect), name=best[at].name if at in best else "",
                 kind=place.kind)
        for at, place in enumerate(places)
    ]  # fmt: skip
    for one in sorted(captions, key=lambda one: -one.likeness):
        if one.name not in given and _place_of(one.rect, places) is None:
            rect = _open_under(one.rect, form, ink)
            if rect is not None:
                given.add(one.name)
                found.append(Proposed(place=_polygon(rect), name=one.name, kind="open"))
    return found


def _place_of(word: Rect, places: Sequence[_Place]) -> int | None:
    """The place that a word is the caption of: the one that it is in, or right over, or that
    begins to its right."""
    x, y = (word[0] + word[2]) / 2, (word[1] + word[3]) / 2
    ranked = []
    for at, one in enumerate(places):
        left, top, right, foot = one.rect
        is_level = left - 2 < x < right
        if is_level and top <= y <= foot:
            ranked.append((0.0, at))
        elif is_level and 0 < top - y < _NEAR_MM:
            ranked.append((top - y, at))
        elif top - 1 < y < foot + 2 and 0 < left - word[2] < 2 * _NEAR_MM:
            ranked.append((left - word[2], at))
        elif one.kind == "line" and is_level and 0 < y - foot < 4.0:
            ranked.append((y - foot, at))
    return min(ranked)[1] if ranked else None


def _beside(square: Rect, captions: Sequence[_Caption]) -> str:
    """What the caption to the right of a small square calls it. Other services have names of
    their own, which no list has."""
    for one in captions:
        if one.name == RESTRICTED and _is_of_square(one.rect, [square]):
            return one.name
    return ""


def _is_of_square(word: Rect, squares: Sequence[Rect]) -> bool:
    """Whether a word is beside a small square, on its right."""
    y = (word[1] + word[3]) / 2
    return any(one[1] - 1 < y < one[3] + 1 and 0 < word[0] - one[2] < _BESIDE_MM for one in squares)


def _open_under(word: Rect, form: Form, ink: Mask) -> Rect | None:
    """The paper without print under a word."""
    wide, high = form.size_mm
    left, top = word[0], word[3] + 1.5
    right, foot = min(left + _OPEN_MM[0], wide - 2.0), min(top + _OPEN_MM[1], high - 2.0)
    a, b, c, d = (round(v * PX_PER_MM) for v in (left, top, right, foot))
    area = ink[b:d, a:c] > 0
    # First to the right as far as nothing stands in the first lines, then down.
    columns = np.flatnonzero(area[: round(_LEAST_OPEN_MM[1] * PX_PER_MM)].any(0))
    if len(columns):
        right = left + columns[0] / PX_PER_MM - 0.5
        area = area[:, : max(1, int(columns[0]))]
    rows = np.flatnonzero(area.any(1))
    if len(rows):
        foot = top + rows[0] / PX_PER_MM - 0.5
    is_wide = right - left >= _LEAST_OPEN_MM[0] and foot - top >= _LEAST_OPEN_MM[1]
    return (left, top, right, foot) if is_wide else None


def _is_taken(rect: Rect, taken: Sequence[Rect]) -> bool:
    return any(share_inside(rect, one) > _SAME or share_inside(one, rect) > _SAME for one in taken)


def _polygon(rect: Rect) -> Polygon:
    left, top, right, foot = (round(float(v), 2) for v in rect)
    return (left, top), (right, top), (right, foot), (left, foot)
