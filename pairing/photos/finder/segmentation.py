"""The two networks run over a picture: what each of its pixels is."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from threading import Lock

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.errors import CounterfoilError

PAPER, PRINT, NUMBER, WRITING, STROKE, STRIP = range(6)
"""What a pixel may be (`training.finder.canvas.KINDS`)."""
_KINDS = 6
STRIDE = 2
"""Pixels of the picture for one of the scores."""
EVERY_PX = 16
"""A picture's sides are multiples of this."""
_LOCAL_PX = 31
"""`training.finder.segmenting.LOCAL_PX`."""
_HERE = Path(__file__).parent


@dataclass(frozen=True, slots=True, kw_only=True)
class Scores:
    """Of each second pixel across and down. kinds: (h, w) uint8, the likeliest kind. number: (h, w)
    probability that it is the number's. altered: (h, w) probability that the number is altered,
    which says something on the number's own pixels alone. facing: (2, h, w) cosine and sine of
    the reading direction, likewise."""

    kinds: NDArray[np.uint8]
    number: NDArray[np.float32]
    altered: NDArray[np.float32]
    facing: NDArray[np.float32]


@dataclass(slots=True)
class Segmenter:
    """A network; loads once, may be used from several threads."""

    net: cv2.dnn.Net
    lock: Lock

    @classmethod
    def load(cls, model: Path) -> Segmenter:
        """Raises CounterfoilError where the model file is missing or unreadable."""
        try:
            net = cv2.dnn.readNetFromONNX(str(model))
        except cv2.error as error:
            raise CounterfoilError(
                "The finder's network could not be loaded",
                where=str(model),
                remedy="Install Counterfoil again.",
            ) from error
        return cls(net, Lock())

    def look(self, gray: NDArray[np.uint8]) -> Scores:
        """What a picture (h, w) shows; both sides multiples of `EVERY_PX`."""
        with self.lock:
            self.net.setInput(inputs_of(gray))
            scores = np.asarray(self.net.forward()[0], np.float32)
        kinds = scores[:_KINDS]
        told = np.exp(kinds - kinds.max(0))
        return Scores(
            kinds=kinds.argmax(0).astype(np.uint8),
            number=np.asarray(told[NUMBER] / told.sum(0), np.float32),
            altered=np.asarray(1 / (1 + np.exp(-scores[_KINDS].clip(-30, 30))), np.float32),
            facing=scores[_KINDS + 1 :],
        )


def inputs_of(gray: NDArray[np.uint8]) -> NDArray[np.float32]:
    """(1, 2, h, w): the picture with mean 0 and standard deviation 1, and what is darker or
    lighter than around it."""
    light = gray.astype(np.float32) / 255
    local = cv2.blur(light, (_LOCAL_PX, _LOCAL_PX), borderType=cv2.BORDER_REPLICATE)
    level = (light - light.mean()) / (light.std() + 0.02)
    return np.stack([level, np.clip((light - local) / 0.12, -2, 2)])[None].astype(np.float32)


def is_installed() -> bool:
    """Whether both networks lie beside this module; without them nothing is proposed."""
    return all((_HERE / name).is_file() for name in ("far.onnx", "near.onnx"))


@cache
def far() -> Segmenter:
    """The network that looks at a whole card, at about 5 px a mm. Raises CounterfoilError."""
    return Segmenter.load(_HERE / "far.onnx")


@cache
def near() -> Segmenter:
    """The network that looks at one line, at about 11 px a mm. Raises CounterfoilError."""
    return Segmenter.load(_HERE / "near.onnx")
