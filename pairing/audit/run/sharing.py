"""A run's folder and its results in a database brought together, so that any machine can go on
with what any other has read."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice
from pathlib import Path

from pairing.audit.run.index import Index
from pairing.audit.run.journal import Journal
from pairing.audit.run.results import Results, digest
from pairing.audit.run.review import Decisions

_MANY = 50
"""Lines that are fetched at once."""


def lines(journal: Journal, index: Index, results: Results) -> None:
    """Lines that only the database has come into the journal, those that only the journal has
    go there. Of two for one photo the database's counts. Raises OutputRefused,
    TableUnusable."""
    missing = _missing(journal, index, results)
    while some := list(islice(missing, _MANY)):
        for text in results.lines(some):
            line = journal.append(text)
            members = journal.at(line.offset, line.size)
            index.note_line(members, (line.offset, line.size))
            index.mark_shared(members["photo"])
    results.keep(journal.text_at(*place) for place in index.unshared())


def decisions(folder: Path, results: Results) -> Decisions:
    """What people said, wherever they said it; of two about one piece the later one. Raises
    TableUnusable."""
    own, shared = Decisions.of(folder), Decisions.of_list(results.decisions(), results.where)
    own.take_later(shared)
    if own.by_piece:
        own.write(folder)
    return own


def _missing(journal: Journal, index: Index, results: Results) -> Iterator[str]:
    for photo, sha256 in results.kept():
        place = index.place_of(photo)
        if place is not None and digest(journal.text_at(*place)) == sha256:
            index.mark_shared(photo)
        else:
            yield photo
