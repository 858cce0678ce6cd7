"""Scanner or person typing? A terminal that both share: whose keys are they, and what may be
echoed. `kiosk/page/capture.js` does the same for the kiosk's page.

A scanner sends its keys 7 to 16 ms apart, a person types more than 100 ms apart (common
practice; thresholds in use lie at 20 and 50 ms). So keys that follow each other without a
pause are a scanner's, or pasted. They are not echoed, because the label's number must not
be on the screen while the box is read, and no word of the counter is taken from them.

A scanner may be set slower than that. Then its evenness gives it away: see `is_even`.
"""

from __future__ import annotations

import codecs
import itertools
import re
import statistics
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Protocol

from pairing.desk.words import Arrived, parse_line
from pairing.numbers.text import compact, is_digits

PACE_S = 0.05
"""A pause this long between two keys may be a person's; few type faster, and nobody does so
six times in a row."""

_RUN = 6
"""So many keys without a pause are no person's; fewer may be, when fingers roll."""
_WHOLE_RUN = 4
"""The same for a whole line with its Enter: `end` typed by a person has pauses."""
_SILENCE_S = 0.5
"""A scan without a terminator ends after this."""
_ENTER, _TAB, _ERASE, _KILL, _END, _ESCAPE = "\r\n", "\t", "\x7f\b", "\x15", "\x04", "\x1b"
_SILENCE = "silence"
_LONGEST = 4_096
_SCAN = "(scan)"
_EVEN_SHARE, _EVEN_WITHIN, _EVEN_GAPS = 0.9, 0.12, 12
"""Keys come evenly where nine of ten gaps are within 12 % of the median, over 12 gaps or more. A
scanner's keys wander by a poll of the keyboard's bus, 8 to 10 ms (USB HID, common practice): 11 %
of 95 ms. A person's gaps vary by 30 to 50 % of their mean (studies of typing, from memory), so
that one line in 5,000 at most would be taken for a scanner's, and be asked for again."""
_MASKED = re.compile(r"\s*label\b", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Typed:
    """One line and how it came."""

    text: str
    arrived: Arrived


@dataclass(slots=True)
class _Key:
    char: str
    at_s: float
    shown: int = 0  # columns that it takes on the screen


@dataclass(slots=True)
class _Line:
    """The line so far. run: where the keys without a pause begin. first: the length of the
    first run; bursts: whether any run was too long for a person."""

    keys: list[_Key] = field(default_factory=list)
    run: int = 0
    displayed: int = 0
    has_burst: bool = False
    begins_fast: bool = False

    @property
    def text(self) -> str:
        return "".join(key.char for key in self.keys)


class Keys(Protocol):
    """Where keys come from."""

    def is_ready(self, timeout_s: float | None) -> bool:
        """Wait until there are keys, or no longer than that."""

    def read(self) -> bytes:
        """The keys that are there, at least one; nothing at the end."""


class Keyboard:
    """Reads lines from `keys`; what is to be seen goes to `show`."""

    def __init__(
        self,
        keys: Keys,
        show: Callable[[str], None],
        *,
        pace_s: float = PACE_S,
        ticks: Callable[[], float] = time.monotonic,
    ) -> None:
        self._keys = keys
        self._ticks = ticks
        self._show = show
        self._pace_s = pace_s
        self._decoder = codecs.getincrementaldecoder("utf-8")("replace")
        self._buffer: list[str] = []
        self._follows_on = False

    def read(self) -> Typed | None:
        """The next line; None at the end of input."""
        line = _Line()
        while True:
            char = self._next(line)
            if char is None:
                return None  # the terminal is gone; a line without its end was not meant yet
            if char == _SILENCE:
                return self._finished(line, by_key=False)
            if char in _ENTER or (char == _TAB and self._is_scan(line)):
                if not line.keys and self._follows_on:
                    continue  # the second half of a scanner's CR LF
                self._follows_on = True
                return self._finished(line, by_key=True)
            self._follows_on = False
            if char == _END:
                if not line.keys:
                    self._show("\n")
                    return None
            elif char == _KILL:
                while line.keys:
                    self._erase(line)
            elif char in _ERASE:
                self._erase(line)
            elif char == _ESCAPE:
                self._skip_sequence()
            elif char != _TAB and len(line.keys) < _LONGEST:
                line.keys.append(_Key(char, self._ticks()))

    def _next(self, line: _Line) -> str | None:
        """The next key; _SILENCE where that ended a scan, None at the end of input."""
        if self._buffer:
            return self._buffer.pop(0)
        if not self._keys.is_ready(self._pace_s):
            self._settle(line)
            self._follows_on = False
            is_scan = self._is_scan(line)
            if not self._keys.is_ready(_SILENCE_S if is_scan else None):
                return _SILENCE
        data = self._keys.read()
        if not data:
            return None
        self._buffer += self._decoder.decode(data)
        return self._buffer.pop(0) if self._buffer else self._next(line)

    def _is_scan(self, line: _Line) -> bool:
        return line.begins_fast or (line.run == 0 and len(line.keys) >= _RUN)

    def _settle(self, line: _Line) -> None:
        """A pause: what came before it is known to be a person's or not, and is shown."""
        self._judge_run(line, len(line.keys) - line.run >= _RUN)
        self._display(line)
        line.run = len(line.keys)

    def _judge_run(self, line: _Line, is_burst: bool) -> None:
        if not is_burst:
            return
        line.has_burst = True
        line.begins_fast = line.begins_fast or line.run == 0
        line.keys[line.run].shown = len(_SCAN)
        self._show(_SCAN)
        line.displayed = len(line.keys)

    def _display(self, line: _Line) -> None:
        if line.begins_fast:
            return
        for index in range(line.displayed, len(line.keys)):
            key = line.keys[index]
            before = line.text[:index]
            shown = key.char if _is_open(before, key.char) else "*"
            if key.char.isprintable():
                self._show(shown)
                key.shown = 1
        line.displayed = len(line.keys)

    def _finished(self, line: _Line, *, by_key: bool) -> Typed:
        length = len(line.keys) - line.run + by_key
        is_whole = line.run == 0 and length >= _WHOLE_RUN
        self._judge_run(line, length >= _RUN + by_key or is_whole)
        self._display(line)
        self._show("\n")
        text = line.text
        if line.begins_fast or (line.has_burst and not _begins_with_word(text)):
            return Typed(text=text, arrived=Arrived.SCANNED)
        if line.has_burst:
            return Typed(text=text, arrived=Arrived.MIXED)
        return Typed(text=text, arrived=Arrived.EVEN if _is_even(line) else Arrived.TYPED)

    def _erase(self, line: _Line) -> None:
        if not line.keys:
            return
        shown = line.keys.pop().shown
        self._show("\b \b" * shown)
        line.run = min(line.run, len(line.keys))
        line.displayed = min(line.displayed, len(line.keys))
        if not line.keys:
            line.begins_fast = line.has_burst = False

    def _skip_sequence(self) -> None:
        """An arrow or function key sends ESC and a few more; they mean nothing here."""
        if not self._buffer and not self._keys.is_ready(self._pace_s):
            return
        if not self._buffer:
            self._buffer += self._decoder.decode(self._keys.read())
        if self._buffer[:1] and self._buffer[0] in "[O":
            self._buffer.pop(0)
            while self._buffer and not self._buffer.pop(0).isalpha():
                pass


def is_even(gaps_s: Sequence[float]) -> bool:
    """Whether keys came as evenly as no person types. gaps_s: seconds from key to key."""
    if len(gaps_s) < _EVEN_GAPS:
        return False
    median = statistics.median(gaps_s)
    near = sum(abs(gap - median) <= _EVEN_WITHIN * median for gap in gaps_s)
    return near >= _EVEN_SHARE * len(gaps_s)


def _is_even(line: _Line) -> bool:
    """Whether the number at the line's end, behind a word or not, came too evenly."""
    behind = list(itertools.takewhile(lambda key: key.char.isalnum(), reversed(line.keys)))
    times = [key.at_s for key in reversed(behind)]
    return is_even([after - before for before, after in itertools.pairwise(times)])


def _is_open(before: str, char: str) -> bool:
    """Whether a typed key may be read on the screen: letters, and the digits after a word,
    but not those of a label. A number without a word may be a label's."""
    if _MASKED.match(before) or not _begins_with_word(before):
        return not is_digits(compact(char))  # of any script
    return True


def _begins_with_word(text: str) -> bool:
    return parse_line(text, Arrived.TYPED).word is not None
