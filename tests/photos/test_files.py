"""Files to frames: every format, turned upright, and everything that must be skipped."""

from __future__ import annotations

import gc
import io
import os
import struct
import zlib
from pathlib import Path
from typing import Any

import numpy as np
import pypdfium2
import pytest
from PIL import Image, ImageOps
from PIL.TiffImagePlugin import TiffImageFile

from pairing.errors import PhotoUnusable
from pairing.photos import heic
from pairing.photos.files import frames, is_photo_name


@pytest.fixture
def picture() -> Image.Image:
    """A gray ramp, 60 wide and 40 high, with a black corner top left."""
    ramp = np.tile(np.linspace(90, 250, 60, dtype=np.uint8), (40, 1))
    ramp[:10, :10] = 0
    return Image.fromarray(ramp)


def gray(path: Path) -> np.ndarray:
    (frame,) = frames(path)
    assert frame.gray.dtype == np.uint8
    assert frame.gray.ndim == 2
    return frame.gray


@pytest.mark.parametrize("name", ["a.png", "a.jpg", "a.webp", "a.tif", "a.heic"])
def test_every_format_is_read(tmp_path: Path, picture: Image.Image, name: str) -> None:
    if name == "a.heic" and heic.trouble():
        pytest.skip(heic.trouble())
    path = tmp_path / name
    options: dict[str, Any] = {} if name in ("a.png", "a.tif") else {"quality": 95}
    picture.convert("RGB").save(path, **options)
    pixels = gray(path)
    assert pixels.shape == (40, 60)
    assert pixels[3, 3] < 40
    assert abs(int(pixels[30, 30]) - int(np.asarray(picture)[30, 30])) < 12
    assert is_photo_name(path)


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("name", ["turned.jpg", "turned.tif", "turned.png", "turned.webp"])
def test_exif_orientation_is_followed(
    tmp_path: Path, picture: Image.Image, orientation: int, name: str
) -> None:
    """Pillow's own reading of the eight values (TIFF 6.0, EXIF 2.3) is the reference, from a file
    that is open: by its path, Pillow 13.0 makes nonsense of a turned TIFF that is not packed."""
    exif = Image.Exif()
    exif[0x0112] = orientation
    path = tmp_path / name
    picture.save(path, exif=exif, quality=95)
    with path.open("rb") as file, Image.open(file) as stored:
        wanted = np.asarray(ImageOps.exif_transpose(stored).convert("L")).astype(int)
    pixels = gray(path).astype(int)
    assert pixels.shape == wanted.shape
    assert abs(pixels - wanted).mean() < 2


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("name", ["turned.jpg", "turned.tif", "turned.png", "turned.webp"])
def test_color_is_the_same_picture_at_half_its_scale(
    tmp_path: Path, orientation: int, name: str
) -> None:
    ramp = np.linspace(40, 250, 64)
    pixels = np.stack(np.broadcast_arrays(ramp[None], ramp[:48, None], 250 - ramp[None]), axis=2)
    exif = Image.Exif()
    exif[0x0112] = orientation
    path = tmp_path / name
    Image.fromarray(pixels.astype(np.uint8)).save(path, exif=exif, quality=95)
    (frame,) = frames(path)
    color = frame.color()
    assert color is not None
    assert color.shape == (frame.gray.shape[0] // 2, frame.gray.shape[1] // 2, 3)
    with path.open("rb") as file, Image.open(file) as stored:
        wanted = ImageOps.exif_transpose(stored).convert("RGB").reduce(2)
    assert abs(color.astype(int) - np.asarray(wanted)).mean() < 3


def test_a_pdf_has_its_color_at_half_its_scale(tmp_path: Path) -> None:
    path = tmp_path / "pages.pdf"
    Image.new("RGB", (60, 40), (200, 60, 30)).save(path, quality=95)
    (frame,) = frames(path)
    color = frame.color()
    assert color is not None
    assert color.shape[:2] == pytest.approx(
        (frame.gray.shape[0] / 2, frame.gray.shape[1] / 2), abs=2
    )
    assert abs(color[20:-20, 20:-20].astype(int) - (200, 60, 30)).max() < 12


def test_what_is_gray_or_gone_has_no_color(tmp_path: Path, picture: Image.Image) -> None:
    for name in ("a.jpg", "a.png", "a.tif"):
        picture.save(tmp_path / name)
        (frame,) = frames(tmp_path / name)
        assert frame.color() is None
    picture.convert("RGB").save(tmp_path / "b.jpg")
    (frame,) = frames(tmp_path / "b.jpg")
    (tmp_path / "b.jpg").unlink()
    assert frame.color() is None


def test_each_page_of_a_tiff_is_a_frame(tmp_path: Path, picture: Image.Image) -> None:
    path = tmp_path / "pages.tif"
    picture.save(path, save_all=True, append_images=[picture.rotate(180)])
    first, second = frames(path)
    assert (first.page, second.page) == (1, 2)
    assert first.gray[0, 0] == 0
    assert second.gray[-1, -1] == 0


def test_each_page_of_a_pdf_is_a_frame(tmp_path: Path, picture: Image.Image) -> None:
    path = tmp_path / "pages.pdf"
    picture.save(path, save_all=True, append_images=[picture])
    first, second = frames(path)
    assert (first.page, second.page) == (1, 2)
    # The picture is laid out at 72 dpi and rendered at 300.
    assert first.gray.shape == (
        pytest.approx(40 * 300 / 72, abs=2),
        pytest.approx(60 * 300 / 72, abs=2),
    )


@pytest.mark.parametrize("mode", ["1", "L", "LA", "P", "RGBA", "I;16"])
def test_color_modes(tmp_path: Path, picture: Image.Image, mode: str) -> None:
    path = tmp_path / "mode.png"
    if mode == "I;16":
        Image.fromarray(np.asarray(picture).astype(np.uint16) * 257).save(path)
    else:
        picture.convert(mode).save(path)
    pixels = gray(path)
    assert pixels[3, 3] < 40
    # Two-valued pictures are dithered, so paper is bright on average.
    assert pixels[25:, 50:].mean() > 200


def test_what_is_transparent_counts_as_paper(tmp_path: Path) -> None:
    path = tmp_path / "clear.png"
    Image.new("RGBA", (8, 8), (0, 0, 0, 0)).save(path)
    assert gray(path).min() == 255


def png_header(width: int, height: int) -> bytes:
    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    crc = zlib.crc32(b"IHDR" + head)
    start = b"\x89PNG\r\n\x1a\n" + struct.pack(">I", 13) + b"IHDR" + head + struct.pack(">I", crc)
    body = zlib.compress(b"\0" * 100)
    data = struct.pack(">I", len(body)) + b"IDAT" + body
    return start + data + struct.pack(">I", zlib.crc32(b"IDAT" + body))


def locked_pdf() -> bytes:
    """A PDF with an encryption dictionary that no empty password opens (PDF 1.7, 7.6)."""
    parts = [
        b"1 0 obj<</Type/Catalog/Pages 2 0 R>>endobj\n",
        b"2 0 obj<</Type/Pages/Kids[]/Count 0>>endobj\n",
        b"3 0 obj<</Filter/Standard/V 1/R 2/O<" + b"41" * 32 + b">/U<" + b"42" * 32 + b">/P -4>>"
        b"endobj\n",
    ]
    out, places = b"%PDF-1.4\n", []
    for part in parts:
        places.append(len(out))
        out += part
    table = len(out)
    out += b"xref\n0 4\n0000000000 65535 f \n"
    out += b"".join(b"%010d 00000 n \n" % place for place in places)
    out += (
        b"trailer<</Size 4/Root 1 0 R/Encrypt 3 0 R/ID[<41><41>]>>\nstartxref\n%d\n%%%%EOF" % table
    )
    return out


def jpeg(picture: Image.Image, **options: object) -> bytes:
    buffer = io.BytesIO()
    picture.save(buffer, "JPEG", **options)
    return buffer.getvalue()


def gif(picture: Image.Image) -> bytes:
    buffer = io.BytesIO()
    picture.save(buffer, "GIF", save_all=True, append_images=[picture.rotate(90)], duration=50)
    return buffer.getvalue()


@pytest.mark.parametrize(
    ("content", "reason"),
    [
        (lambda _: b"", "empty"),
        (lambda _: b"just some text", "not a photo format"),
        (lambda p: jpeg(p)[:400], "cannot be opened"),
        (lambda _: png_header(60_000, 60_000), "million"),
        (lambda _: png_header(12_000, 11_000), "12000 x 11000"),
        (gif, "animated"),
        (lambda p: jpeg(p.convert("CMYK")), "CMYK"),
        (lambda _: locked_pdf(), "password"),
        (lambda _: b"%PDF-1.4\nnothing", "cannot be opened"),
    ],
    ids=["empty", "text", "cut-jpeg", "huge", "large", "animated", "cmyk", "locked", "bad-pdf"],
)
def test_a_file_that_cannot_be_used_says_why(
    tmp_path: Path, picture: Image.Image, content: object, reason: str
) -> None:
    path = tmp_path / "bad.jpg"
    path.write_bytes(content(picture))  # type: ignore[operator]
    with pytest.raises(PhotoUnusable, match=reason) as caught:
        list(frames(path))
    assert repr(str(path)) in str(caught.value)
    assert caught.value.remedy


def test_the_locked_pdf_of_this_test_is_locked() -> None:
    with pytest.raises(pypdfium2.PdfiumError, match=r"[Pp]assword"):
        pypdfium2.PdfDocument(locked_pdf())


def test_a_missing_file_a_folder_and_a_loop_of_links(tmp_path: Path) -> None:
    loop = tmp_path / "loop.jpg"
    loop.symlink_to(loop)
    places = ((tmp_path / "gone.jpg", "no such"), (tmp_path, "folder"), (loop, "cannot be opened"))
    for path, reason in places:
        with pytest.raises(PhotoUnusable, match=reason):
            list(frames(path))


@pytest.mark.skipif(os.geteuid() == 0, reason="the superuser may read every file")
def test_a_file_that_may_not_be_read(tmp_path: Path, picture: Image.Image) -> None:
    path = tmp_path / "closed.png"
    picture.save(path)
    path.chmod(0)
    with pytest.raises(PhotoUnusable, match="may not be read"):
        list(frames(path))


def test_no_picture_is_held_while_its_frame_is_searched(
    tmp_path: Path, picture: Image.Image
) -> None:
    """In color it takes four times the frame's own bytes, which the search needs itself."""
    path = tmp_path / "pages.tif"
    picture.convert("RGB").save(path, save_all=True, append_images=[picture.convert("RGB")])
    seen = 0
    for frame in frames(path):
        seen += frame.page
        gc.collect()
        held = [one for one in gc.get_objects() if isinstance(one, TiffImageFile)]
        assert [one._im for one in held if one.size == picture.size] in ([], [None])
    assert seen == 1 + 2
