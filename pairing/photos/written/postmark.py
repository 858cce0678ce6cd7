"""A round postmark beside the number: arcs of rings that are seen to go on around, off the box.

An arc is explained only where its ring is seen over most of its round, by far the larger part of
it outside the box, and where it keeps away from the number: a circle drawn around digits does
neither. What else a postmark bears in the box, its date or its words, stays unexplained.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.photos.written.frame import Mark, ink_in
from pairing.photos.written.plane import PX_PER_MM, laid_flat, mapped
from pairing.photos.written.region import Content, Region

Floats = NDArray[np.float64]

_RADII_MM = np.arange(6.0, 18.01, 0.25)
"""Round date stamps are 24 to 32 mm wide, their inner ring from 15 mm: common practice, no
source."""
_TURNS = np.radians(np.arange(-9.0, 9.1, 3.0))
"""By so much the direction of a short arc may be off."""
_SEEN_PX_PER_MM = 4.0
_AROUND_MM = 30.0
"""A ring that reaches into the box lies whole within this of it."""
_LEAST_SEEN, _LEAST_OUTSIDE = 0.55, 0.7
"""Of the ring's round in the photo so much is seen, and so much of that lies off the box. Of drawn
rings (`tests/benchmarks/postmarks.py`) across bars and the card's edge 0.66 and more is seen."""
_FEWEST_PARTS, _PARTS, _PART_SEEN = 7, 12, 0.4
"""So many parts of its round are seen at least: half a ring is a bracket, or a letter."""
_OFF_MM, _ON_RING = 0.6, 0.92
"""So much of an arc's ink lies so near to its ring."""
_LEAST_LONG_MM, _MOST_WIDE_MM, _MOST_PIECES = 1.5, 1.0, 6
"""An arc's measures, and in how many pieces two rings may come. Chosen by hand."""
_APART_MM = 1.2
"""An arc keeps so far from the number's characters. Chosen by hand: a stroke that was added to a
digit touches it."""
_LEAST_DARK, _GRAINS = 4.0, 3.0
"""A ring is darker than its surroundings by so many gray levels, and by so many times the paper's
usual grain. Chosen by hand."""
_STEPS = 240
_ANGLES = np.linspace(0, 2 * np.pi, _STEPS, endpoint=False)
_UNIT = np.stack([np.cos(_ANGLES), np.sin(_ANGLES)], axis=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Around:
    """What is around a region, laid flat. dark: how much darker each place is than what is near it.
    is_in: 1 in the photo, 0 beyond it. box: the box's corners. from_plane: (3, 3), from the
    region's plane to this one, px."""

    dark: NDArray[np.float32]
    is_in: NDArray[np.float32]
    box: NDArray[np.float32]
    from_plane: Floats
    least: float


@dataclass(frozen=True, slots=True, kw_only=True)
class _Ring:
    """In px of what is around."""

    middle: tuple[float, float]
    radius: float


def without_postmark(photo: NDArray[np.uint8], region: Region, content: Content) -> Content:
    """The content of a box without arcs of a postmark beside its number. photo: gray (h, w)
    uint8, the one that the region was laid flat from."""
    if not content.rows or (len(content.rows) == 1 and not content.left_over):
        return content
    number = max(content.rows, key=len)
    few = [row for row in content.rows if row is not number and len(row) <= _MOST_PIECES]
    others = [mark for row in few for mark in row]
    around = _around(photo, region)
    if around is None:
        return content
    gone = {
        id(mark)
        for mark in (*others, *content.left_over)
        if all(_is_apart(mark, one) for one in number) and _is_arc(mark, content.ink, around)
    }
    if not gone:
        return content
    return replace(
        content,
        rows=tuple(row for row in content.rows if not all(id(mark) in gone for mark in row)),
        left_over=tuple(mark for mark in content.left_over if id(mark) not in gone),
    )


def _is_apart(one: Mark, other: Mark) -> bool:
    """Whether two marks keep away from each other."""
    beside = max(other[0] - one[0] - one[2], one[0] - other[0] - other[2])
    above = max(other[1] - one[1] - one[3], one[1] - other[1] - other[3])
    return max(beside, above) >= _APART_MM * PX_PER_MM


def _around(photo: NDArray[np.uint8], region: Region) -> _Around | None:
    """What is around a region; None where some of that lies behind the camera."""
    shrunk, beyond = _SEEN_PX_PER_MM / PX_PER_MM, _AROUND_MM * PX_PER_MM
    high, wide = region.plane.gray.shape
    size = (round((wide + 2 * beyond) * shrunk), round((high + 2 * beyond) * shrunk))
    from_plane = np.array([[shrunk, 0, beyond * shrunk], [0, shrunk, beyond * shrunk], [0, 0, 1.0]])
    to_photo = region.plane.to_photo @ np.linalg.inv(from_plane)
    corners = np.array([(x, y) for x in (0, size[0]) for y in (0, size[1])], np.float64)
    ahead = np.column_stack([corners, np.ones(4)]) @ to_photo[2]
    if not (np.sign(ahead) == np.sign(ahead[0])).all():
        return None
    gray = cv2.GaussianBlur(laid_flat(photo, to_photo, size).gray, (0, 0), 0.8)
    dark = cv2.morphologyEx(gray, cv2.MORPH_BLACKHAT, np.ones((9, 9), np.uint8))
    flags = cv2.INTER_NEAREST | cv2.WARP_INVERSE_MAP
    is_in = cv2.warpPerspective(np.ones(photo.shape, np.float32), to_photo, size, flags=flags)
    return _Around(
        dark=np.asarray(dark, np.float32),
        is_in=np.asarray(is_in, np.float32),
        box=mapped(from_plane, region.box).astype(np.float32).reshape(-1, 1, 2),
        from_plane=from_plane,
        least=max(_LEAST_DARK, _GRAINS * float(np.median(dark[is_in > 0]))),
    )


def _is_arc(mark: Mark, ink: NDArray[np.uint8], around: _Around) -> bool:
    """Whether all ink where a mark is lies on one ring that is seen around."""
    ys, xs = np.nonzero(ink_in(ink, mark))
    left, top = round(mark[0]), round(mark[1])
    at = mapped(around.from_plane, np.stack([xs + left, ys + top], axis=1).astype(np.float64))
    if len(at) < 3:
        return False
    middle = at.mean(0)
    _, spread, directions = np.linalg.svd(at - middle, full_matrices=False)
    long, thick = 3.46 * spread / np.sqrt(len(at)) / _SEEN_PX_PER_MM
    if long < _LEAST_LONG_MM or thick > max(_MOST_WIDE_MM, 0.3 * long):
        return False
    ring = _ring_through(middle, directions[1], around)
    if ring is None:
        return False
    off = np.hypot(*(at - np.array(ring.middle)).T) - ring.radius
    return bool((np.abs(off) <= _OFF_MM * _SEEN_PX_PER_MM).mean() >= _ON_RING) and _is_seen(
        around, ring
    )


def _ring_through(at: Floats, normal: Floats, around: _Around) -> _Ring | None:
    """The ring seen best of those through a place, around a middle that lies off it along its
    normal or nearly."""
    best, most = None, 0.0
    first = float(np.arctan2(normal[1], normal[0]))
    for turn in (*(first + _TURNS), *(first + np.pi + _TURNS)):
        for radius in _RADII_MM * _SEEN_PX_PER_MM:
            middle = at + radius * np.array([np.cos(turn), np.sin(turn)])
            ring = _Ring(middle=(float(middle[0]), float(middle[1])), radius=float(radius))
            seen = float((_taken(around.dark, _places(ring)) > around.least).mean())
            if seen > most:
                best, most = ring, seen
    return None if best is None or most < _LEAST_SEEN / 2 else _fitted(around, best)


def _places(ring: _Ring, off: float = 0.0) -> NDArray[np.float32]:
    """Places along a ring, (`_STEPS`, 2) px."""
    return np.asarray(np.array(ring.middle) + (ring.radius + off) * _UNIT, np.float32)


def _taken(picture: NDArray[np.float32], places: NDArray[np.float32]) -> NDArray[np.float32]:
    """What a picture has at places (n, 2)."""
    at = places.reshape(1, -1, 2)
    taken = cv2.remap(picture, at[..., 0], at[..., 1], cv2.INTER_LINEAR)
    return np.asarray(taken[0], np.float32)


def _ridge(around: _Around, ring: _Ring) -> tuple[NDArray[np.float32], Floats]:
    """How much darker each place along a ring is than what lies inside and outside of it, and how
    far off the ring its darkest place is, px."""
    offsets = np.arange(-4, 5) * 0.15 * _SEEN_PX_PER_MM
    at = np.stack([_taken(around.dark, _places(ring, float(off))) for off in offsets])
    inner, outer = (
        _taken(around.dark, _places(ring, side * 1.3 * _SEEN_PX_PER_MM)) for side in (-1, 1)
    )
    return np.asarray(at.max(0) - np.maximum(inner, outer), np.float32), offsets[at.argmax(0)]


def _fitted(around: _Around, ring: _Ring) -> _Ring | None:
    """The ring laid better on what is dark along it: least squares (Kasa 1976, IEEE TIM 25)."""
    for _ in range(4):
        ridge, off = _ridge(around, ring)
        seen = ridge > around.least
        if seen.sum() < _LEAST_SEEN * _STEPS / 2:
            return None
        far = ring.radius + off[seen]
        x = ring.middle[0] + far * np.cos(_ANGLES[seen])
        y = ring.middle[1] + far * np.sin(_ANGLES[seen])
        of = np.stack([2 * x, 2 * y, np.ones_like(x)], axis=1)
        (a, b, c), *_ = np.linalg.lstsq(of, x**2 + y**2, rcond=None)
        ring = _Ring(middle=(float(a), float(b)), radius=float(np.sqrt(max(1.0, c + a**2 + b**2))))
    least, most = _RADII_MM[[0, -1]] * _SEEN_PX_PER_MM
    return ring if least <= ring.radius <= most else None


def _is_seen(around: _Around, ring: _Ring) -> bool:
    """Whether a ring is seen over most of its round, and most of that off the box."""
    places = _places(ring)
    here = _taken(around.is_in, places) > 0.5
    seen = here & (_ridge(around, ring)[0] > around.least)
    parts = seen.reshape(_PARTS, -1).mean(1) > _PART_SEEN
    outside = np.array(
        [cv2.pointPolygonTest(around.box, (float(x), float(y)), False) < 0 for x, y in places]
    )
    return bool(
        seen.sum() >= _LEAST_SEEN * max(1, here.sum())
        and parts.sum() >= _FEWEST_PARTS
        and (seen & outside).sum() >= _LEAST_OUTSIDE * seen.sum()
    )
