"""Where each photo's line stands and which numbers which piece has: a scratch database beside
the lines, made anew by each run, so that memory does not grow with the lot."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

_TABLES = """
CREATE TABLE photos (
    photo TEXT PRIMARY KEY, size INTEGER, stamp TEXT, shows TEXT, at INTEGER, bytes INTEGER,
    day TEXT, is_shared INTEGER DEFAULT 0
) WITHOUT ROWID;
CREATE TABLE wanted (place INTEGER PRIMARY KEY, photo TEXT UNIQUE, size INTEGER, stamp TEXT,
    shows TEXT);
CREATE TABLE members (piece INTEGER, photo TEXT, shows TEXT, PRIMARY KEY (piece, photo))
    WITHOUT ROWID;
CREATE TABLE pieces (piece INTEGER PRIMARY KEY, name TEXT UNIQUE, declared INTEGER,
    article TEXT, card TEXT, boxes TEXT, about TEXT);
CREATE INDEX by_article ON pieces (article, card);
CREATE INDEX by_card ON pieces (card, article);
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """A photo to be read. photo: its path below the folder, or its address. stamp: what
    changes when the file does (its time). shows: "label", "card" or "" where not known."""

    photo: str
    size: int
    stamp: str
    shows: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Member:
    """A photo of a piece; at, bytes: its line, None where it has none."""

    photo: str
    shows: str
    at: int | None
    bytes: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A piece: its place in the order of the rows, its name, whether photo names declare it.
    boxes: what its box was read as. about: JSON on how its photos were put together."""

    place: int
    name: str
    is_declared: bool
    article: str | None
    card: str | None
    boxes: tuple[str, ...]
    about: str


_PIECE = "piece, name, declared, article, card, boxes, about"


def _piece(row: tuple[Any, ...]) -> Piece:
    place, name, declared, article, card, boxes, about = row
    return Piece(
        place=place,
        name=name,
        is_declared=bool(declared),
        article=article,
        card=card,
        boxes=tuple((boxes or "").split()),
        about=about,
    )


class Index:
    """The database, open."""

    def __init__(self, path: Path) -> None:
        """Makes it anew; what lies at `path` is thrown away."""
        for old in (path, path.with_name(path.name + "-journal")):
            old.unlink(missing_ok=True)
        self.path = path
        self._db = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
        for setting in ("journal_mode=OFF", "synchronous=OFF", "temp_store=FILE"):
            self._db.execute(f"PRAGMA {setting}")
        self._db.executescript(_TABLES)
        self._db.execute("BEGIN")

    def close(self) -> None:
        """Let go, and remove it."""
        self._db.close()
        self.path.unlink(missing_ok=True)

    def note_line(self, line: Mapping[str, Any], place: tuple[int, int]) -> None:
        """A photo's line, as `taking` makes it, by its place (offset, bytes); a later one takes
        the place of an earlier one."""
        about = (line["photo"], line["size"], line["stamp"], line.get("shows", ""))
        self._db.execute(
            "INSERT OR REPLACE INTO photos (photo, size, stamp, shows, at, bytes, day) "
            "VALUES (?, ?, ?, ?, ?, ?, ?)",
            (*about, *place, line.get("day", "")),
        )

    def place_of(self, photo: str) -> tuple[int, int] | None:
        """Where a photo's line is (offset, bytes); None where it has none."""
        found: tuple[int, int] | None = self._db.execute(
            "SELECT at, bytes FROM photos WHERE photo = ?", (photo,)
        ).fetchone()
        return found

    def mark_shared(self, photo: str) -> None:
        """The photo's line is known outside this folder."""
        self._db.execute("UPDATE photos SET is_shared = 1 WHERE photo = ?", (photo,))

    def unshared(self) -> Iterator[tuple[int, int]]:
        """Places of the lines that are not known elsewhere."""
        yield from self._db.execute("SELECT at, bytes FROM photos WHERE NOT is_shared ORDER BY at")

    def want(self, wanted: Iterable[Wanted]) -> None:
        """Photos of the lot, in order; each once."""
        rows = ((one.photo, one.size, one.stamp, one.shows) for one in wanted)
        self._db.executemany(
            "INSERT OR IGNORE INTO wanted (photo, size, stamp, shows) VALUES (?, ?, ?, ?)", rows
        )

    def count(self) -> tuple[int, int]:
        """How many photos are wanted, and how many of these have their line."""
        (all_of_them,) = self._db.execute("SELECT count(*) FROM wanted").fetchone()
        (done,) = self._db.execute(
            "SELECT count(*) FROM wanted JOIN photos USING (photo, size, stamp, shows)"
        ).fetchone()
        return all_of_them, done

    def pending(self) -> Iterator[Wanted]:
        """Wanted photos without a line, in order; the table may grow lines meanwhile."""
        last = 0
        while True:
            rows = self._db.execute(
                "SELECT w.place, w.photo, w.size, w.stamp, w.shows FROM wanted w "
                "LEFT JOIN photos p USING (photo, size, stamp, shows) "
                "WHERE w.place > ? AND p.at IS NULL ORDER BY w.place LIMIT 200",
                (last,),
            ).fetchall()
            if not rows:
                return
            for place, photo, size, stamp, shows in rows:
                last = place
                yield Wanted(photo=photo, size=size, stamp=stamp, shows=shows)

    def wanted(self) -> Iterator[Member]:
        """All photos of the lot with their lines, in order."""
        rows = self._db.execute(
            "SELECT w.photo, w.shows, p.at, p.bytes FROM wanted w "
            "LEFT JOIN photos p USING (photo, size, stamp, shows) ORDER BY w.place"
        )
        for photo, shows, at, length in rows:
            yield Member(photo=photo, shows=shows, at=at, bytes=length)

    def add_piece(
        self,
        name: str,
        photos: Iterable[tuple[str, str]],
        *,
        is_declared: bool = False,
        about: str = "",
    ) -> None:
        """A piece and its photos (photo, shows); photos are added to a piece that is there."""
        self._db.execute(
            "INSERT INTO pieces (name, declared, about) VALUES (?, ?, ?) "
            "ON CONFLICT (name) DO UPDATE SET declared = max(declared, excluded.declared)",
            (name, int(is_declared), about),
        )
        (place,) = self._db.execute("SELECT piece FROM pieces WHERE name = ?", (name,)).fetchone()
        self._db.executemany(
            "INSERT OR IGNORE INTO members VALUES (?, ?, ?)",
            ((place, photo, shows) for photo, shows in photos),
        )

    def pieces(self) -> Iterator[Piece]:
        """All pieces in order; their numbers may be set meanwhile."""
        last = 0
        while True:
            rows = self._db.execute(
                f"SELECT {_PIECE} FROM pieces WHERE piece > ? ORDER BY piece LIMIT 200", (last,)
            ).fetchall()
            if not rows:
                return
            last = rows[-1][0]
            yield from map(_piece, rows)

    def members(self, place: int) -> tuple[Member, ...]:
        """The piece's photos, in the order of the lot."""
        rows = self._db.execute(
            "SELECT m.photo, m.shows, p.at, p.bytes FROM members m "
            "JOIN wanted w USING (photo) LEFT JOIN photos p ON p.photo = w.photo "
            "AND p.size = w.size AND p.stamp = w.stamp AND p.shows = w.shows "
            "WHERE m.piece = ? ORDER BY w.place",
            (place,),
        ).fetchall()
        return tuple(
            Member(photo=photo, shows=shows, at=at, bytes=length)
            for photo, shows, at, length in rows
        )

    def days(self, place: int) -> list[str]:
        """The days on which the piece's photos were taken, the first one first."""
        rows = self._db.execute(
            "SELECT DISTINCT p.day FROM members m JOIN photos p USING (photo) "
            "WHERE m.piece = ? AND p.day != '' ORDER BY p.day",
            (place,),
        )
        return [day for (day,) in rows]

    def set_numbers(
        self, place: int, article: str | None, card: str | None, boxes: Iterable[str]
    ) -> None:
        """What was read on a piece by itself."""
        self._db.execute(
            "UPDATE pieces SET article = ?, card = ?, boxes = ? WHERE piece = ?",
            (article, card, " ".join(boxes), place),
        )

    def sharing(self, piece: Piece, most: int) -> list[Piece]:
        """Other pieces that bear one of this piece's numbers: one with the same two, and the
        first `most` with another partner for either. A stack of equal pieces hides none that
        is not equal, and costs no more than one."""
        article, card = piece.article, piece.card
        if article is None and card is None:
            return []
        found = self._where(
            "article IS ? AND card IS ? AND piece != ?", (article, card, piece.place), 1
        )
        for own, number, partner, other in (
            (article, "article", card, "card"),
            (card, "card", article, "article"),
        ):
            # One stretch of the index each: what lies between is not walked over.
            for beside in ("< ?", "> ?", "IS NOT NULL" if partner is None else "IS NULL"):
                values = (own, partner) if "?" in beside else (own,)
                found |= self._where(f"{number} = ? AND {other} {beside}", values, most)
        return [found[place] for place in sorted(found)]

    def _where(self, condition: str, values: tuple[Any, ...], most: int) -> dict[int, Piece]:
        rows = self._db.execute(
            f"SELECT {_PIECE} FROM pieces WHERE {condition} LIMIT ?", (*values, most)
        )
        return {row[0]: _piece(row) for row in rows}

    def bearer(self, number: str, beside: int) -> str | None:
        """Words for the first piece, other than `beside`, that bears this number."""
        for column, words in (("article", "piece {}"), ("card", "the card of piece {}")):
            found = self._db.execute(
                f"SELECT name FROM pieces WHERE {column} = ? AND piece != ? ORDER BY piece LIMIT 1",
                (number, beside),
            ).fetchone()
            if found:
                return words.format(found[0])
        return None

    def is_photographed(self, article: str) -> bool:
        """Whether a piece has this article number."""
        found = self._db.execute("SELECT 1 FROM pieces WHERE article = ? LIMIT 1", (article,))
        return found.fetchone() is not None
