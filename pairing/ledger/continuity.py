"""What only something beside the entries can tell: that signed heads are gone, or names and
addresses that nobody erased.

Heads that are deleted, or all signed again with another key, leave a ledger that fits together.
So each machine keeps a list of the heads that it signed, in a file beside the signing key, and a
second one in the folder that COUNTERFOIL_WITNESS names, if it does: on another disk, or where
the ledger's owner may only add. A key's first use is an entry, and so is what an operator said
after tampering was found.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from hashlib import sha256
from pathlib import Path

from sqlalchemy import func, select

from pairing.findings import Code, Finding
from pairing.ledger import queries, watermark
from pairing.ledger.database import Database
from pairing.ledger.drafts import ERASED
from pairing.ledger.entries import Entry, Kind
from pairing.ledger.heads import Head
from pairing.ledger.schema import ENTRIES, HEADS, PARTICULARS

MOST_NAMED = 100
"""Entries whose names and addresses are gone are looked into up to here."""

WITNESS = "COUNTERFOIL_WITNESS"
"""The environment variable that names the witness files' folder."""

KEY_USED = "signing key "
PHOTO_KEPT = "kept photo "
PHOTO_ERASED = "erased photo "
WENT_ON = "went on "
"""What the idempotency keys of this room's own notes begin with; a key id, a photo's SHA-256 or
a ledger's size follows. The keys are hashed with the entries, and no two entries have the same."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SignedHere:
    """A head that was signed. told_by: the file that lists it."""

    size: int
    key_id: str
    root: bytes
    at: str
    told_by: Path


@dataclass(slots=True)
class Notes:
    """What this room's own notes say.

    keys: key id to the entry that records its first use. kept_photos: SHA-256 of those that were
    not erased. went_on: entries by which an operator went on. settled: the time (as an entry's
    `at`) of the last of these; heads signed before are no longer asked for.
    """

    keys: dict[str, int] = field(default_factory=dict)
    kept_photos: dict[str, int] = field(default_factory=dict)
    went_on: list[int] = field(default_factory=list)
    settled: str = ""

    def take(self, sequence: int, at: str, key: str) -> None:
        """One more note."""
        if key.startswith(KEY_USED):
            self.keys[key.removeprefix(KEY_USED)] = sequence
        elif key.startswith(PHOTO_KEPT):
            self.kept_photos[key.removeprefix(PHOTO_KEPT)] = sequence
        elif key.startswith(PHOTO_ERASED):
            self.kept_photos.pop(key.removeprefix(PHOTO_ERASED), None)
        elif key.startswith(WENT_ON):
            self.went_on.append(sequence)
            self.settled = max(self.settled, at)


def key_path(database: Database) -> Path:
    """The signing key's file."""
    return database.files.with_name(database.files.name + ".key")


def mark_path(database: Database) -> Path:
    """The watermark's file."""
    return database.files.with_name(database.files.name + ".mark")


def list_path(database: Database) -> Path:
    """The file of the heads that this machine signed."""
    return database.files.with_name(database.files.name + ".heads")


def witness_folder(environ: Mapping[str, str] | None = None) -> Path | None:
    """Where the witness files are; None for nowhere."""
    named = (os.environ if environ is None else environ).get(WITNESS, "")
    return Path(named) if named else None


def witness_path(database: Database) -> Path | None:
    """The ledger's witness file: named after its file and where that lies, so that one folder
    serves several ledgers."""
    folder = witness_folder()
    if folder is None:
        return None
    digest = sha256(os.fsencode(database.files.absolute())).hexdigest()[:8]
    return folder / f"{database.files.name}.{digest}.heads"


def note(path: Path, heads: Iterable[Head]) -> None:
    """Add heads to a list. Raises OSError."""
    lines = "".join(f"{one.size} {one.key_id} {one.root.hex()} {one.at}\n" for one in heads)
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
    try:
        os.write(handle, lines.encode())
    finally:
        os.close(handle)


def signed_here(path: Path) -> tuple[SignedHere, ...]:
    """A list; empty where there is none. A line that was cut short is left out."""
    try:
        lines = path.read_text("ascii").splitlines()
    except (OSError, UnicodeDecodeError):
        return ()
    found = []
    for line in lines:
        parts = line.split()
        try:
            size, key_id, root, at = parts
            head = SignedHere(
                size=int(size), key_id=key_id, root=bytes.fromhex(root), at=at, told_by=path
            )
        except ValueError:
            continue
        found.append(head)
    return tuple(found)


def all_signed(database: Database) -> tuple[SignedHere, ...]:
    """The heads of this machine's list and of the witness file."""
    witness = witness_path(database)
    lists = [list_path(database), *([witness] if witness else [])]
    return tuple(head for path in lists for head in signed_here(path))


def missing_head(
    listed: Iterable[SignedHere],
    present: Iterable[tuple[int, str, bytes]],
    settled: str = "",
) -> SignedHere | None:
    """The first head of the list that is not among these (size, key id, root). Those that were
    signed before `settled` are not asked for."""
    known = set(present)
    return next(
        (
            one
            for one in listed
            if one.at >= settled and (one.size, one.key_id, one.root) not in known
        ),
        None,
    )


def tampering(database: Database) -> tuple[Finding, ...]:
    """What speaks against the ledger's end without a walk: entries that this machine saw are not
    there or are others, or a head that was signed is not there. Empty once an operator
    said to go on (`went_on`)."""
    mark = watermark.read(mark_path(database))  # before the size: it never runs ahead
    size = queries.size(database)
    if mark is not None and mark.size > size:
        where = str(mark_path(database))
        return (Finding.of(Code.LEDGER_TRUNCATED, size=size, seen=mark.size, mark=where),)
    if mark is not None and mark.size and _leaf(database, mark.size) != mark.leaf:
        return (Finding.of(Code.LEDGER_CHANGED, size=mark.size),)
    listed = all_signed(database)
    if listed and (lost := missing_head(listed, _heads(database), settled(database))):
        return (Finding.of(Code.LEDGER_CHANGED, size=lost.size),)
    return ()


def settled(database: Database) -> str:
    """When an operator last said to go on, as an entry's `at`; "" for never."""
    notes = ENTRIES.c.key.startswith(WENT_ON) & (ENTRIES.c.kind == Kind.NOTE.value)
    with database.reading() as connection:
        return connection.execute(select(func.max(ENTRIES.c.at)).where(notes)).scalar() or ""


def _leaf(database: Database, sequence: int) -> bytes:
    wanted = select(ENTRIES.c.nodes).where(ENTRIES.c.sequence == sequence)
    with database.reading() as connection:
        nodes = connection.execute(wanted).scalar()
    return nodes[:32] if isinstance(nodes, bytes) else b""


def _heads(database: Database) -> list[tuple[int, str, bytes]]:
    wanted = select(HEADS.c.size, HEADS.c.key_id, HEADS.c.root)
    with database.reading() as connection:
        return [(size, key_id, bytes(root)) for size, key_id, root in connection.execute(wanted)]


def gone(database: Database, committed: Iterable[int]) -> tuple[int, ...]:
    """Of these entries, which have names and addresses, those whose names and addresses are not
    there though nobody erased them. An export without them leaves them out as well."""
    with database.reading() as connection:
        there = set(connection.execute(select(PARTICULARS.c.sequence)).scalars())
    missing = [one for one in committed if one not in there][:MOST_NAMED]
    entries = [queries.entry(database, sequence) for sequence in missing]
    return tuple(
        one.sequence for one in entries if one is not None and not _is_erased(database, one)
    )


def _is_erased(database: Database, entry: Entry) -> bool:
    numbers = {entry.article, entry.card} - {None}
    stories = [queries.story(database, number) for number in numbers if number]
    return any(
        one.kind is Kind.NOTE and one.remark == ERASED for story in stories for one in story.entries
    )
