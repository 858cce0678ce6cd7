"""Numbers that one slip of the hand leads from to a given text: what a stranger's label may say.

`judge.box.rivals` turned around. Only numbers that begin as some label of the lot does are worth
asking about; so the texts are cut down to these while they are made.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from pairing.compare import CopyError
from pairing.judge.box import dropped, extra, in_place
from pairing.numbers import group_sizes

SERIAL = 8
"""Last places of a number that its pad counts in: seven digits and the check digit."""


class SlipSources:
    """The sources for one lot."""

    def __init__(self, heads: Iterable[str]) -> None:
        """heads: how the lot's labels begin, all but their last SERIAL places; each once."""
        self._heads = frozenset(heads)
        self._lacking: dict[str, set[str]] = {}
        for head in self._heads:
            for short in dropped(head):
                self._lacking.setdefault(short, set()).add(head)

    def of(self, text: str) -> Iterator[tuple[CopyError, str]]:
        """Each slip with the number that it starts from, valid or not; some more than once. What a
        cut text lacks may be anything: see `cut`."""
        for kind, source in in_place(text, group_sizes(text)):
            if source[:-SERIAL] in self._heads:
                yield kind, source
        for source in dropped(text):
            if source[:-SERIAL] in self._heads:
                yield CopyError.EXTRA, source
        yield from ((CopyError.DROPPED, source) for source in self._with_one_more(text))
        for left in dropped(text):
            yield from ((CopyError.SHIFTED, source) for source in self._with_one_more(left))

    def cut(self, text: str) -> Iterator[str]:
        """Numbers of the lot's beginnings of which `text`, longer than a serial, may be the end."""
        begin, tail = text[:-SERIAL], text[-SERIAL:]
        for head in self._heads if begin else ():
            if len(begin) <= len(head) - 2 and head.endswith(begin):
                yield head + tail

    def _with_one_more(self, text: str) -> Iterator[str]:
        """The text with one digit more anywhere, where it then begins as a label does."""
        size = len(text) + 1 - SERIAL
        if size < 1:
            return
        for head in self._lacking.get(text[: size - 1], ()):
            yield head + text[size - 1 :]
        if text[:size] in self._heads:
            yield from (text[:size] + tail for tail in extra(text[size:]))
