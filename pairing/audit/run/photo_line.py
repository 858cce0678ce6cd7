"""One photo, start to end, in whatever process it is done: read, and put in one line."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping
from functools import cache
from importlib import metadata, resources
from pathlib import Path
from typing import Any

import msgspec
from PIL import ExifTags, Image

from pairing.audit.run.codec import encoded
from pairing.audit.run.sources import Source, Wanted
from pairing.errors import CounterfoilError, PhotoUnusable
from pairing.model import Side
from pairing.photos import handed
from pairing.photos.barcodes.engines import load_engines
from pairing.pieces import office_rules
from pairing.pieces.photo_groups import Photo
from pairing.pieces.reading import changed_meanwhile, read_photo

_EXIF_TIME = re.compile(r"(\d{4}):(\d\d):(\d\d) ")


class PhotoLine(msgspec.Struct, frozen=True, kw_only=True):
    """What a run keeps of one photo.

    photo: its path below the folder or address. size: bytes. stamp, shows: as in `Wanted`.
    sha256: of its bytes, hexadecimal; "" where they could not be read. day: on which the camera
    says that it was taken ("" where it does not: a file's own time is that of its last copying).
    reader: `reader_signature` of what read it. reading: `codec.encoded`; None where the photo is
    of no use. unusable, remedy: why, and what to do.
    """

    photo: str
    size: int
    stamp: str
    shows: str
    sha256: str = ""
    day: str = ""
    reader: str = ""
    reading: bytes | None = None
    unusable: str = ""
    remedy: str = ""


@cache
def reader_parts() -> Mapping[str, Any]:
    """What this process reads with: the program's version, decoders that it lacks, the network,
    and the office's pairing rules."""
    network = resources.files("pairing.photos.written").joinpath("reader.onnx").read_bytes()
    try:
        program = metadata.version("counterfoil")
    except metadata.PackageNotFoundError:  # run from its sources
        program = ""
    rules = office_rules.chosen()
    return {
        "program": program,
        "decoders_missing": list(load_engines().missing),
        "reader": hashlib.sha256(network).hexdigest()[:16],
        **({"rules": list(rules)} if rules else {}),
    }


@cache
def reader_signature() -> str:
    """The same in 16 characters."""
    text = json.dumps(reader_parts(), sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def check_reader(line: PhotoLine) -> None:
    """Raise CounterfoilError for a line that was read with anything else than this process would
    read with: a worker on another machine may have another version."""
    if line.reading is not None and line.reader != reader_signature():
        raise CounterfoilError(
            "A worker read this photo with another version of the program, its network or its "
            "decoders",
            where=line.photo,
            remedy="Install the same Counterfoil, and the same decoders, on every worker.",
        )


@handed.opens(lambda source, wanted, _: source.files([wanted.photo]))
def read_line(source: Source, wanted: Wanted, _: Path) -> PhotoLine:
    """Read the photo. Where it cannot be used, the line says why. Sets the working folder: for a
    process of its own."""
    line = identified(source, wanted, _)
    if line.unusable:
        return line
    try:
        with source.at_hand(wanted.photo) as file:
            shows = Side(wanted.shows) if wanted.shows else None
            read = read_photo(Photo(path=Path(wanted.photo), shows=shows), file=file)
            if line.sha256 != read.sha256:
                raise changed_meanwhile(Path(wanted.photo))
            reading = encoded(read)
    except PhotoUnusable as error:
        return msgspec.structs.replace(line, unusable=error.what, remedy=error.remedy)
    return msgspec.structs.replace(line, reader=reader_signature(), reading=reading)


@handed.opens(lambda source, wanted, _: source.files([wanted.photo]))
def identified(source: Source, wanted: Wanted, _: Path) -> PhotoLine:
    """The photo's digest and day, without reading it. Sets the working folder."""
    try:
        with source.at_hand(wanted.photo) as path:
            return PhotoLine(**msgspec.structs.asdict(wanted), sha256=_sha256(path), day=_day(path))
    except PhotoUnusable as error:
        return unusable(wanted, error)


def unusable(wanted: Wanted, error: PhotoUnusable) -> PhotoLine:
    """The line of a photo that cannot be used, or that ended the process that read it."""
    return PhotoLine(**msgspec.structs.asdict(wanted), unusable=error.what, remedy=error.remedy)


def _sha256(path: Path) -> str:
    try:
        with handed.open_photo(path) as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return ""  # reading it says what is wrong


def _day(path: Path) -> str:
    try:
        with handed.open_photo(path) as file, Image.open(file) as image:
            exif = image.getexif()
            taken = exif.get_ifd(ExifTags.IFD.Exif).get(ExifTags.Base.DateTimeOriginal)
            found = _EXIF_TIME.match(str(taken or exif.get(ExifTags.Base.DateTime) or ""))
    except Exception:  # a PDF, or damaged: reading it says what is wrong
        return ""
    return "-".join(found.groups()) if found else ""
