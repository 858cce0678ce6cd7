"""What a saved day list says of the ledger: the size, root and key at its foot."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from counterfoil.view import style
from pairing.errors import TableUnusable

_HEX_64 = r"((?:[0-9a-fA-F]\s*){64})(?![0-9a-fA-F])"
_FOOT = re.compile(rf"(?<![\d:])([1-9]\d{{0,17}})\s*:\s*{_HEX_64}")
"""Size and root, as `daylist` prints them and `--root` takes them. Paper breaks lines anywhere."""
_KEY = re.compile(rf"signed\s+by\s+{_HEX_64}")

LARGEST_BYTES = 50_000_000
"""A list of a day is a few hundred kilobytes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Foot:
    """What lists say. roots: size and root in hexadecimal. keys: key ids."""

    roots: tuple[tuple[int, str], ...]
    keys: tuple[str, ...]


def foot_of(path: Path) -> Foot:
    """What the day list in this file says: its PDF, or a text that somebody typed from the paper.
    Raises TableUnusable where it says nothing of a ledger."""
    where = style.path_text(path)
    try:
        with path.open("rb") as file:
            data = file.read(LARGEST_BYTES + 1)
        text = _pdf_text(data) if data.startswith(b"%PDF-") else data.decode("utf-8-sig")
    except OSError as error:
        raise TableUnusable(
            f"The list cannot be read ({error.strerror or error})",
            where=where,
            remedy="Name the PDF of a day list, or a text file with its foot.",
        ) from error
    except ValueError as error:
        raise _no_list(where) from error
    roots = tuple((int(one[1]), _digits(one[2])) for one in _FOOT.finditer(text))
    if not roots or len(data) > LARGEST_BYTES:
        raise _no_list(where)
    return Foot(roots=roots, keys=tuple(_digits(one[1]) for one in _KEY.finditer(text)))


def _digits(found: str) -> str:
    return "".join(found.split()).lower()


def _pdf_text(data: bytes) -> str:
    import pypdfium2  # noqa: PLC0415 - not for a text

    try:
        document = pypdfium2.PdfDocument(data)
    except pypdfium2.PdfiumError as error:
        raise ValueError(str(error)) from error
    try:
        pages = [document[index].get_textpage().get_text_range() for index in range(len(document))]
    finally:
        document.close()
    return "\n".join(pages)


def _no_list(where: str) -> TableUnusable:
    return TableUnusable(
        "No ledger's size and root are in this file",
        where=where,
        remedy="Name the PDF of a day list that was recorded (not a draft), or type its foot into "
        "a text file: SIZE:ROOT.",
    )
