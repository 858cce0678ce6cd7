"""Fields filled in: the form's words and rules, people's writing, stamps, labels nearby."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from pairing.training.finder import captions
from pairing.training.finder.canvas import PAPER, PRINT, PX_PER_MM, STRIP, WRITING, Canvas, bars_of
from pairing.training.finder.card_layouts import Layout, Rect
from pairing.training.finder.materials import Alpha, Hand, Materials, Rng, resized, text_ink


class Filler:
    """Draws one card's fields on a canvas. at: the card's left top corner, mm."""

    def __init__(self, canvas: Canvas, materials: Materials, rng: Rng, at: tuple[float, float]):
        self.canvas, self.materials, self.rng, self.at = canvas, materials, rng, at
        faces = materials.print_faces
        self.face = faces[int(rng.integers(len(faces)))]
        self.title_face = faces[int(rng.integers(len(faces)))]
        self.form_light = float(rng.uniform(15, 120))
        self.caption_mm = float(rng.uniform(1.5, 2.8))

    def print(self, x: float, y: float, text: str, mm: float, *, light: float | None = None,
              kind: int = PRINT, face: object = None, most: float = 999.0) -> float:  # fmt: skip
        """Printed text, left top at x, y of the card, capitals `mm` high; its width, mm."""
        size = max(7, round(mm * PX_PER_MM * 1.4))
        ink = text_ink(self.materials.font(face or self.face, size), text)  # type: ignore[arg-type]
        if ink.shape[1] > most * PX_PER_MM:
            high = max(4, round(ink.shape[0] * most * PX_PER_MM / ink.shape[1]))
            ink = resized(ink, round(most * PX_PER_MM), high)
        light = self.form_light if light is None else light
        self.canvas.put(
            ink, (x + self.at[0]) * PX_PER_MM, (y + self.at[1]) * PX_PER_MM, light, kind
        )
        return ink.shape[1] / PX_PER_MM

    def by_hand(self, x: float, y: float, text: str, mm: float, most: float) -> None:
        """Words by hand, a face for them."""
        faces = self.materials.hand_faces
        font = self.materials.font(
            faces[int(self.rng.integers(len(faces)))], round(mm * PX_PER_MM * 1.5)
        )
        ink = text_ink(font, text, stroke=int(self.rng.random() < 0.4))
        if ink.shape[1] > most * PX_PER_MM:
            ink = ink[:, : max(1, round(most * PX_PER_MM))]
        turn = cv2.getRotationMatrix2D((0, ink.shape[0] / 2), float(self.rng.normal(0, 1.5)), 1.0)
        ink = np.asarray(cv2.warpAffine(ink, turn, (ink.shape[1], ink.shape[0])), np.float32)
        self.canvas.put(ink, (x + self.at[0]) * PX_PER_MM, (y + self.at[1]) * PX_PER_MM,
                        float(self.rng.uniform(15, 110)), WRITING)  # fmt: skip

    def form(self, layout: Layout) -> None:
        """Rules, captions, title, own bars and number."""
        rng = self.rng
        style = str(rng.choice(["whole", "dashed", "dotted"], p=[0.88, 0.06, 0.06]))
        for rect, role in layout.cells:
            self._cell(layout, rect, role, style)
        if rng.random() < 0.8:
            mm = float(rng.choice([3, 4, 5, 6.5]))
            self.print(rng.uniform(2, layout.size[0] / 2), rng.uniform(1, layout.size[1] * 0.3),
                       captions.pick(rng, captions.TITLES), mm, face=self.title_face,
                       most=layout.size[0] * 0.6)  # fmt: skip
        if rng.random() < 0.25:
            self._header(layout)
        if layout.bars is not None:
            self._own(layout.bars)
        for _ in range(int(rng.integers(0, 3))):
            self.print(rng.uniform(2, layout.size[0] - 30), layout.size[1] - rng.uniform(2, 4),
                       captions.pick(rng, captions.FOOTERS), 1.6, most=40)  # fmt: skip

    def _header(self, layout: Layout) -> None:
        """Light words on a dark band along the card's head."""
        high = round(float(self.rng.uniform(3.5, 8)) * PX_PER_MM)
        wide = round(layout.size[0] * float(self.rng.uniform(0.4, 0.97)) * PX_PER_MM)
        sheet = np.full((high, wide), self.rng.uniform(15, 90), np.uint8)
        words = f"{captions.pick(self.rng, captions.TITLES)}   {captions.pick(self.rng, captions.FIELDS)}"
        ink = text_ink(self.materials.font(self.title_face, max(8, round(high * 0.6))), words)
        ink = ink[: high - 2, : wide - 12]
        y = (high - ink.shape[0]) // 2
        part = sheet[y : y + ink.shape[0], 8 : 8 + ink.shape[1]]
        part[:] = (part * (1 - ink) + 245 * ink).astype(np.uint8)
        kinds = np.full(sheet.shape, PRINT, np.uint8)
        x = (self.at[0] + layout.size[0] / 2) * 1.0
        self.canvas.paste(
            sheet, kinds, placed(sheet, x, self.at[1] + high / PX_PER_MM / 2 + 1.0, 0.0)
        )

    def _cell(self, layout: Layout, rect: Rect, role: str, style: str) -> None:
        rng = self.rng
        left, top, wide, high = rect
        if layout.style == "walls":
            self.canvas.frame(
                (left + self.at[0], top + self.at[1], wide, high),
                layout.pen,
                self.form_light,
                style,
            )
        elif layout.style == "apart" and role not in ("title", "empty"):
            left, top, wide, high = left + 1.5, top + 3.2, wide - 3, high - 4.2
            if high > 4:
                self.canvas.frame(
                    (left + self.at[0], top + self.at[1], wide, high),
                    layout.pen,
                    self.form_light,
                    style,
                )
        elif layout.style == "lines" and role not in ("title", "empty"):
            y = top + high - 1.5 + self.at[1]
            self.canvas.rule(
                left + 2 + self.at[0],
                y,
                left + wide - 2 + self.at[0],
                y,
                layout.pen,
                self.form_light,
                style,
            )
        if role != "empty" or rng.random() < 0.3:
            above = 3.0 if layout.style == "apart" else -0.8
            self.print(
                left + 1,
                top - above,
                captions.pick(rng, captions.FIELDS),
                self.caption_mm,
                most=wide - 2,
            )
        if high > 5:
            self._contents((left, top, wide, high), role)

    def _contents(self, rect: Rect, role: str) -> None:
        rng = self.rng
        left, top, wide, high = rect
        tall = float(min(rng.uniform(2.5, 5), high * 0.45))
        y = top + min(4.0, high * 0.4)
        if role in {"address", "print-address"} and rng.random() < 0.85:
            lines = captions.address(rng)
            step = min(tall * 1.35, (high - 4) / len(lines))
            for at, line in enumerate(lines):
                if role == "address":
                    self.by_hand(left + 3, y + at * step, line, step * 0.7, wide - 4)
                else:
                    self.print(
                        left + 3,
                        y + at * step,
                        line,
                        min(step * 0.68, 4.2),
                        light=float(rng.uniform(10, 90)),
                        most=wide - 5,
                    )
        elif role == "signature" and rng.random() < 0.7:
            self._signature(rect)
        elif role == "name" and rng.random() < 0.7:
            self.by_hand(left + 3, y, captions.pick(rng, captions.NAMES), tall, wide - 4)
        elif role in {"date", "reference"} and rng.random() < 0.75:
            text = captions.short_number(rng)
            if rng.random() < 0.5:
                self.by_hand(left + 3, y, text, tall, wide - 4)
            elif rng.random() < 0.5:
                self.digits_by_hand(left + 3, y, text, tall, wide - 4)
            else:
                self.print(
                    left + 3,
                    y,
                    text,
                    min(tall, 3.6),
                    light=float(rng.uniform(10, 90)),
                    most=wide - 4,
                )
        elif role == "checks":
            self._checks(rect)
        elif role == "text":
            for at in range(int(min(5, high / 3))):
                words = " ".join(
                    captions.pick(rng, captions.FIELDS + captions.FOOTERS) for _ in range(3)
                )
                self.print(left + 1.5, top + 3 + at * 2.6, words, 1.5, most=wide - 3)
        elif role == "postmark" and rng.random() < 0.7:
            self.postmark(left + wide * rng.uniform(0.2, 0.8), top + high / 2)
        elif role == "title":
            self.print(
                left + 2,
                top + 2,
                captions.pick(rng, captions.TITLES),
                min(5.0, high * 0.4),
                face=self.title_face,
                most=wide - 4,
            )

    def digits_by_hand(self, x: float, y: float, text: str, mm: float, most: float) -> None:
        """Digits of a writer that are no article's number."""
        hand = Hand.any(self.materials, self.rng, PX_PER_MM)
        light = float(self.rng.uniform(10, 110))
        at = 0.0
        for char in text:
            ink = (
                hand.character(char, mm * PX_PER_MM)
                if char != " "
                else np.zeros((2, 12), np.float32)
            )
            if (at + ink.shape[1]) > most * PX_PER_MM:
                return
            self.canvas.put(
                ink,
                (x + self.at[0]) * PX_PER_MM + at,
                (y + mm + self.at[1]) * PX_PER_MM - ink.shape[0],
                light,
                WRITING,
            )
            at += ink.shape[1] + self.rng.uniform(0.02, 0.3) * mm * PX_PER_MM

    def _signature(self, rect: Rect) -> None:
        left, top, wide, high = rect
        t = np.linspace(0, 1, 60)
        many = int(self.rng.integers(3, 8))
        x = left + wide * (0.1 + 0.6 * t) + 3 * np.sin(many * 6.3 * t + 1)
        y = (
            top
            + high / 2
            + high
            * 0.3
            * np.sin(many * 5 * t + self.rng.uniform(0, 6))
            * self.rng.uniform(0.3, 1.3)
        )
        points = np.stack([x + self.at[0], y + self.at[1]], 1)
        self.canvas.line(
            points, float(self.rng.uniform(0.3, 0.8)), float(self.rng.uniform(15, 90)), WRITING
        )

    def _checks(self, rect: Rect) -> None:
        left, top, wide, high = rect
        side = float(self.rng.uniform(2.0, 3.5))
        columns = 2 if wide > 60 else 1
        for at in range(int(max(1, (high - 4) / 4.5)) * columns):
            x, y = left + 2 + (at % columns) * wide / 2, top + 4 + at // columns * 4.5
            self.canvas.frame((x + self.at[0], y + self.at[1], side, side), 0.25, self.form_light)
            self.print(
                x + side + 1.2,
                y + 0.3,
                captions.pick(self.rng, captions.SERVICES),
                1.9,
                most=wide / columns - 6,
            )
            if self.rng.random() < 0.25:
                points = np.array(
                    [
                        (x, y),
                        (x + side, y + side),
                        (x + side / 2, y + side / 2),
                        (x + side, y),
                        (x, y + side),
                    ]
                )
                self.canvas.line(points + self.at, 0.4, 40, WRITING)

    def postmark(self, x: float, y: float) -> None:
        """A round stamp with a date, at its middle."""
        radius = float(self.rng.uniform(9, 17))
        light, strength = float(self.rng.uniform(20, 110)), float(self.rng.uniform(0.45, 1.0))
        around = np.linspace(0, 2 * np.pi, 70)
        circle = np.stack([np.cos(around), np.sin(around)], 1)
        middle = np.array([x + self.at[0], y + self.at[1]])
        for share in (1.0, 0.62) if self.rng.random() < 0.7 else (1.0,):
            self.canvas.line(middle + radius * share * circle, 0.4, light, PRINT, strength)
        size = 2 * radius * PX_PER_MM
        font = self.materials.font(self.title_face, max(8, round(radius * 2.6)))
        ink = text_ink(
            font,
            f"{captions.digits(self.rng, 2)} {captions.digits(self.rng, 2)} {captions.digits(self.rng, 2)}",
        )
        if ink.shape[1] > size * 0.8:
            high = max(3, round(ink.shape[0] * size * 0.8 / ink.shape[1]))
            ink = resized(ink, round(size * 0.8), high)
        turn = float(self.rng.uniform(-40, 40))
        side = max(ink.shape) + 4
        padded = np.zeros((side, side), np.float32)
        oy, ox = (side - ink.shape[0]) // 2, (side - ink.shape[1]) // 2
        padded[oy : oy + ink.shape[0], ox : ox + ink.shape[1]] = ink
        matrix = cv2.getRotationMatrix2D((side / 2, side / 2), turn, 1.0)
        turned = np.asarray(cv2.warpAffine(padded, matrix, (side, side)), np.float32) * np.float32(
            strength
        )
        self.canvas.put(
            turned, middle[0] * PX_PER_MM - side / 2, middle[1] * PX_PER_MM - side / 2, light, PRINT
        )

    def _own(self, rect: Rect) -> None:
        left, top, wide, high = rect
        rng = self.rng
        under = self.canvas.gray[min(round((top + self.at[1]) * PX_PER_MM), self.canvas.gray.shape[0] - 1),
                                 min(round((left + self.at[0]) * PX_PER_MM), self.canvas.gray.shape[1] - 1)]  # fmt: skip
        is_upright = high > wide
        long, low = (high, wide) if is_upright else (wide, high)
        bars = bars_of(rng, long, low, float(rng.uniform(10, 60)), float(under))
        picture, kinds = bars, np.full(bars.shape, PRINT, np.uint8)
        text = captions.grouped(rng, captions.digits(rng, int(rng.choice([22, 20, 12, 13]))))
        mm = float(rng.uniform(1.8, 3.4))
        font = self.materials.font(self.face, round(mm * PX_PER_MM * 1.4))
        ink = text_ink(font, text)
        room = np.full(
            (ink.shape[0] + round(0.8 * PX_PER_MM), bars.shape[1]), float(under), np.uint8
        )
        sorts = np.zeros(room.shape, np.uint8)
        if ink.shape[1] > room.shape[1]:
            ink = resized(ink, room.shape[1], ink.shape[0])
        if rng.random() < 0.92:
            x = (room.shape[1] - ink.shape[1]) // 2
            part = room[-ink.shape[0] :, x : x + ink.shape[1]]
            part[:] = (part * (1 - ink) + 20 * ink).astype(np.uint8)
            sorts[-ink.shape[0] :, x : x + ink.shape[1]][ink > 0.4] = PRINT
        picture, kinds = np.concatenate([picture, room]), np.concatenate([kinds, sorts])
        if is_upright:
            picture, kinds = (
                np.ascontiguousarray(np.rot90(picture)),
                np.ascontiguousarray(np.rot90(kinds)),
            )
            if rng.random() < 0.5:
                picture, kinds = picture[::-1, ::-1].copy(), kinds[::-1, ::-1].copy()
        place = np.array(
            [[1, 0, (left + self.at[0]) * PX_PER_MM], [0, 1, (top + self.at[1]) * PX_PER_MM]]
        )
        high_px, wide_px = picture.shape
        y0, x0 = round(place[1, 2]), round(place[0, 2])
        region = self.canvas.gray[y0 : y0 + high_px, x0 : x0 + wide_px]
        if region.shape == picture.shape:
            region[:] = np.minimum(region, picture)
            self.canvas.kinds[y0 : y0 + high_px, x0 : x0 + wide_px] = kinds


def strip_sheet(
    materials: Materials, rng: Rng, text: str, *, mm: float, has_bars: bool, number: int,
    wide_mm: float | None = None,
) -> tuple[NDArray[np.uint8], NDArray[np.uint8]]:  # fmt: skip
    """A strip's (or label's) gray picture and kinds: print, with bars above it or none."""
    light = float(rng.uniform(215, 254))
    faces = materials.print_faces
    font = materials.font(faces[int(rng.integers(len(faces)))], max(8, round(mm * PX_PER_MM * 1.4)))
    ink = text_ink(font, text)
    if wide_mm is not None and ink.shape[1] > wide_mm * PX_PER_MM:
        high = max(5, round(ink.shape[0] * wide_mm * PX_PER_MM / ink.shape[1]))
        ink = resized(ink, round(wide_mm * PX_PER_MM), high)
    if rng.random() < 0.12:
        ink = ink * (rng.random((1, ink.shape[1])) < 0.9) * (rng.random((ink.shape[0], 1)) < 0.93)
        ink = np.asarray(cv2.GaussianBlur(ink, (0, 0), 0.7), np.float32)
    margin = round(float(rng.uniform(0.6, 3.5)) * PX_PER_MM)
    high_bars = round(float(rng.uniform(3.5, 8)) * PX_PER_MM) if has_bars else 0
    bars_wide = round(max(ink.shape[1] * rng.uniform(0.9, 1.15), 30 * PX_PER_MM))
    wide = (max(ink.shape[1], bars_wide) if has_bars else ink.shape[1]) + 2 * margin
    up = round(float(rng.uniform(0.2, 1.5)) * PX_PER_MM)
    high = ink.shape[0] + 2 * up + high_bars + (4 if has_bars else 0)
    gray = np.full((high, wide), light, np.uint8)
    kinds = np.full((high, wide), STRIP if number != PRINT else PAPER, np.uint8)
    y = up
    if has_bars:
        bars = bars_of(rng, bars_wide / PX_PER_MM, high_bars / PX_PER_MM, 20, light)
        bars = bars[:high_bars, : wide - margin]
        x = (wide - bars.shape[1]) // 2
        gray[y : y + bars.shape[0], x : x + bars.shape[1]] = bars
        kinds[y : y + bars.shape[0], x : x + bars.shape[1]] = PRINT
        y += high_bars + 4
    x = (wide - ink.shape[1]) // 2
    part = gray[y : y + ink.shape[0], x : x + ink.shape[1]]
    dark = float(rng.uniform(8, 80))
    part[:] = (part * (1 - ink) + dark * ink).astype(np.uint8)
    kinds[y : y + ink.shape[0], x : x + ink.shape[1]][ink > 0.4] = number
    return gray, kinds


def placed(
    sheet: NDArray[np.uint8], x_mm: float, y_mm: float, degrees: float
) -> NDArray[np.float64]:
    """The (2, 3) map of a sheet whose middle is put at x, y of the canvas, turned."""
    high, wide = sheet.shape
    matrix = cv2.getRotationMatrix2D((wide / 2, high / 2), degrees, 1.0)
    matrix[:, 2] += np.array([x_mm * PX_PER_MM - wide / 2, y_mm * PX_PER_MM - high / 2])
    return np.asarray(matrix, np.float64)


__all__ = ["Alpha", "Filler", "placed", "strip_sheet"]
