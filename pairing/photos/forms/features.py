"""The features of known forms in one index: what tells a card's design from others.

Lowe 2004 (IJCV 60, "Distinctive Image Features from Scale-Invariant Keypoints").
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.photos.forms.definition import PX_PER_MM, Form

Floats = NDArray[np.float64]

_INDEX_PX_PER_MM = 3.0
"""At this scale features are taken. The detector doubles the picture first."""
_FEATURES = 450
_RATIO = 0.86
"""Lowe's ratio between the nearest feature of a form and the nearest other of that form."""
_FARTHEST = 0.75
"""Features farther apart than this, of unit length, are not of one thing."""


@dataclass(frozen=True, slots=True)
class Index:
    """The features of several forms: descriptors (n, 128) float32 of unit length, each one's
    place (n, 2) in mm, and the number of its form."""

    forms: tuple[Form, ...]
    descriptors: NDArray[np.float32]
    places: Floats
    owners: NDArray[np.int64]

    @classmethod
    def of(cls, forms: Sequence[Form]) -> Index:
        """The index of these forms."""
        parts = [_features_of(form) for form in forms]
        counts = [len(places) for places, _ in parts]
        return cls(
            forms=tuple(forms),
            descriptors=np.concatenate(
                [np.zeros((0, 128), np.float32), *(part for _, part in parts)]
            ),
            places=np.concatenate([np.zeros((0, 2)), *(places for places, _ in parts)]),
            owners=np.repeat(np.arange(len(forms)), counts),
        )


def _features_of(form: Form) -> tuple[Floats, NDArray[np.float32]]:
    scale = _INDEX_PX_PER_MM / PX_PER_MM
    picture = cv2.resize(form.picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    mask = np.full(picture.shape, 255, np.uint8)
    for place in [form.bars] if form.bars else []:
        corners = np.round(np.array(place) * _INDEX_PX_PER_MM).astype(np.int32)
        cv2.fillPoly(mask, [corners], (0,))
    places, descriptors = features(np.asarray(picture, np.uint8), _FEATURES, mask)
    return places / _INDEX_PX_PER_MM, descriptors


def features(
    gray: NDArray[np.uint8], many: int, mask: NDArray[np.uint8] | None
) -> tuple[Floats, NDArray[np.float32]]:
    """Places (n, 2), px, and descriptors (n, 128) of unit length (RootSIFT: Arandjelovic and
    Zisserman 2012, CVPR)."""
    detector = cv2.SIFT.create(nfeatures=many, contrastThreshold=0.02, edgeThreshold=14)
    points, descriptors = detector.detectAndCompute(gray, mask)
    if not points:
        return np.zeros((0, 2)), np.zeros((0, 128), np.float32)
    descriptors = np.sqrt(descriptors / np.maximum(descriptors.sum(1, keepdims=True), 1e-9))
    places = np.array([point.pt for point in points], np.float64)
    return places, np.asarray(descriptors, np.float32)


def pairs(likeness: NDArray[np.float32]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Which feature of the photo is which of the form: the nearest, by Lowe's ratio."""
    two = np.argpartition(-likeness, 1, axis=1)[:, :2]
    rows = np.arange(len(likeness))
    values = likeness[rows[:, None], two]
    order = np.argsort(-values, axis=1)
    best, second = values[rows, order[:, 0]], values[rows, order[:, 1]]
    # Of unit vectors the squared distance is 2 - 2 cos.
    near, far = np.sqrt(np.maximum(0, 2 - 2 * best)), np.sqrt(np.maximum(1e-9, 2 - 2 * second))
    here = np.flatnonzero((near < _RATIO * far) & (near < _FARTHEST))
    return here, two[here, order[here, 0]]
