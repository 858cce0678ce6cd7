"""Which photos belong to which piece."""

from __future__ import annotations

import csv
import os
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

from pairing import whole_file
from pairing.errors import PhotoUnusable, TableUnusable
from pairing.model import Side
from pairing.photos.files import is_photo_name

_SIDE_IN_NAME = re.compile(r"(?P<stem>.+?)[-_ ](?P<side>label|card)(?:[-_ ]?\d+)?", re.IGNORECASE)
_SIDES = {"label": Side.LABEL, "card": Side.CARD, "both": None, "": None}


@dataclass(frozen=True, slots=True, kw_only=True)
class Photo:
    """A photo of a piece. shows: LABEL or CARD where its name or the list says so."""

    path: Path
    shows: Side | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoPiece:
    """A piece and its photos, by the name that people know it by.

    is_declared: a list or the photos' names say that it is a piece; it is reported even if
    none of its photos can be used.
    """

    name: str
    photos: tuple[Photo, ...]
    is_declared: bool = False


def find_photos(places: Iterable[Path]) -> tuple[Path, ...]:
    """The files named, and every photo below the folders named, in order, each once.

    A file that is named itself is taken whatever its ending; in folders only photos count,
    and links to folders are not followed. A folder that may not be read is listed among the
    files, to be skipped with its reason. Raises PhotoUnusable where a place does not exist.
    """
    found: dict[Path, None] = {}
    for place in places:
        if not os.path.lexists(place):
            raise PhotoUnusable(
                "There is no such file or folder", where=os.fspath(place), remedy="Check the path."
            )
        for path in _below(place) if place.is_dir() else (place,):
            found.setdefault(path)
    return tuple(found)


def group(photos: Sequence[Path]) -> tuple[PhotoPiece, ...]:
    """Pieces by file name: `0007-label.jpg` and `0007-card.jpg` are piece 0007 and say what
    they show; any other photo is a piece by itself, showing both items."""
    stems = {path: _stem(path) for path in photos}
    folders = {path.parent for path in photos}
    pieces: dict[tuple[Path, str], list[Photo]] = {}
    for path, (stem, shows) in stems.items():
        pieces.setdefault((path.parent, stem), []).append(Photo(path=path, shows=shows))
    return tuple(
        PhotoPiece(
            name=stem if len(folders) == 1 else (folder / stem).as_posix(),
            photos=tuple(members),
            is_declared=any(photo.shows for photo in members),
        )
        for (folder, stem), members in pieces.items()
    )


def from_table(table: Path) -> tuple[PhotoPiece, ...]:
    """Pieces from a CSV file with the columns `piece`, `photo` and, optionally, `shows`.

    One row for each photo, or several photos in one cell separated by `;`. `photo` is relative to
    the table's own folder. `shows` is label, card, both or empty. Raises TableUnusable.
    """
    try:
        with table.open(newline="", encoding="utf-8-sig") as file:
            return _from_rows(table, csv.DictReader(whole_file.lines(file)))
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        why = (error.strerror if isinstance(error, OSError) else None) or error
        raise TableUnusable(
            f"The list of pieces cannot be read ({why})",
            where=os.fspath(table),
            remedy="Give a UTF-8 CSV file with the columns piece and photo.",
        ) from error


def _from_rows(table: Path, rows: csv.DictReader[str]) -> tuple[PhotoPiece, ...]:
    column = next((name for name in ("photo", "photos") if name in (rows.fieldnames or ())), None)
    if column is None or "piece" not in (rows.fieldnames or ()):
        raise TableUnusable(
            "The list of pieces lacks the columns piece and photo",
            where=os.fspath(table),
            remedy="Name them in the first line.",
        )
    pieces: dict[str, list[Photo]] = {}
    for row in rows:
        name, shows = (row["piece"] or "").strip(), (row.get("shows") or "").strip().lower()
        names = [part.strip() for part in (row[column] or "").split(";") if part.strip()]
        if not name or not names or shows not in _SIDES:
            raise TableUnusable(
                "A row lacks its piece or photo, or shows something unknown",
                where=f"{os.fspath(table)}, line {rows.line_num}",
                remedy="Fill in piece and photo; shows is label, card, both or empty.",
            )
        for part in names:
            path = table.parent / part
            side = _SIDES[shows] if shows else _stem(path)[1]
            pieces.setdefault(name, []).append(Photo(path=path, shows=side))
    return tuple(
        PhotoPiece(name=name, photos=tuple(found), is_declared=True)
        for name, found in pieces.items()
    )


def _below(folder: Path) -> Iterable[Path]:
    closed: list[Path] = []

    def note(error: OSError) -> None:
        closed.append(Path(error.filename))

    for here, folders, files in os.walk(folder, onerror=note):
        folders.sort()
        for name in sorted(files):
            if is_photo_name(Path(name)):
                yield Path(here) / name
    yield from closed


def _stem(path: Path) -> tuple[str, Side | None]:
    match = _SIDE_IN_NAME.fullmatch(path.stem)
    if match is None:
        return path.stem, None
    return match["stem"], _SIDES[match["side"].lower()]
