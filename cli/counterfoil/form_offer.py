"""An audit whose first cards are of one form that is not known says so before it reads the rest."""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any

import click

from counterfoil import terminal
from counterfoil.progress import above_bar
from pairing.audit.run.photo_line import PhotoLine
from pairing.audit.run.sources import Source
from pairing.audit.run.unknown_form import FIRST, FirstCards, command, of_unknown_form
from pairing.errors import CounterfoilError
from pairing.photos.pool import Pool


def _unheard(_: PhotoLine) -> None:
    """Nobody else is told."""


def _asks() -> bool:
    return sys.stdin.isatty() and sys.stderr.isatty()


@dataclass(slots=True)
class FormOffer:
    """Is told of each photo that is read. At a terminal it asks whether to read on, and where that
    is answered no raises CounterfoilError; nothing is ever learned without a person. tell: for
    sentences where nobody can be asked. heard: is told of each photo too."""

    source: Source
    heard: Callable[[PhotoLine], None] = _unheard
    tell: Callable[[str], None] = above_bar
    asks: Callable[[], bool] = _asks
    _first: FirstCards = field(default_factory=FirstCards)

    def add(self, line: PhotoLine) -> None:
        """Count a photo in, and say what the first cards have in common."""
        self.heard(line)
        if self._first.add(line):
            same = self._alike()
            if same:
                self._offer(same)

    def _alike(self) -> tuple[str, ...]:
        """Of the first cards those of one form, compared where photos may be opened."""
        pool: Pool[Any, Any] = Pool(1, **self.source.reading)
        photos = self._first.unread
        ((_, same),) = pool.run(
            [(0, partial(of_unknown_form, self.source, photos), Path(photos[0]))]
        )
        return same if isinstance(same, tuple) else ()

    def _offer(self, same: tuple[str, ...]) -> None:
        what = (
            f"Of the first {FIRST} cards {len(same)} are of a form that is not known, all of one."
        )
        how = command(self.source, same)
        again = "then give this command again with --reread"
        if not self.asks():
            self.tell(f"{what} Reading goes on. To teach it: {how}; {again}.")
            return
        self.tell(f"{what} It is learned from what these cards share, by:\n  {how}")
        if not click.confirm("Read on without it?", default=False, err=True):
            raise CounterfoilError(
                "The rest of the lot waits until the form is taught",
                where=terminal.plain(self.source.shown),
                remedy=f"Give the command above, {again}.",
            )
