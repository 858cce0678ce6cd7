"""Texts cut into grams, by which the ledger's search finds entries. Pure.

A gram is a short run of characters: five of a number (its digits are alike in long stretches, and
five tell more), three and five of a word, and the first two of a word. Both databases index grams
in their own full-text index; what they find is then looked at itself (`Sought.is_in`), so a gram
only narrows the search. No search for a word asks for grams by their beginning: a database would
have to put all their lists together before the first entry is known.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from pairing.numbers.text import count_digits

NUMBER_GRAM = 5
WORD_GRAM, LONG_WORD_GRAM, WORD_START = 3, 5, 2
"""Characters of a gram. Measured by `tests/benchmarks/finding.py`."""

SHORTEST = 2
"""Characters of the longest term of a search; shorter ones would find nearly everything. Terms of
just so many stand for words that begin so."""

_SHORTEST_OF_NUMBER = 3
_MOST_OF_NUMBER, _MOST_OF_WORD = 6, 4
"""Of a term's grams so many are asked for: of a number from its end, since numbers of one mailer
begin alike; of a word from all of it, since many names end alike."""

_END = "_"
_WORDS = re.compile(r"\w+")
_PLAIN = re.compile(r"[0-9a-z_]+")


def folded(text: str) -> str:
    """The text as it is searched: no accents, no case, words parted by one blank."""
    apart = unicodedata.normalize("NFKD", text)
    bare = "".join(one for one in apart if not unicodedata.combining(one)).casefold()
    return " ".join(_WORDS.findall(bare.replace("_", " ")))


@dataclass(frozen=True, slots=True, kw_only=True)
class Searched:
    """What of one entry is searched. numbers: without blanks, folded. words: folded."""

    numbers: tuple[str, ...]
    words: str

    @classmethod
    def of(cls, numbers: Iterable[str | None], particulars: Mapping[str, str]) -> Searched:
        """What is searched of an entry with these numbers, names and addresses."""
        known = dict.fromkeys(one.casefold() for one in numbers if one)
        words = " ".join(folded(value) for _, value in sorted(particulars.items()))
        return cls(numbers=tuple(known), words=words)

    def grams(self) -> tuple[str, ...]:
        """Its grams, each once: ASCII letters, digits and underscores."""
        found = dict.fromkeys(
            _token("n", part) for number in self.numbers for part in _parts(number, NUMBER_GRAM)
        )
        for word in self.words.split():
            found |= dict.fromkeys(_of_word(word))
        return tuple(found)


@dataclass(frozen=True, slots=True, kw_only=True)
class Gram:
    """A gram that is asked for; is_start: any gram that begins so will do."""

    text: str
    is_start: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Sought:
    """A search: every one of its terms has to be in a number or in the words."""

    terms: tuple[str, ...]

    @property
    def is_too_short(self) -> bool:
        """Whether it would find nearly everything."""
        return max(map(len, self.terms), default=0) < SHORTEST

    def is_in(self, searched: Searched) -> bool:
        """Whether an entry is one of those that are sought."""
        return all(_is_term_in(term, searched) for term in self.terms)

    def asked(self) -> tuple[tuple[tuple[Gram, ...], ...], ...]:
        """For each term that is long enough the sets of grams of which one set must be there
        whole."""
        return tuple(ways for term in self.terms if (ways := tuple(_ways(term))))


def sought(text: str) -> tuple[Sought, ...]:
    """The searches that a text stands for, the likelier first: digits in printed groups are one
    number, and may be several terms."""
    terms = tuple(folded(text).split())
    found = [Sought(terms=terms)] if terms else []
    has_groups = len(terms) > 1 and all(map(count_digits, terms))
    joined = "".join(terms)
    if has_groups and joined.isascii():
        found.insert(0, Sought(terms=(joined,)))
    return tuple(found)


def _ways(term: str) -> Iterator[tuple[Gram, ...]]:
    is_number = term.isascii() and count_digits(term) > 0
    if is_number and len(term) >= _SHORTEST_OF_NUMBER:
        yield _asked("n", term, NUMBER_GRAM)
    if len(term) == WORD_START:
        yield (Gram(text=_token("s", term), is_start=False),)
    elif WORD_GRAM <= len(term) < LONG_WORD_GRAM:
        yield _asked("w", term, WORD_GRAM)
    elif len(term) >= LONG_WORD_GRAM:
        yield _asked("v", term, LONG_WORD_GRAM)


def _is_term_in(term: str, searched: Searched) -> bool:
    if len(term) <= WORD_START:
        return f" {term}" in f" {searched.words}"
    return term in searched.words or any(term in number for number in searched.numbers)


def _of_word(word: str) -> Iterator[str]:
    if len(word) >= WORD_START:
        yield _token("s", word[:WORD_START])
    for kind, size in (("w", WORD_GRAM), ("v", LONG_WORD_GRAM)):
        for at in range(len(word) - size + 1):
            yield _token(kind, word[at : at + size])


def _asked(kind: str, term: str, size: int) -> tuple[Gram, ...]:
    if len(term) < size:
        return (Gram(text=_token(kind, term), is_start=True),)
    parts = [term[at : at + size] for at in range(len(term) - size + 1)]
    if kind == "n":
        parts = parts[-_MOST_OF_NUMBER:]
    elif len(parts) > _MOST_OF_WORD:
        step = (len(parts) - 1) / (_MOST_OF_WORD - 1)
        parts = [parts[round(at * step)] for at in range(_MOST_OF_WORD)]
    return tuple(Gram(text=_token(kind, part), is_start=False) for part in parts)


def _parts(text: str, size: int) -> Iterator[str]:
    """Runs of `size` characters; the end of the text counts as one, so that shorter ends are
    found by their beginning."""
    ended = text + _END
    if len(ended) <= size:
        yield ended
    for at in range(len(ended) - size + 1):
        yield ended[at : at + size]


def _token(kind: str, part: str) -> str:
    """A gram as both indexes take it: letters of other scripts by their code points, each as
    six digits, so that what begins alike still does."""
    if _PLAIN.fullmatch(part):
        return kind + part
    return kind + "".join(one if _PLAIN.fullmatch(one) else f"{ord(one):06x}" for one in part)
