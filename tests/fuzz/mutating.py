"""Inputs made from good ones: bytes flipped, cut, doubled, put in from other inputs and from a
table of what has broken parsers before; sometimes nothing but noise or any of Unicode."""

from __future__ import annotations

import random
from collections.abc import Sequence

_MOST_BYTES = 60_000

NASTY = (
    b"\x00", b"\xff\xfe", b"\xed\xa0\x80", "\u00b2".encode(), "\u0661".encode(), "\u2028".encode(),
    "\u202e".encode(), "\U0001d7d8".encode(), b"\x1b]0;x\x07", b"\xc2\x9b", b"\x1d", b"\\ud800",
    b"[" * 3000, b'{"a":' * 3000, b"9" * 5000, b"-1", b"1e999", b"NaN", b"null", b"true", b"\"",
    b",", b"\r", b"\n", b"%PDF-", b"\xff\xd8\xff", b"18446744073709551616", b"../" * 20, b"=1+1",
)  # fmt: skip


def mutated(dice: random.Random, corpus: Sequence[bytes]) -> bytes:
    """One input."""
    kind = dice.random()
    if kind < 0.05:
        return dice.randbytes(dice.randrange(300))
    if kind < 0.15:
        codes = (dice.randrange(0x110000) for _ in range(dice.randrange(1, 60)))
        return "".join(map(chr, codes)).encode("utf-8", "surrogatepass")
    data = bytearray(dice.choice(corpus))
    for _ in range(dice.choice((1, 1, 2, 3, 8))):
        _change(dice, data, corpus)
    return bytes(data[:_MOST_BYTES])


def _change(dice: random.Random, data: bytearray, corpus: Sequence[bytes]) -> None:
    at = dice.randrange(len(data) + 1)
    end = min(len(data), at + dice.choice((1, 2, 4, 16, 200)))
    match dice.randrange(7):
        case 0:
            data[at:end] = dice.randbytes(end - at)
        case 1:
            del data[at:end]
        case 2:
            data[at:at] = data[at:end] * dice.choice((1, 2, 50))
        case 3:
            data[at:at] = dice.choice(NASTY)
        case 4:
            data[at:end] = dice.choice(NASTY)
        case 5:
            other = dice.choice(corpus)
            start = dice.randrange(len(other) + 1)
            data[at:end] = other[start : start + dice.randrange(1, 100)]
        case _:
            if at < len(data):
                data[at] ^= 1 << dice.randrange(8)
