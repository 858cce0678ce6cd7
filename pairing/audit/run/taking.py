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

from PIL import ExifTags, Image

from pairing.audit.run.codec import encoded
from pairing.audit.run.index import Wanted
from pairing.audit.run.sources import Source
from pairing.errors import CounterfoilError, PhotoUnusable
from pairing.model import Side
from pairing.photos.barcodes.engines import load_engines
from pairing.pieces.photo_groups import Photo
from pairing.pieces.reading import changed_meanwhile, read_photo

_EXIF_TIME = re.compile(r"(\d{4}):(\d\d):(\d\d) ")


@cache
def reading_with() -> Mapping[str, Any]:
    """What this process reads with: the program's version, decoders that it lacks, the network."""
    network = resources.files("pairing.photos.written").joinpath("reader.onnx").read_bytes()
    try:
        program = metadata.version("counterfoil")
    except metadata.PackageNotFoundError:  # run from its sources
        program = ""
    return {
        "program": program,
        "decoders_missing": list(load_engines().missing),
        "reader": hashlib.sha256(network).hexdigest()[:16],
    }


def check_reader(line: Mapping[str, Any]) -> None:
    """Raise CounterfoilError for a line that was read with anything else than the run is said to
    be read with: a worker on another machine may have another version."""
    if "read" in line and line.get("with") != _signature():
        raise CounterfoilError(
            "A worker read this photo with another version of the program, its network or its "
            "decoders",
            where=line["photo"],
            remedy="Install the same Counterfoil, and the same decoders, on every worker.",
        )


def _signature() -> str:
    text = json.dumps(reading_with(), sort_keys=True)
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def take(source: Source, wanted: Wanted, _: Path) -> str:
    """Read the photo; its line. Where it cannot be used, the line says why. Sets the working
    folder: for a process of its own."""
    line = _head(wanted)
    try:
        with source.at_hand(wanted.photo):
            path = Path(wanted.photo)
            line |= _of_file(path)
            shows = Side(wanted.shows) if wanted.shows else None
            read = read_photo(Photo(path=path, shows=shows))
            if line.get("sha256") != read.sha256:
                raise changed_meanwhile(path)
            line |= {"with": _signature(), "read": encoded(read)}
    except PhotoUnusable as error:
        line |= {"unusable": error.what, "remedy": error.remedy}
    return json.dumps(line, separators=(",", ":"))


def unusable(wanted: Wanted, error: PhotoUnusable) -> str:
    """The line of a photo that ended the process that read it."""
    return json.dumps(_head(wanted) | {"unusable": error.what, "remedy": error.remedy})


def _head(wanted: Wanted) -> dict[str, Any]:
    return {
        "photo": wanted.photo,
        "size": wanted.size,
        "stamp": wanted.stamp,
        "shows": wanted.shows,
    }


def _of_file(path: Path) -> dict[str, Any]:
    """SHA-256 of the bytes, and the day on which the camera says that it was taken ("" where
    it does not: a file's own time is that of its last copying)."""
    digest = hashlib.sha256()
    try:
        with path.open("rb") as file:
            while chunk := file.read(1 << 20):
                digest.update(chunk)
    except OSError:
        return {}  # reading it says what is wrong
    return {"sha256": digest.hexdigest(), "day": _day(path)}


def _day(path: Path) -> str:
    try:
        with Image.open(path) as image:
            exif = image.getexif()
            taken = exif.get_ifd(ExifTags.IFD.Exif).get(ExifTags.Base.DateTimeOriginal)
            found = _EXIF_TIME.match(str(taken or exif.get(ExifTags.Base.DateTime) or ""))
    except Exception:  # a PDF, or damaged: reading it says what is wrong
        return ""
    return "-".join(found.groups()) if found else ""
