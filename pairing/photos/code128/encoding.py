"""Code 128 (ISO/IEC 15417): symbol characters, code sets, check character, text.

A symbol is a start character, data characters, a check character and a stop
character. Values 0..105 have six elements (bar, space, bar, space, bar, space)
that fill 11 modules; the stop has seven elements that fill 13.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

from pairing.model import GS

WIDTHS: tuple[str, ...] = tuple(
    """
    212222 222122 222221 121223 121322 131222 122213 122312 132212 221213 221312 231212
    112232 122132 122231 113222 123122 123221 223211 221132 221231 213212 223112 312131
    311222 321122 321221 312212 322112 322211 212123 212321 232121 111323 131123 131321
    112313 132113 132311 211313 231113 231311 112133 112331 132131 113123 113321 133121
    313121 211331 231131 213113 213311 213131 311123 311321 331121 312113 312311 332111
    314111 221411 431111 111224 111422 121124 121421 141122 141221 112214 112412 122114
    122411 142112 142211 241211 221114 413111 241112 134111 111242 121142 121241 114212
    124112 124211 411212 421112 421211 212141 214121 412121 111143 111341 131141 114113
    114311 411113 411311 113141 114131 311141 411131 211412 211214 211232
    """.split()  # noqa: SIM905
)
"""Element widths in modules of values 0..105, bars and spaces by turns, bar first.
ISO/IEC 15417 table 1 (from memory; two published implementations agree, see the tests)."""

STOP_WIDTHS = "2331112"
CHARACTER_MODULES = 11
STOP_MODULES = 13
QUIET_ZONE_MODULES = 10
"""Clear space that each end needs, in X (ISO/IEC 15417 4.4.2)."""

SHIFT, CODE_C, CODE_B, CODE_A, FNC1 = 98, 99, 100, 101, 102
FNC3, FNC2 = 96, 97
START_A, START_B, START_C = 103, 104, 105
CHECK_MODULUS = 103

_LATCHES = {
    "A": {CODE_C: "C", CODE_B: "B"},
    "B": {CODE_C: "C", CODE_A: "A"},
    "C": {CODE_B: "B", CODE_A: "A"},
}
_FNC4 = {"A": CODE_A, "B": CODE_B}  # the value that would latch to its own set
_STARTS = {START_A: "A", START_B: "B", START_C: "C"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Message:
    """What a run of symbol characters says; fields as in `model.Symbol`."""

    text: str
    aim: str


def check_value(values: Sequence[int]) -> int:
    """The check character for a start value and data values (ISO/IEC 15417 4.3.6)."""
    total = values[0] + sum(place * value for place, value in enumerate(values[1:], start=1))
    return total % CHECK_MODULUS


def symbol_modules(character_count: int) -> int:
    """Modules from the first bar to the last; the count includes start, check and stop."""
    return CHARACTER_MODULES * character_count + (STOP_MODULES - CHARACTER_MODULES)


def message_of(values: Sequence[int]) -> Message | None:
    """Start, data and check values (no stop) as a message, None where the rules are broken.

    Broken: no start first, a check character that fails, a value that has no
    meaning in its code set, FNC3 (it programs a reader, it is no message).
    """
    if len(values) < 3 or values[0] not in _STARTS or check_value(values[:-1]) != values[-1]:
        return None
    return _Speaker(_STARTS[values[0]]).speak(values[1:-1])


class _Speaker:
    """Walks the data characters, keeping code set, shift and FNC4 state."""

    def __init__(self, code_set: str) -> None:
        self._set = code_set
        self._shifted = False
        self._high_latch = False
        self._high_next = False
        self._aim = "]C0"
        self._out: list[str] = []

    def speak(self, data: Sequence[int]) -> Message | None:
        for place, value in enumerate(data):
            if not self._take(value, place):
                return None
        # A shift or an FNC4 with nothing after it is no finished message.
        if self._shifted or self._high_next or not self._out:
            return None
        return Message(text="".join(self._out), aim=self._aim)

    def _take(self, value: int, place: int) -> bool:
        if value == FNC1:
            return self._take_fnc1(place)
        if self._set == "C":
            if value < 100:
                self._out.append(f"{value:02d}")
                return True
            return self._latch(value)
        active = {"A": "B", "B": "A"}[self._set] if self._shifted else self._set
        if value < 96:
            return self._print(active, value)
        if self._shifted:
            return False
        if value == _FNC4[self._set]:
            return self._take_fnc4()
        if value == SHIFT:
            self._shifted = True
            return True
        return value == FNC2 or self._latch(value)

    def _take_fnc1(self, place: int) -> bool:
        # ISO/IEC 15417 annex B: FNC1 first means GS1; after one letter or a pair of
        # digits it means an AIM application; further on it separates fields.
        if self._shifted or self._high_next:
            return False
        if place == 0:
            self._aim = "]C1"
        elif place == 1 and self._aim == "]C0" and self._out:
            self._aim = "]C2"
        else:
            self._out.append(GS)
        return True

    def _latch(self, value: int) -> bool:
        target = _LATCHES[self._set].get(value)
        if target is None or self._high_next:
            return False
        self._set = target
        return True

    def _take_fnc4(self) -> bool:
        if self._high_next:  # two in a row latch the upper half of Latin-1
            self._high_latch = not self._high_latch
            self._high_next = False
        else:
            self._high_next = True
        return True

    def _print(self, active: str, value: int) -> bool:
        code = value + 32 if active == "B" or value < 64 else value - 64
        if self._high_latch != self._high_next:
            code += 128
        self._shifted = self._high_next = False
        self._out.append(chr(code))
        return True


@lru_cache(maxsize=512)
def shortest_values(text: str, *, aim: str = "]C0") -> tuple[int, ...] | None:
    """Start and data values of the shortest symbol for `text`, without the check.

    None where Code 128 cannot say it in plain characters (beyond ASCII is left
    out: FNC4 has more than one shortest form and no number needs it).
    """
    items = [*([FNC1] if aim == "]C1" else []), *text]
    starts = {"A": START_A, "B": START_B, "C": START_C}
    best: dict[tuple[int, str], tuple[int, ...]] = {(0, s): (v,) for s, v in starts.items()}
    for place in range(len(items) + 1):
        _relax_latches(best, place)
        if place == len(items):
            break
        for code_set in "ABC":
            so_far = best.get((place, code_set))
            if so_far is None:
                continue
            for taken, value in _steps(items, place, code_set):
                _keep_shorter(best, (place + taken, code_set), (*so_far, *value))
    ends = [best[len(items), s] for s in "CBA" if (len(items), s) in best]
    return min(ends, key=len) if ends else None


def _relax_latches(best: dict[tuple[int, str], tuple[int, ...]], place: int) -> None:
    for source, latches in _LATCHES.items():
        so_far = best.get((place, source))
        if so_far is None or so_far[-1] in _STARTS:
            continue
        for value, target in latches.items():
            _keep_shorter(best, (place, target), (*so_far, value))


def _keep_shorter(
    best: dict[tuple[int, str], tuple[int, ...]], key: tuple[int, str], values: tuple[int, ...]
) -> None:
    if key not in best or len(values) < len(best[key]):
        best[key] = values


def _steps(
    items: Sequence[str | int], place: int, code_set: str
) -> Iterator[tuple[int, tuple[int, ...]]]:
    """(items used, values) for each way to go on in `code_set`."""
    item = items[place]
    if item in (FNC1, GS):
        yield 1, (FNC1,)
    if not isinstance(item, str):
        return
    if code_set == "C":
        pair = items[place : place + 2]
        if len(pair) == 2 and all(isinstance(c, str) and c in "0123456789" for c in pair):
            yield 2, (int(f"{pair[0]}{pair[1]}"),)
        return
    other = "B" if code_set == "A" else "A"
    own, shifted = _value_in(code_set, item), _value_in(other, item)
    if own is not None:
        yield 1, (own,)
    elif shifted is not None:
        yield 1, (SHIFT, shifted)


def _value_in(code_set: str, char: str) -> int | None:
    code = ord(char)
    if code_set == "B":
        return code - 32 if 32 <= code <= 127 else None
    if 32 <= code <= 95:
        return code - 32
    return code + 64 if code < 32 else None


def shortest_modules(text: str, *, aim: str = "]C0") -> int:
    """Modules of the shortest symbol that says `text`, from its first bar to its last."""
    values = shortest_values(text, aim=aim)
    if values is None:  # beyond ASCII: at least an FNC4 for each such character
        return symbol_modules(3 + len(text) + sum(ord(c) > 127 for c in text))
    return symbol_modules(len(values) + 2)
