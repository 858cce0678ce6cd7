"""Small rules of English: plurals, lists, the first letter of a sentence."""

from __future__ import annotations

from collections.abc import Sequence


def counted(count: int, noun: str, plural: str = "") -> str:
    """ "1 card", "2 cards", "0 cards"; `plural` where it is not the noun with an s."""
    return f"{count} {noun if count == 1 else plural or f'{noun}s'}"


def listed(words: Sequence[str], link: str = "and") -> str:
    """ "a", "a and b", "a, b and c"; semicolons where the words hold commas themselves."""
    if len(words) < 2:
        return "".join(words)
    comma = "; " if len(words) > 2 and any("," in word for word in words) else ", "
    return f"{comma.join(words[:-1])} {link} {words[-1]}"


def unit(text: str) -> str:
    """What one place of `text` is called: "digit", or "character" where letters occur."""
    return "digit" if text.isascii() and text.isdecimal() else "character"


def begun(sentence: str) -> str:
    """The sentence with a capital letter first."""
    return sentence[:1].upper() + sentence[1:]
