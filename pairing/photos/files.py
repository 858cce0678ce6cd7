"""Photo files to frames: gray pixels, upright, and their color where it is asked for.

JPEG, PNG, TIFF (every page), WebP, PDF (every page) and, with the extra `heic`, HEIC. What
cannot be used raises PhotoUnusable with its reason, before its pixels are in memory wherever
the file's header tells enough.
"""

from __future__ import annotations

import os
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import BinaryIO

import numpy as np
import pypdfium2
from numpy.typing import NDArray
from PIL import ExifTags, Image, UnidentifiedImageError

from pairing.errors import PhotoUnusable
from pairing.photos import handed, heic

SUFFIXES = frozenset((".jpg", ".jpeg", ".png", ".tif", ".tiff", ".webp", ".heic", ".heif", ".pdf"))
"""File name endings that count as photos in a folder."""

MOST_PIXELS = 80_000_000
"""Largest frame in pixels: well above the 50 MP of today's largest phone pictures.
What a reading process may hold (`photos.worker`) suffices for that many from JPEG, and for 50 MP
from PNG."""

LONGEST_SIDE_PX = 32_767
"""Decoders and cv2.remap count pixels in 16 bits with sign."""

PDF_DPI = 300
"""A bar of 0.33 mm, the narrowest that BCOCA's 13 mils allow, then has 3.9 px."""

_BAND_ROWS = 512
_SUPPORTED = ("JPEG", "MPO", "PNG", "TIFF", "WEBP", "HEIF", "GIF")
_NO_WEBP_DECODER = "could not create decoder object"
"""What Pillow says where WebP's decoder does not get its memory."""
_ANIMATED = ("PNG", "WEBP", "GIF")


Color = NDArray[np.uint8]
"""A frame at half its scale, (height // 2, width // 2, 3) uint8, red, green, blue."""


def _colorless() -> Color | None:
    return None


@dataclass(frozen=True, slots=True, kw_only=True)
class Frame:
    """One picture of a file. page: from 1. gray: (height, width) uint8, 0 black. color: opens the
    file once more, and has the frame in color at half its scale, at which a photo's color is
    stored; None where it has none, or no room for it."""

    photo: Path
    page: int
    gray: NDArray[np.uint8]
    color: Callable[[], Color | None] = _colorless


def is_photo_name(path: Path) -> bool:
    """Whether the name ends like a photo's."""
    return path.suffix.lower() in SUFFIXES


def frames(photo: Path, first: int = 1) -> Iterator[Frame]:
    """The file's frames from page `first` on, one after the other. Raises PhotoUnusable."""
    with _as_unusable(photo):
        if handed.size_bytes(photo) == 0:
            raise _unusable(photo, "The file is empty")
        if _begins(photo, b"%PDF"):
            yield from _pdf_frames(photo, first)
        else:
            yield from _image_frames(photo, first)


@contextmanager
def _as_unusable(photo: Path) -> Iterator[None]:
    try:
        yield
    except PhotoUnusable:
        raise
    except FileNotFoundError:
        raise PhotoUnusable(
            "There is no such file", where=os.fspath(photo), remedy="Check how its name is typed."
        ) from None
    except IsADirectoryError:
        raise _unusable(photo, "This is a folder, not a file") from None
    except handed.NoRegularFile:
        raise _unusable(photo, "This is not a regular file (a pipe, a device)") from None
    except handed.LeadsOutside:
        raise PhotoUnusable(
            "This is a link to a file outside the folder, and is not followed",
            where=os.fspath(photo),
            remedy="Put the photo itself into the folder, or name the folder that it lies in.",
        ) from None
    except PermissionError:
        raise PhotoUnusable(
            "The file may not be read",
            where=os.fspath(photo),
            remedy="Give the user who runs this the right to read it.",
        ) from None
    except MemoryError:
        raise _no_room(photo) from None
    except Exception as error:  # decoders raise what they like: struct.error, SyntaxError, ...
        if str(error) == _NO_WEBP_DECODER:
            raise _no_room(photo) from None
        reason = (str(error).splitlines() or [type(error).__name__])[0]
        raise _unusable(photo, f"The file cannot be opened as a picture ({reason})") from error


def _unusable(photo: Path, what: str) -> PhotoUnusable:
    return PhotoUnusable(
        what, where=os.fspath(photo), remedy="Take or export the photo again as JPEG or PNG."
    )


def _no_room(photo: Path) -> PhotoUnusable:
    return _unusable(photo, "The picture does not fit into the memory that a photo may take")


def _begins(photo: Path, magic: bytes) -> bool:
    return _head(photo).lstrip().startswith(magic)


def _head(photo: Path) -> bytes:
    with handed.open_photo(photo) as file:
        return file.read(1024)


def _image_frames(photo: Path, first: int) -> Iterator[Frame]:
    if heic.is_heic(_head(photo)) and (trouble := heic.trouble()):
        raise PhotoUnusable(
            trouble,
            where=os.fspath(photo),
            remedy=f"Export the photo as JPEG, or run {heic.EXTRA}.",
        )
    with handed.open_photo(photo) as file, _image(photo, file) as image:
        _refuse_unfit(photo, image)
        pages = getattr(image, "n_frames", 1) if image.format == "TIFF" else 1
        for page in range(first - 1, pages):
            if pages > 1:
                image.seek(page)
            _refuse_size(photo, *image.size)
            if image.format in ("JPEG", "MPO"):
                # A JPEG's brightness is a channel of its own: color need not be decoded.
                image.draft("L", image.size)
            gray = _upright(image, _gray(image))
            # Four bytes a pixel of a picture in color, not needed while the frame is searched.
            image.im = None  # type: ignore[assignment]
            color = partial(_image_color, photo, page + 1)
            yield Frame(photo=photo, page=page + 1, gray=gray, color=color)


def _image(photo: Path, file: BinaryIO) -> Image.Image:
    try:
        with warnings.catch_warnings():
            # The size limit is ours, and is checked before any pixel is decoded.
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            return Image.open(file)
    except Image.DecompressionBombError:
        raise _too_large(photo, "more than 178 million") from None
    except UnidentifiedImageError:
        raise _unusable(photo, "This is not a photo format that is read here") from None


def _refuse_unfit(photo: Path, image: Image.Image) -> None:
    if image.format not in _SUPPORTED:
        raise _unusable(photo, f"{image.format} is not a photo format that is read here")
    if image.format in _ANIMATED and getattr(image, "n_frames", 1) > 1:
        raise _unusable(photo, "The picture is animated")
    if image.mode == "CMYK":
        raise _unusable(photo, "The picture is in print colors (CMYK)")


def _refuse_size(photo: Path, width_px: int, height_px: int) -> None:
    if max(width_px, height_px) > LONGEST_SIDE_PX:
        raise _unusable(photo, f"The picture is {width_px} x {height_px} pixels, far too long")
    if width_px * height_px > MOST_PIXELS:
        raise _too_large(photo, f"{width_px} x {height_px}")


def _too_large(photo: Path, size: str) -> PhotoUnusable:
    return _unusable(
        photo, f"The picture has {size} pixels, more than the {MOST_PIXELS // 10**6} million read"
    )


def _image_color(photo: Path, page: int) -> Color | None:
    """A page's color. The frame was read before, so that what fails now is no news."""
    with suppress(Exception), handed.open_photo(photo) as file, _image(photo, file) as image:
        if page > 1:
            image.seek(page - 1)
        if image.mode.startswith(("I", "L", "1", "F")):
            return None
        # A JPEG's color mostly has half the scale of its brightness, and is decoded so.
        half = (max(1, image.width // 2), max(1, image.height // 2))
        image.draft("RGB", half)
        if min(image.size) >= 2 * min(half) > 1:
            image = image.reduce(2)  # noqa: PLW2901 - the whole one is not needed any more
        if image.has_transparency_data:
            return None
        return _upright(image, np.asarray(image.convert("RGB"), np.uint8))
    return None


def _upright(image: Image.Image, pixels: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Pixels turned as the EXIF orientation says."""
    # Asked after loading: Pillow turns TIFF pages itself and then takes the tag away.
    orientation = image.getexif().get(ExifTags.Base.Orientation, 1)
    return np.ascontiguousarray(_turned(pixels, orientation))


def _gray(image: Image.Image) -> NDArray[np.uint8]:
    """Gray pixels, turned to gray in bands so that no second picture lies in memory; what is
    transparent becomes white."""
    image.load()
    width, height = image.size
    gray = np.empty((height, width), np.uint8)
    for top in range(0, height, _BAND_ROWS):
        band = image.crop((0, top, width, min(top + _BAND_ROWS, height)))
        gray[top : top + _BAND_ROWS] = _gray_band(band)
    return gray


def _gray_band(image: Image.Image) -> NDArray[np.uint8]:
    if image.mode.startswith("I;16"):
        return np.asarray(np.asarray(image) >> 8, dtype=np.uint8)
    if image.mode == "I":  # 32 bits, of which PNG and TIFF fill 16
        return np.asarray(np.clip(np.asarray(image) >> 8, 0, 255), dtype=np.uint8)
    if image.has_transparency_data:
        paper = Image.new("RGBA", image.size, "white")
        image = Image.alpha_composite(paper, image.convert("RGBA"))
    return np.asarray(image.convert("L"), dtype=np.uint8)


def _turned(pixels: NDArray[np.uint8], orientation: int) -> NDArray[np.uint8]:
    """Undo an orientation of TIFF 6.0 (also EXIF's); an unknown value counts as upright."""
    turns: dict[int, Callable[[NDArray[np.uint8]], NDArray[np.uint8]]] = {
        2: np.fliplr,
        3: lambda p: np.rot90(p, 2),
        4: np.flipud,
        5: lambda p: p.swapaxes(0, 1),
        6: lambda p: np.rot90(p, -1),
        7: lambda p: np.rot90(p, 2).swapaxes(0, 1),
        8: np.rot90,
    }
    turn = turns.get(orientation)
    return turn(pixels) if turn else pixels


def _pdf_frames(photo: Path, first: int) -> Iterator[Frame]:
    with handed.open_photo(photo) as file:
        yield from _pages(photo, file, first)


def _pages(photo: Path, file: BinaryIO, first: int) -> Iterator[Frame]:
    try:
        document = pypdfium2.PdfDocument(file)
    except pypdfium2.PdfiumError as error:
        if "password" in str(error).lower():
            raise _unusable(photo, "The PDF is locked with a password") from None
        raise
    try:
        for index in range(first - 1, len(document)):
            page = document[index]
            scale = PDF_DPI / 72
            width_pt, height_pt = page.get_size()
            _refuse_size(photo, round(width_pt * scale), round(height_pt * scale))
            gray = page.render(scale=scale, grayscale=True).to_numpy()
            yield Frame(
                photo=photo,
                page=index + 1,
                gray=np.ascontiguousarray(gray.reshape(gray.shape[0], gray.shape[1])),
                color=partial(_page_color, photo, index),
            )
    finally:
        document.close()


def _page_color(photo: Path, index: int) -> Color | None:
    """A page's color, as `_image_color`."""
    with suppress(Exception), handed.open_photo(photo) as file:
        document = pypdfium2.PdfDocument(file)
        try:
            found = document[index].render(scale=PDF_DPI / 72 / 2, rev_byteorder=True).to_numpy()
            return np.ascontiguousarray(found[:, :, :3])
        finally:
            document.close()
    return None
