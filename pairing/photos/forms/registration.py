"""A photo is told its form: features of all known forms in one index, a homography, its fit.

The homography: MAGSAC++ (Barath et al. 2020, CVPR), as OpenCV has it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.photos.forms.definition import Form
from pairing.photos.forms.features import Index, features, pairs
from pairing.photos.forms.laying import fit_of, refined
from pairing.photos.forms.own_print import share_seen
from pairing.photos.written.plane import mapped, rectangle

Floats = NDArray[np.float64]
Floats32 = NDArray[np.float32]

_PHOTO_FEATURES = 700
_PHOTO_PX = 560
"""The photo's longer side at most, px, when features are looked for."""
_LEAST_INLIERS = 10
_MOST_TRIED = 8
"""So many forms are tried, those with the most features in common with the photo: cards with the
same words have more of them than the right one, before it is known which lie right."""
_FIRST_TO_SECOND = 1.6
"""So many times as many inliers as the next form whose box would lie elsewhere. Measured on
`tests/benchmarks/designs.py`."""
_OFF_PX, _OFF_AFFINE_PX = 3.0, 6.0
"""A feature lies so near to where the card has it; without its perspective, so near."""
_LEAST_FIT, _LEAST_REFINED_FIT = 0.3, 0.6
"""Before the form was laid better, and after it. Measured on the same: of the right one 0.69 and
more."""
_LEAST_SEEN = 0.8
"""Of the places with print of the form's own so many show it. Measured on `designs.TUNED` and 48 of
`drawn_designs`: the right form 0.82 and more (255 photos), others that were laid on a card 0.76 and
less (419 times), some of them with a fit of 0.82."""
_SAME_BOX = 0.15
"""Two forms have one box where its corners lie within this share of its length."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Match:
    """The form of a card in a photo. to_photo: (3, 3), from the form's mm to the photo's px, laid
    best at the number's box; whole_to_photo: laid best over the whole card. inliers: places with
    features that fit. fit: as of `fit_of`."""

    form: Form
    to_photo: Floats
    whole_to_photo: Floats
    inliers: int
    fit: float


def registered(
    photo: NDArray[np.uint8], index: Index, *, least_fit: float | None = None
) -> Match | None:
    """The one form that the photo shows; None for none, a tie or a poor fit. photo: gray (h, w)
    uint8. least_fit: takes a poorer fit than that of an empty card's picture."""
    rough, fine = (_LEAST_FIT, _LEAST_REFINED_FIT) if least_fit is None else (0.0, least_fit)
    if not index.forms or min(photo.shape) < 64:
        return None
    found = _candidates(photo, index)
    matches: list[Match] = []
    for one, starts in found:
        if one.inliers * _FIRST_TO_SECOND <= found[0][0].inliers:
            break
        for start in starts:
            fit = fit_of(photo, one.form, start)
            if fit < rough:
                continue
            to_photo, whole, fit = refined(photo, one.form, start, fit)
            # A picture of a filled card has more on it than what its cards share.
            if fit >= fine and (
                least_fit is not None or share_seen(photo, one.form, whole) >= _LEAST_SEEN
            ):
                laid = replace(one, to_photo=to_photo, whole_to_photo=whole, fit=fit)
                matches.append(laid)
                break
    if not matches or any(not _has_same_box(matches[0], other) for other in matches[1:]):
        return None
    return max(matches, key=lambda one: one.fit)


def _candidates(photo: NDArray[np.uint8], index: Index) -> list[tuple[Match, list[Floats]]]:
    """Forms that the features fit, the one with the most inliers first, each with the ways that it
    may lie; their fit is not known yet."""
    small = min(1.0, _PHOTO_PX / max(photo.shape))
    picture = cv2.resize(photo, None, fx=small, fy=small, interpolation=cv2.INTER_AREA)
    places, descriptors = features(np.asarray(picture, np.uint8), _PHOTO_FEATURES, None)
    if len(places) < _LEAST_INLIERS:
        return []
    likeness = descriptors @ index.descriptors.T
    tried = []
    for number, form in enumerate(index.forms):
        own = np.flatnonzero(index.owners == number)
        if len(own) >= _LEAST_INLIERS:
            here, there = pairs(likeness[:, own])
            tried.append((len(here), form, places[here], index.places[own][there]))
    found = []
    for many, form, px, mm in sorted(tried, key=lambda one: -one[0])[:_MOST_TRIED]:
        fitted = _fitted(mm, px) if many >= _LEAST_INLIERS else None
        if fitted is None:
            continue
        ways, inliers = fitted
        starts = [np.diag([1 / small, 1 / small, 1.0]) @ one for one in ways]
        whole = starts[0]
        match = Match(form=form, to_photo=whole, whole_to_photo=whole, inliers=inliers, fit=0.0)
        found.append((match, starts))
    return sorted(found, key=lambda one: -one[0].inliers)


def _fitted(mm: Floats, px: Floats) -> tuple[list[Floats], int] | None:
    """The ways that the card may lie by its features, and in how many places they fit; None for
    too few. Features of a part of the card say little of the perspective of the rest: without it
    they may tell where that lies better."""
    cv2.setRNGSeed(1)
    here, there = mm.astype(np.float32), px.astype(np.float32)
    found, inliers = cv2.findHomography(
        here, there, cv2.USAC_MAGSAC, _OFF_PX, maxIters=2000, confidence=0.999
    )
    level, near = _level(here, there)
    ways: list[Floats] = []
    most = 0
    for one, fits in ((found, inliers), (level, near)):
        if one is None or fits is None:
            continue
        way = np.eye(3)
        way[: len(one)] = one
        kept = fits.ravel() > 0
        # Each place counts once: many features of one caption say little.
        places = {(int(x // 4), int(y // 4)) for x, y in mm[kept]}
        if len(places) >= _LEAST_INLIERS and _is_sane(way, mm[kept]):
            most = most or len(places)
            ways.append(way)
    return (ways, most) if ways else None


def _level(here: Floats32, there: Floats32) -> tuple[Floats | None, NDArray[np.uint8] | None]:
    """What maps most places without perspective, (2, 3), and 1 for each of them, (n, 1)."""
    # OpenCV's own refinement maps 128 MB for its linear algebra, a third of what a reading
    # process may add (measured, 5.0.0).
    found, near = cv2.estimateAffine2D(
        here, there, method=cv2.RANSAC, ransacReprojThreshold=_OFF_AFFINE_PX, refineIters=0
    )
    if found is None or near is None:
        return None, None
    kept = near.ravel() > 0
    places = np.column_stack([here[kept], np.ones(int(kept.sum()))]).astype(np.float64)
    solution = np.linalg.lstsq(places, there[kept].astype(np.float64), rcond=None)[0]
    return np.asarray(solution.T), np.asarray(near, np.uint8)


def _is_sane(to_photo: Floats, mm: Floats) -> bool:
    """Whether the homography keeps the card a card: no mirror, no great slant."""
    if len(mm) < _LEAST_INLIERS:
        return False
    (left, top), (right, foot) = mm.min(0), mm.max(0)
    corners = mapped(to_photo, rectangle(left, top, right - left, foot - top))
    sides = np.roll(corners, -1, axis=0) - corners
    after = np.roll(sides, -1, axis=0)
    turns = sides[:, 0] * after[:, 1] - sides[:, 1] * after[:, 0]
    lengths = np.linalg.norm(sides, axis=1)
    ratio_x, ratio_y = lengths[0] / lengths[2], lengths[1] / lengths[3]
    spread = (lengths[0] + lengths[2]) / (lengths[1] + lengths[3])
    spread /= (right - left) / max(foot - top, 1e-6)
    return bool(
        turns.min() > 0
        and 0.5 < ratio_x < 2.0
        and 0.5 < ratio_y < 2.0
        and 0.6 < spread < 1.67
        and right - left > 25.0
        and foot - top > 15.0
    )


def _has_same_box(one: Match, other: Match) -> bool:
    here = mapped(one.to_photo, np.array(one.form.box))
    there = mapped(other.to_photo, np.array(other.form.box))
    long = float(np.linalg.norm(here[1] - here[0]))
    return float(np.linalg.norm(here - there, axis=1).max()) < _SAME_BOX * long
