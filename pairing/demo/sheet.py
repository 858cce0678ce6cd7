"""A flat sheet of paper that is drawn on in millimeters.

Everything is drawn at `PX_PER_MM`, about twice what a photo keeps of it, so that
the camera (`camera`) makes the pixels of the picture, as a real one does.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import cv2
import numpy as np
import zxingcpp
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

PX_PER_MM = 16
Color = tuple[int, int, int]
Pixels = NDArray[np.float32]
"""(height, width, 3) or (height, width), float32; colors are RGB 0 to 255."""

_BAR_INK: Color = (22, 22, 24)

FONTS = Path(__file__).parent / "fonts"
SANS = "Barlow-Medium.ttf"
BOLD = "Barlow-Bold.ttf"
MONO = "AzeretMono-Medium.ttf"


@dataclass(frozen=True, slots=True, kw_only=True)
class Type:
    """A face, its size (the em, in mm) and its color."""

    size_mm: float
    color: Color
    face: str = SANS


@lru_cache(maxsize=64)
def load_font(face: str, size_px: float) -> ImageFont.FreeTypeFont:
    """One of the faces beside this module; the plain layout engine, so that the
    same pixels come out whether or not a shaping library is installed."""
    return ImageFont.truetype(str(FONTS / face), size_px, layout_engine=ImageFont.Layout.BASIC)


def bar_modules(content: str, *, gs1: bool) -> NDArray[np.float32]:
    """The modules of a Code 128 symbol, 1.0 for ink, without quiet zones.

    content: plain text, or for GS1-128 element strings with the application
    identifiers in brackets.
    """
    if gs1:
        symbol = zxingcpp.create_barcode(content, zxingcpp.BarcodeFormat.Code128, gs1=True)
    else:
        symbol = zxingcpp.create_barcode(content, zxingcpp.BarcodeFormat.Code128)
    image = np.asarray(symbol.to_image(scale=1, add_quiet_zones=False))
    return np.where(image[0] < 128, 1.0, 0.0).astype(np.float32)


def _as_image(pixels: Pixels) -> Image.Image:
    return Image.fromarray(np.clip(pixels, 0, 255).astype(np.uint8))


class Sheet:
    """A sheet of width_mm by height_mm; `alpha` is where there is paper (0 to 1)."""

    def __init__(self, *, width_mm: float, height_mm: float, stock: Color) -> None:
        self.width_mm = width_mm
        self.height_mm = height_mm
        size_px = (round(width_mm * PX_PER_MM), round(height_mm * PX_PER_MM))
        self._image = Image.new("RGB", size_px, stock)
        self._pen = ImageDraw.Draw(self._image)
        self.alpha: Pixels = np.ones((size_px[1], size_px[0]), np.float32)
        self.shine: Pixels | None = None
        """Where a lamp is mirrored (0 to 1), if anywhere; it outshines all light."""

    @property
    def pixels(self) -> Pixels:
        """A copy of what is drawn."""
        return np.asarray(self._image, np.float32)

    def replace(self, pixels: Pixels) -> None:
        """Put `pixels`, of the same shape, in place of what is drawn."""
        self._image = _as_image(pixels)
        self._pen = ImageDraw.Draw(self._image)

    def text(
        self, x_mm: float, y_mm: float, text: str, how: Type, *, is_centered: bool = False
    ) -> None:
        """Print a line with its baseline at y_mm, from x_mm on or about it."""
        self._pen.text(
            (x_mm * PX_PER_MM, y_mm * PX_PER_MM),
            text,
            fill=how.color,
            font=load_font(how.face, how.size_mm * PX_PER_MM),
            anchor="ms" if is_centered else "ls",
        )

    def fill(
        self, x_mm: float, y_mm: float, width_mm: float, height_mm: float, color: Color
    ) -> None:
        """A filled rectangle."""
        left, top = x_mm * PX_PER_MM, y_mm * PX_PER_MM
        self._pen.rectangle(
            (left, top, left + width_mm * PX_PER_MM - 1, top + height_mm * PX_PER_MM - 1),
            fill=color,
        )

    def frame(
        self, place_mm: tuple[float, float, float, float], color: Color, *, line_mm: float
    ) -> None:
        """An empty rectangle; place_mm is left, top, width, height."""
        x_mm, y_mm, width_mm, height_mm = place_mm
        left, top = x_mm * PX_PER_MM, y_mm * PX_PER_MM
        self._pen.rectangle(
            (left, top, left + width_mm * PX_PER_MM, top + height_mm * PX_PER_MM),
            outline=color,
            width=max(1, round(line_mm * PX_PER_MM)),
        )

    def dashes(
        self, x_mm: float, y_mm: float, length_mm: float, color: Color, *, upright: bool
    ) -> None:
        """A dashed line to the right of the point, or downwards."""
        for k in range(int(length_mm / 2)):
            if upright:
                self.fill(x_mm, y_mm + 2 * k, 0.2, 1.2, color)
            else:
                self.fill(x_mm + 2 * k, y_mm, 1.2, 0.2, color)

    def bars(
        self,
        x_mm: float,
        y_mm: float,
        modules: NDArray[np.float32],
        *,
        module_mm: float,
        height_mm: float,
    ) -> float:
        """Draw bars from x_mm on, edges placed to a fraction of a pixel.

        Returns the symbol's width in mm, quiet zones not counted.
        """
        module_px = module_mm * PX_PER_MM
        left_px = x_mm * PX_PER_MM
        first = int(np.floor(left_px))
        count = int(np.ceil(left_px + len(modules) * module_px)) - first
        edges = left_px - first + np.arange(len(modules) + 1) * module_px
        ink_up_to = np.concatenate(([0.0], np.cumsum(modules))) * module_px
        columns = np.diff(np.interp(np.arange(count + 1), edges, ink_up_to))
        top, bottom = round(y_mm * PX_PER_MM), round((y_mm + height_mm) * PX_PER_MM)
        share = np.broadcast_to(columns.astype(np.float32), (bottom - top, count))
        self._put(share, _BAR_INK, left=first, top=top)
        return len(modules) * module_mm

    def stain(self, x_mm: float, y_mm: float, ink: Pixels, color: Color) -> None:
        """Lay ink (height, width; 0 to 1) on the paper, its corner at the point.
        What would fall beside the sheet is lost."""
        self._put(ink, color, left=round(x_mm * PX_PER_MM), top=round(y_mm * PX_PER_MM))

    def _put(self, ink: Pixels, color: Color, *, left: int, top: int) -> None:
        """Mix a color in by shares (height, width); the rest of the sheet is not touched, since
        to copy all of it takes longer than anything that is drawn."""
        wide, high = self._image.size
        right, bottom = min(left + ink.shape[1], wide), min(top + ink.shape[0], high)
        place = (max(left, 0), max(top, 0), right, bottom)
        if place[0] >= right or place[1] >= bottom:
            return
        share = ink[place[1] - top : bottom - top, place[0] - left : right - left, None]
        there = np.asarray(self._image.crop(place), np.float32)
        mixed = there * (1 - share) + np.asarray(color, np.float32) * share
        self._image.paste(_as_image(mixed), place[:2])

    def paste(self, other: Sheet, *, x_mm: float, y_mm: float, angle_deg: float) -> None:
        """Stick another sheet on this one, its center at the point, turned clockwise,
        with a thin shadow along its edge."""
        high, wide = other.alpha.shape
        turn = cv2.getRotationMatrix2D((wide / 2, high / 2), -angle_deg, 1.0)
        turn[0, 2] += x_mm * PX_PER_MM - wide / 2
        turn[1, 2] += y_mm * PX_PER_MM - high / 2
        # Only what it touches: all of a sheet is large.
        corners = np.array([(0, 0, 1), (wide, 0, 1), (wide, high, 1), (0, high, 1)]) @ turn.T
        reach = round(PX_PER_MM * 1.2)
        left, top = np.maximum(np.floor(corners.min(0)).astype(int) - reach, 0).tolist()
        right, bottom = np.ceil(corners.max(0)).astype(int).tolist()
        place = (left, top, *np.minimum((right + reach, bottom + reach), self._image.size).tolist())
        if place[0] >= place[2] or place[1] >= place[3]:
            return
        turn[:, 2] -= place[:2]
        pixels = np.array(self._image.crop(place), np.float32)
        size = (pixels.shape[1], pixels.shape[0])
        laid = cv2.warpAffine(
            other.pixels, turn, size, flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE
        )
        mask = np.asarray(cv2.warpAffine(other.alpha, turn, size, flags=cv2.INTER_LINEAR))
        near = cv2.GaussianBlur(mask, (0, 0), 0.22 * PX_PER_MM)
        drop = round(0.16 * PX_PER_MM)
        shade = 0.38 * np.roll(near, (drop, drop), (0, 1))[:, :, None]
        pixels *= 1 - shade
        pixels *= 1 - mask[:, :, None]
        pixels += np.asarray(laid) * mask[:, :, None]
        self._image.paste(_as_image(pixels), place[:2])
