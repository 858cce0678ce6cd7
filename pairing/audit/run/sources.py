"""Where the photos of a lot lie: below a folder of this machine, or at an address that fsspec
reaches (s3://, gs://, sftp://, ...). They are named by their path below it."""

from __future__ import annotations

import os
import re
import tempfile
import time
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import msgspec

from pairing.errors import CounterfoilError, EngineMissing, PhotoUnusable
from pairing.photos import handed
from pairing.photos.files import is_photo_name
from pairing.pieces.photo_groups import group

_STAMPS = ("ETag", "etag", "mtime", "LastModified", "updated", "created")
"""What stores call the thing that changes when a file does."""


_SPELLED = re.compile(rb"\\x([0-9a-f]{2})")
_WAITS_S = (0.5, 2.0)
"""Pauses before a photo is fetched again."""


class Wanted(msgspec.Struct, frozen=True, kw_only=True):
    """A photo to be read. photo: its path below the folder, or its address. stamp: what
    changes when the file does (its time). shows: "label", "card" or "" where not known."""

    photo: str
    size: int
    stamp: str
    shows: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """A folder or an address; small, so that it can be sent to other machines."""

    root: str

    def __post_init__(self) -> None:
        # Whoever reads a photo works from its folder, and may be asked again from there.
        if not self.is_remote:
            object.__setattr__(self, "root", str(Path(self.root).absolute()))

    @property
    def is_remote(self) -> bool:
        """Whether it is an address and no folder."""
        return "://" in self.root

    @property
    def shown(self) -> str:
        """The same for people and files: without the password that an address may have."""
        return _shown(self.root)

    @property
    def reading(self) -> dict[str, Any]:
        """What a process that reads its photos may do: `PhotoWorker`'s is_confined. From an address
        it fetches them itself."""
        return {"is_confined": not self.is_remote}

    def files(self, photos: Iterable[str]) -> tuple[handed.ToOpen, ...]:
        """What work that has these photos `at_hand` opens; links that lead out of the folder are
        not followed. Nothing of an address."""
        if self.is_remote:
            return ()
        found = (_file_of(self.root, photo) for photo in photos)
        before = f"{self.root.rstrip('/')}/"
        return tuple(
            handed.ToOpen(os.fspath(file).removeprefix(before), file, self.root) for file in found
        )

    def photos(self) -> Iterator[Wanted]:
        """Every photo below it, in the order of the names; streams from a folder. Raises
        PhotoUnusable where there is no such place."""
        if self.is_remote:
            yield from self._remote()
            return
        root = Path(self.root)
        if not root.is_dir():
            what = "This is a file, not a folder" if root.exists() else "There is no such folder"
            raise PhotoUnusable(
                what, where=self.root, remedy="Name the folder that the photos lie in."
            )
        yield from (self.wanted(name) for name in _below(root, ""))

    def wanted(self, name: str) -> Wanted:
        """A photo of the folder as it is now; one that is not there is found out when read."""
        try:
            found = _file_of(self.root, name).stat()
            size, stamp = found.st_size, str(found.st_mtime_ns)
        except OSError:
            size, stamp = 0, ""
        return Wanted(photo=name, size=size, stamp=stamp, shows=shown_by(name))

    @contextmanager
    def at_hand(self, photo: str) -> Iterator[Path]:
        """Where the file lies: below the working folder, which is set, as `photo` says, but for a
        name that is spelled out; a remote one is copied to a folder that goes away again. For a
        process of its own. Raises PhotoUnusable."""
        if not self.is_remote:
            try:
                os.chdir(self.root)
            except OSError as error:
                raise CounterfoilError(
                    f"The photos' folder cannot be reached ({error.strerror or error})",
                    where=self.root,
                    remedy="Check that you may read it. On a cluster every worker must see it "
                    "under the same path; or give an address that fsspec knows.",
                ) from error
            yield _file_of("", photo)
            return
        with tempfile.TemporaryDirectory(prefix="counterfoil-") as folder:
            target = Path(folder) / photo
            target.parent.mkdir(parents=True, exist_ok=True)
            self._fetch(photo, target)
            os.chdir(folder)
            try:
                yield Path(photo)
            finally:
                os.chdir("/")

    def _fetch(self, photo: str, target: Path) -> None:
        """Copy a remote photo. One that is gone is unusable; anything else stops the run,
        which can go on later: a network that is down must not spoil the rest of a lot."""
        files, root = _opened(self.root)
        for wait_s in (*_WAITS_S, None):
            try:
                files.get_file(f"{root}/{photo}", str(target))
            except FileNotFoundError as error:
                raise PhotoUnusable(
                    "There is no such file", where=f"{self.shown}/{photo}", remedy="Check it."
                ) from error
            except Exception as error:  # every kind of store raises its own
                if wait_s is None:
                    raise CounterfoilError(
                        f"A photo cannot be fetched ({error})",
                        where=f"{self.shown}/{photo}",
                        remedy="Check address, rights and network, and run the same again.",
                    ) from error
                time.sleep(wait_s)
            else:
                return

    def _remote(self) -> Iterator[Wanted]:
        files, root = _opened(self.root)
        try:
            found: dict[str, dict[str, Any]] = files.find(root, detail=True)
        except Exception as error:  # every kind of store raises its own
            raise PhotoUnusable(
                f"The photos cannot be listed ({error})",
                where=self.shown,
                remedy="Check address, rights and network.",
            ) from error
        for path in sorted(found):
            name = path.removeprefix(root).lstrip("/")
            if not is_photo_name(Path(name)):
                continue
            about = found[path]
            stamp = next((str(about[one]) for one in _STAMPS if about.get(one)), "")
            yield Wanted(
                photo=name, size=int(about.get("size") or 0), stamp=stamp, shows=shown_by(name)
            )


def shown_by(photo: str) -> str:
    """ "label" or "card" where the photo's name says so, else ""."""
    (piece,) = group([Path(photo)])
    shows = piece.photos[0].shows
    return shows.value if shows else ""


def piece_of(photo: str) -> tuple[str, bool]:
    """The piece that a photo belongs to by its name, and whether the name declares it."""
    path = Path(photo)
    (piece,) = group([path])
    return (path.parent / piece.name).as_posix(), piece.is_declared


def _below(root: Path, inside: str) -> Iterator[str]:
    """Photo names below a folder, sorted within each; links to folders are not followed. Of a
    folder that may not be read the name itself comes, and is skipped with its reason."""
    try:
        with os.scandir(root / inside) as found:
            entries = sorted((one.name, one.is_dir(follow_symlinks=False)) for one in found)
    except OSError:
        yield inside
        return
    for name, is_folder in entries:
        path = f"{inside}/{name}" if inside else name
        if not is_folder and is_photo_name(Path(name)):
            yield _readable(path)
        elif is_folder:
            yield from _below(root, path)


def _readable(path: str) -> str:
    """Names that are no text (not UTF-8) cannot be written in rows, and are spelled out."""
    return os.fsencode(path).decode("utf-8", "backslashreplace")


def _file_of(root: str, name: str) -> Path:
    """The file that a name stands for, spelled out or as it is."""
    path = Path(root) / name
    if "\\x" not in name or path.exists():
        return path
    own = _SPELLED.sub(lambda found: bytes.fromhex(found[1].decode()), name.encode())
    return Path(root) / os.fsdecode(own)


def _shown(address: str) -> str:
    return re.sub(r"(//[^/@:]*):[^/]*@", r"\1:***@", address)


def _opened(address: str) -> tuple[Any, str]:
    try:
        from fsspec.core import url_to_fs  # noqa: PLC0415 - only where an address is given
    except ImportError as error:
        raise EngineMissing(
            "Photos at an address need the package fsspec",
            where=_shown(address),
            remedy="Run pip install '.[cluster]' in Counterfoil's folder.",
        ) from error
    try:
        files, root = url_to_fs(address)
    except Exception as error:  # unknown protocol, or its package is missing
        raise PhotoUnusable(
            f"There is no reader for this address ({error})",
            where=_shown(address),
            remedy="Install the fsspec package for it (for s3:// run pip install '.[s3]' in "
            "Counterfoil's folder), or give a folder.",
        ) from error
    return files, str(root).rstrip("/")
