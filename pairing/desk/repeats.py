"""Answers kept for entries that are offered again with their keys.

An entry offered again with its key gives its first answer, but for this: whether its piece still
counts is asked again. After a restart the whole piece is offered again.
"""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass

from pairing.desk.answers import Answer
from pairing.errors import KeyReused

Asked = tuple[object, ...]
"""What an entry asks for: what is done, and with what."""


MOST = 256
"""Answers kept by default: more than a page can have under way."""


@dataclass(slots=True)
class _Kept:
    asked: Asked
    answer: Answer | None = None


class Repeats:
    """The last `most` keyed entries, and their answers once everything of them is recorded."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._kept: OrderedDict[str, _Kept] = OrderedDict()

    def answer(self, key: str, asked: Asked) -> Answer | None:
        """The answer that this entry had, None for none yet. Raises KeyReused where the key
        is used for another entry: the two answers must not be mixed up."""
        if not key:
            return None
        kept = self._kept.setdefault(key, _Kept(asked))
        if kept.asked != asked:
            raise KeyReused(
                f"The key {key!r} is already used for another entry",
                where=str(asked[0]),
                remedy="Give every entry a key of its own.",
            )
        if len(self._kept) > self._most:
            self._kept.popitem(last=False)
        return kept.answer

    def keep(self, key: str, answer: Answer) -> None:
        """Keep the answer for when the entry is offered again."""
        is_recorded = not answer.trouble and all(one.outcome for one in answer.finished)
        if is_recorded and key in self._kept:
            self._kept[key].answer = answer
