"""Pictures of symbols whose bars come from reportlab or python-barcode, not from us."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

Gray = NDArray[np.uint8]


def reportlab_modules(text: str, *, gs1: bool = False) -> NDArray[np.bool_]:
    """One bool per module, True for bar; reportlab 5 chooses code sets and check.

    `gs1` puts FNC1 first and wherever `text` has GS (0x1D).
    """
    from reportlab.graphics.barcode import code128 as reportlab_code128

    fnc1 = "\xf1"  # reportlab's spelling of FNC1
    value = (fnc1 if gs1 else "") + text.replace("\x1d", fnc1)
    symbol = reportlab_code128.Code128(value)
    symbol.validate()
    symbol.encode()
    symbol.decompose()
    bars: list[bool] = []
    for letter in symbol.decomposed:  # "B" is a bar of two modules, "b" such a space
        bars += [letter.isupper()] * (ord(letter.lower()) - ord("a") + 1)
    return np.array(bars)


def python_barcode_modules(text: str, *, gs1: bool = False) -> NDArray[np.bool_]:
    """As `reportlab_modules`, by python-barcode; `gs1` puts FNC1 first."""
    import barcode.codex

    kind = barcode.codex.Gs1_128 if gs1 else barcode.codex.Code128
    (line,) = kind(text).build()
    return np.array([module == "1" for module in line.strip("0")])


def picture(
    modules: NDArray[np.bool_], *, x_px: int = 3, height_px: int = 90, quiet_modules: int = 12
) -> Gray:
    """Black bars on white with a quiet zone all around."""
    row = np.where(np.repeat(modules, x_px), 0, 255).astype(np.uint8)
    quiet_px = quiet_modules * x_px
    return np.pad(
        np.repeat(row[None], height_px, axis=0),
        ((quiet_px, quiet_px), (quiet_px, quiet_px)),
        constant_values=255,
    )


def turned(gray: Gray, angle_deg: float) -> Gray:
    """Turned clockwise on white, nothing cut off."""
    height, width = gray.shape
    matrix = cv2.getRotationMatrix2D((width / 2, height / 2), -angle_deg, 1.0)
    cos, sin = abs(matrix[0, 0]), abs(matrix[0, 1])
    new_width = int(np.ceil(height * sin + width * cos))
    new_height = int(np.ceil(height * cos + width * sin))
    matrix[:, 2] += (new_width - width) / 2, (new_height - height) / 2
    warped = cv2.warpAffine(
        gray, matrix, (new_width, new_height), flags=cv2.INTER_CUBIC, borderValue=255
    )
    return np.asarray(warped, np.uint8)
