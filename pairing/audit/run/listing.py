"""The photos that this pass over a lot is about, and the pieces that they make: temporary tables
of the run's store, so that memory does not grow with the lot."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import suppress
from itertools import groupby
from typing import Any

import msgspec
from sqlalchemy import TextClause, text

from pairing.audit.run.lot_pieces import NewPiece, Piece, PieceNumbers
from pairing.audit.run.photo_line import PhotoLine, reader_signature
from pairing.audit.run.run_store import Store, in_blocks
from pairing.audit.run.sources import Wanted
from pairing.errors import OutputRefused

_TABLES = (
    "CREATE TEMPORARY TABLE wanted (place INTEGER PRIMARY KEY, photo TEXT NOT NULL UNIQUE, "
    "size BIGINT NOT NULL, stamp TEXT NOT NULL, shows TEXT NOT NULL)",
    "CREATE TEMPORARY TABLE pieces (place INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE, "
    "is_declared BOOLEAN NOT NULL, article TEXT, card TEXT, boxes TEXT, about TEXT NOT NULL)",
    "CREATE TEMPORARY TABLE members (piece INTEGER, photo TEXT, PRIMARY KEY (piece, photo))",
    "CREATE INDEX pieces_by_article ON pieces (article, card)",
    "CREATE INDEX pieces_by_card ON pieces (card, article)",
)

_KEPT = (
    "LEFT JOIN audit_photos p ON p.run = :run AND p.photo = w.photo AND p.size = w.size "
    "AND p.stamp = w.stamp AND p.shows = w.shows "
    "LEFT JOIN audit_readings r ON r.run = :run AND r.sha256 = p.sha256 AND r.shows = p.shows "
    "AND p.unusable = ''"
)
_LINE = (
    "w.photo, w.size, w.stamp, w.shows, p.sha256, p.day, r.reader, r.reading, p.unusable, p.remedy"
)
_HAS_LINE = "(r.sha256 IS NOT NULL OR p.unusable <> '')"
_PIECE = "place, name, is_declared, article, card, boxes, about"
_SHARES = (
    "EXISTS (SELECT 1 FROM pieces q WHERE q.article = pieces.article AND q.place <> pieces.place) "
    "OR EXISTS (SELECT 1 FROM pieces q WHERE q.card = pieces.card AND q.place <> pieces.place)"
)


class Listing:
    """The tables, open."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._photos = self._pieces = 0
        for statement in _TABLES:
            self._write(text(statement))

    def close(self) -> None:
        """Remove them; where the connection is lost they are gone."""
        with suppress(OutputRefused):
            for name in ("wanted", "pieces", "members"):
                self._write(text(f"DROP TABLE {name}"))

    def want(self, wanted: Iterable[Wanted]) -> None:
        """Photos of the lot, in order; each once."""
        adds = text(
            "INSERT INTO wanted (place, photo, size, stamp, shows) "
            "VALUES (:place, :photo, :size, :stamp, :shows) ON CONFLICT (photo) DO NOTHING"
        )
        for block in in_blocks(wanted, 1000):
            cells = [
                {"place": place, **msgspec.structs.asdict(one)}
                for place, one in enumerate(block, self._photos + 1)
            ]
            self._photos += len(block)
            self._write(adds, cells)

    def count(self) -> tuple[int, int]:
        """How many photos are wanted, and how many of these have their line."""
        ((every, done),) = self._read(
            f"SELECT count(*), coalesce(sum(CASE WHEN {_HAS_LINE} THEN 1 ELSE 0 END), 0) "
            f"FROM wanted w {_KEPT}"
        )
        return every, int(done)

    def count_by_other_readers(self) -> int:
        """How many of the lines were read by another version of the reader than this one."""
        ((found,),) = self._read(
            f"SELECT count(*) FROM wanted w {_KEPT} WHERE r.reader <> :reader",
            reader=reader_signature(),
        )
        return int(found)

    def pending(self, *, with_other_readers: bool = False) -> Iterator[Wanted]:
        """Photos without a line, in order; lines may be added meanwhile. with_other_readers:
        also those that another version of the reader has read."""
        or_other = " OR r.reader <> :reader" if with_other_readers else ""
        condition = f"(NOT coalesce({_HAS_LINE}, 1 = 0){or_other})"
        columns = "w.place, w.photo, w.size, w.stamp, w.shows"
        for _, *cells in self._paged(columns, f"wanted w {_KEPT}", condition):
            yield Wanted(**dict(zip(Wanted.__struct_fields__, cells, strict=True)))

    def renamed(self) -> Iterator[tuple[Wanted, frozenset[str]]]:
        """Photos without a line that may have been read under another name or time: the digests
        of photos of the same size that were."""
        for one in self.pending():
            found = self._read(
                "SELECT DISTINCT p.sha256 FROM audit_photos p JOIN audit_readings r "
                "ON r.run = p.run AND r.sha256 = p.sha256 AND r.shows = p.shows "
                "WHERE p.run = :run AND p.size = :size AND p.shows = :shows",
                size=one.size,
                shows=one.shows,
            )
            if found:
                yield one, frozenset(digest for (digest,) in found)

    def photos(self) -> Iterator[str]:
        """All photos of the lot, in order, whether they have their line or not."""
        return (photo for _, photo in self._paged("w.place, w.photo", "wanted w", "1 = 1"))

    def lines(self) -> Iterator[PhotoLine]:
        """The lines of all photos of the lot, in order."""
        for _, *cells in self._paged(f"w.place, {_LINE}", f"wanted w {_KEPT}", _HAS_LINE):
            yield _line(cells)

    def lines_of(self, photos: Iterable[str]) -> tuple[PhotoLine, ...]:
        """The lines of these photos."""
        query = f"SELECT {_LINE} FROM wanted w {_KEPT} WHERE w.photo = :photo AND {_HAS_LINE}"
        return tuple(_line(cells) for photo in photos for cells in self._read(query, photo=photo))

    def add_pieces(self, pieces: Iterable[NewPiece]) -> None:
        """Pieces in order; photos are added to a piece that is there."""
        adds = text(
            "INSERT INTO pieces (place, name, is_declared, about) "
            "VALUES (:place, :name, :is_declared, :about) ON CONFLICT (name) "
            "DO UPDATE SET is_declared = (pieces.is_declared OR excluded.is_declared)"
        )
        joins = text(
            "INSERT INTO members (piece, photo) SELECT place, :photo FROM pieces "
            "WHERE name = :name ON CONFLICT (piece, photo) DO NOTHING"
        )
        for block in in_blocks(pieces, 1000):
            self._write(
                adds,
                [
                    {
                        "place": place,
                        "name": one.name,
                        "is_declared": one.is_declared,
                        "about": one.about,
                    }
                    for place, one in enumerate(block, self._pieces + 1)
                ],
            )
            self._pieces += len(block)
            cells = [{"photo": photo, "name": one.name} for one in block for photo in one.photos]
            self._write(joins, cells)

    def pieces(self) -> Iterator[Piece]:
        """All pieces in order, with their lines; their numbers may be set meanwhile."""
        rows = self._paged(f"{_PIECE}, {_SHARES}", "pieces", "1 = 1")
        for block in in_blocks(rows):
            lines = self._lines_of(block[0][0], block[-1][0])
            for *cells, shares in block:
                piece = _piece(cells)
                yield msgspec.structs.replace(
                    piece, shares=bool(shares), lines=lines.get(piece.place, ())
                )

    def set_numbers(self, numbers: Iterable[PieceNumbers]) -> None:
        """What was read on pieces, each by itself."""
        sets = text(
            "UPDATE pieces SET article = :article, card = :card, boxes = :boxes "
            "WHERE place = :place"
        )
        for block in in_blocks(numbers):
            self._write(
                sets,
                [msgspec.structs.asdict(one) | {"boxes": " ".join(one.boxes)} for one in block],
            )

    def count_pieces(self) -> int:
        """How many pieces there are."""
        return int(self._read("SELECT count(*) FROM pieces")[0][0])

    def sharing(self, piece: Piece, most: int) -> list[Piece]:
        """Other pieces that bear one of this piece's numbers: one with the same two, and the
        first `most` with another partner for either. A stack of equal pieces hides none that
        is not equal, and costs no more than one."""
        sides = {"article": piece.article, "card": piece.card}
        if not any(sides.values()):
            return []
        same = " AND ".join(
            f"{name} = :{name}" if value else f"{name} IS NULL" for name, value in sides.items()
        )
        found = self._where(f"{same} AND place <> :place", 1, place=piece.place, **sides)
        for name, other in (("article", "card"), ("card", "article")):
            # One stretch of the index each: what lies between is not walked over.
            besides = ("< :other", "> :other", "IS NULL") if sides[other] else ("IS NOT NULL",)
            for beside in besides if sides[name] else ():
                found |= self._where(
                    f"{name} = :own AND {other} {beside}", most, own=sides[name], other=sides[other]
                )
        return [found[place] for place in sorted(found)]

    def bearer(self, number: str, beside: int) -> str | None:
        """Words for the first piece, other than `beside`, that bears this number."""
        for column, words in (("article", "piece {}"), ("card", "the card of piece {}")):
            found = self._read(
                f"SELECT name FROM pieces WHERE {column} = :number AND place <> :beside "
                "ORDER BY place LIMIT 1",
                number=number,
                beside=beside,
            )
            if found:
                return words.format(found[0][0])
        return None

    def _lines_of(self, first: int, last: int) -> dict[int, tuple[PhotoLine, ...]]:
        found = self._read(
            f"SELECT m.piece, {_LINE} FROM members m JOIN wanted w ON w.photo = m.photo {_KEPT} "
            f"WHERE m.piece BETWEEN :first AND :last AND {_HAS_LINE} ORDER BY m.piece, w.place",
            first=first,
            last=last,
        )
        return {
            place: tuple(_line(cells) for _, *cells in some)
            for place, some in groupby(found, key=lambda row: int(row[0]))
        }

    def _where(self, condition: str, most: int, **values: Any) -> dict[int, Piece]:
        rows = self._read(
            f"SELECT {_PIECE} FROM pieces WHERE {condition} ORDER BY place LIMIT :most",
            most=most,
            **values,
        )
        return {row[0]: _piece(row) for row in rows}

    def _paged(self, columns: str, table: str, condition: str) -> Iterator[Any]:
        """Rows in the order of `place`, the first column, some at a time: other statements may
        come between."""
        place = columns.partition(",")[0]
        last = 0
        while rows := self._read(
            f"SELECT {columns} FROM {table} WHERE {place} > :last AND {condition} "
            f"ORDER BY {place} LIMIT 200",
            last=last,
            reader=reader_signature(),
        ):
            last = rows[-1][0]
            yield from rows

    def _read(self, query: str, **values: Any) -> list[Any]:
        with self._store.transaction() as db:
            return list(db.execute(text(query), values | {"run": self._store.run}).all())

    def _write(self, statement: TextClause, cells: list[dict[str, Any]] | None = None) -> None:
        if cells != []:
            with self._store.transaction() as db:
                db.execute(statement, cells)


def _line(cells: Iterable[Any]) -> PhotoLine:
    found = dict(zip(_COLUMNS, cells, strict=True))
    return PhotoLine(**{name: value for name, value in found.items() if value is not None})


_COLUMNS = ("photo", "size", "stamp", "shows", "sha256", "day", "reader", "reading", "unusable",
            "remedy")  # fmt: skip


def _piece(cells: Iterable[Any]) -> Piece:
    place, name, is_declared, article, card, boxes, about = cells
    return Piece(
        place=place,
        name=name,
        is_declared=bool(is_declared),
        article=article,
        card=card,
        boxes=tuple((boxes or "").split()),
        about=about,
    )
