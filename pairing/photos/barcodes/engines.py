"""Two independent decoders behind one interface: zxing-cpp and zbar.

Both are loaded on first use. One that cannot be loaded is a sentence in
`load_engines().missing`, not an exception: the other one still reads.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import Enum
from functools import lru_cache
from typing import Any, Protocol

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.model import GS
from pairing.photos.barcodes.halved import Halved
from pairing.photos.barcodes.hushed import zbar_hushed
from pairing.photos.barcodes.quads import contains, quad_of

Gray = NDArray[np.uint8]
Point = tuple[float, float]

CODE_128 = "Code 128"
ZXING = "zxing-cpp"
ZBAR = "zbar"


@dataclass(frozen=True, slots=True, kw_only=True)
class Detection:
    """What one engine read, in its own coordinates (px).

    aim: "" where the engine does not tell.
    points: zxing-cpp: the four corners, start of the first bar first, along the
        reading direction; zbar: a hull of the places where scan lines met it, that
        may be a mere line and that spans every symbol of the same text.
    turn_deg: the reading direction as the engine names it, a multiple of 90, or None.
    """

    engine: str
    text: str
    aim: str
    kind: str
    points: tuple[Point, ...]
    turn_deg: int | None


class Scope(Enum):
    """Which symbologies to look for. Matrix symbologies cost several times the rest."""

    CODE_128 = "Code128"
    LINEAR = "AllLinear"
    ALL = "AllReadable"


class Engine(Protocol):
    """Reads the symbols of a gray picture: (height, width) uint8."""

    @property
    def name(self) -> str: ...

    def read(
        self, gray: Gray, *, scope: Scope = Scope.LINEAR, is_flat: bool = False
    ) -> tuple[Detection, ...]:
        """is_flat: the bars are known to run from top to bottom, which may save time."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Engines:
    """The engines at hand, and one sentence about each that is not."""

    zxing: ZxingEngine | None
    zbar: Engine | None
    missing: tuple[str, ...]

    @property
    def present(self) -> tuple[Engine, ...]:
        return tuple(e for e in (self.zxing, self.zbar) if e is not None)


_PYZBAR = "the Python package pyzbar and "


@lru_cache(maxsize=1)
def load_engines() -> Engines:
    """Both engines, each loaded once for the life of the process."""
    missing: list[str] = []
    zxing: ZxingEngine | None = None
    zbar: Engine | None = None
    try:
        zxing = ZxingEngine()
    except (ImportError, OSError) as error:
        missing.append(
            f"The decoder {ZXING} cannot be loaded ({error}); install the Python package zxing-cpp."
        )
    try:
        zbar = ZbarEngine()
    except (ImportError, OSError) as error:
        missing.append(
            f"The decoder {ZBAR} cannot be loaded ({error}); install "
            f"{_PYZBAR if isinstance(error, ModuleNotFoundError) else ''}"
            "the system library that it needs (Debian and Ubuntu: apt install libzbar0)."
        )
    return Engines(zxing=zxing, zbar=zbar, missing=tuple(missing))


_LEAST_LEVEL_PX = 400  # the longer side of the smallest halving of a photo that is read
_MOST_ACROSS = 4_000_000
"""Pixels of a picture that is read along its columns too. Beside a symbol that was read, and
where none was, bars of any direction are looked for anyway (`search`)."""


class ZxingEngine:
    """zxing-cpp: every symbology that it knows, each named as what it is."""

    name = ZXING

    def __init__(self) -> None:
        import zxingcpp  # noqa: PLC0415

        self._lib: Any = zxingcpp

    def read(
        self, gray: Gray, *, scope: Scope = Scope.LINEAR, is_flat: bool = False
    ) -> tuple[Detection, ...]:
        """All readable symbols; those whose own checks fail are left out."""
        upright = np.ascontiguousarray(gray)
        if scope is Scope.ALL:
            return self._passed(upright, scope, try_rotate=True)
        found = self._passed(upright, scope)
        if is_flat:
            return found
        return _with_others(found, self._across(upright, scope))

    def read_frame(self, photo: Halved, *, scope: Scope) -> tuple[Detection, ...]:
        """All readable symbols of a whole photo, in the photo and in its halvings, each once.

        The library's own smaller pictures cost it twice as much as reading them (5 of 7.5 ms for
        12 MP, 3.1.1); the halvings here are made once and used by the search as well.
        """
        found: tuple[Detection, ...] = ()
        halvings = 0
        while halvings == 0 or max(photo.at(halvings).shape) >= _LEAST_LEVEL_PX:
            small = np.ascontiguousarray(photo.at(halvings))
            seen = self._passed(small, scope, try_downscale=False)
            if small.size <= _MOST_ACROSS:
                seen += self._across(small, scope, try_downscale=False)
            found = _with_others(found, tuple(_enlarged(d, 2.0**halvings) for d in seen))
            halvings += 1
        return found

    def _across(
        self, upright: Gray, scope: Scope, *, try_downscale: bool = True
    ) -> tuple[Detection, ...]:
        # zxing-cpp's own look at the columns costs twice as much (12 against 6 of 18 ms for
        # 12 MP, 3.1.1): it walks down them, and every pixel is a cache line of its own.
        found = self._passed(cv2.transpose(upright), scope, try_downscale=try_downscale)
        return tuple(_transposed(d) for d in found)

    def _passed(
        self, picture: Any, scope: Scope, *, try_rotate: bool = False, try_downscale: bool = True
    ) -> tuple[Detection, ...]:
        lib = self._lib
        found = lib.read_barcodes(
            picture,
            formats=getattr(lib.BarcodeFormat, scope.value),
            text_mode=lib.TextMode.Plain,
            try_rotate=try_rotate,
            try_downscale=try_downscale,
        )
        return tuple(self._detection(one) for one in found if one.valid)

    def _detection(self, one: Any) -> Detection:
        place = one.position
        corners = (place.top_left, place.top_right, place.bottom_right, place.bottom_left)
        aim = str(one.symbology_identifier)
        text = str(one.text)
        if aim == "]C1":
            text = text.removeprefix(GS)
        return Detection(
            engine=self.name,
            text=text,
            aim=aim,
            kind=CODE_128 if aim.startswith("]C") else str(one.format),
            points=tuple((float(p.x), float(p.y)) for p in corners),
            turn_deg=None,
        )


def _transposed(detection: Detection) -> Detection:
    """What was seen in the transposed picture; a mirror turns the corners' order round."""
    a, b, c, d = ((y, x) for x, y in detection.points)
    return replace(detection, points=(d, c, b, a))


def _enlarged(detection: Detection, factor: float) -> Detection:
    """What was seen in a smaller picture."""
    return replace(detection, points=tuple((factor * x, factor * y) for x, y in detection.points))


def _with_others(
    found: tuple[Detection, ...], more: tuple[Detection, ...]
) -> tuple[Detection, ...]:
    """`found`, and what else was seen."""
    return found + tuple(d for d in more if not any(_is_same(d, other) for other in found))


def _is_same(first: Detection, second: Detection) -> bool:
    """Whether one symbol was seen twice."""
    return (first.text, first.kind) == (second.text, second.kind) and contains(
        quad_of(second.points), quad_of(first.points).center
    )


class ZbarEngine:
    """zbar through pyzbar, Code 128 only: its other symbologies see what is not there.

    It drops a leading FNC1, so its `aim` is always "", and it ignores FNC4, so
    letters beyond ASCII lose their high bit (both measured with libzbar 0.23.92).
    """

    name = ZBAR

    def __init__(self) -> None:
        from pyzbar import pyzbar  # noqa: PLC0415

        self._lib: Any = pyzbar

    def read(
        self, gray: Gray, *, scope: Scope = Scope.CODE_128, is_flat: bool = False
    ) -> tuple[Detection, ...]:
        """All Code 128 symbols, whatever the scope."""
        del scope, is_flat
        height, width = gray.shape
        with zbar_hushed():
            found = self._lib.decode(
                (np.ascontiguousarray(gray).tobytes(), width, height),
                symbols=[self._lib.ZBarSymbol.CODE128],
            )
        return tuple(self._detection(one) for one in found)

    def _detection(self, one: Any) -> Detection:
        try:
            text = one.data.decode("utf-8")
        except UnicodeDecodeError:
            text = one.data.decode("latin-1")
        return Detection(
            engine=self.name,
            text=text.removeprefix(GS),
            aim="",
            kind=CODE_128,
            points=tuple((float(p.x), float(p.y)) for p in one.polygon),
            turn_deg=_ZBAR_TURNS.get(one.orientation),
        )


_ZBAR_TURNS = {"UP": 0, "RIGHT": 90, "DOWN": 180, "LEFT": 270}
