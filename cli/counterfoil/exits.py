"""Exit codes. They are promised in COMMANDS.md and never change their meaning."""

from __future__ import annotations

from collections.abc import Iterable

from pairing.model import Verdict

ALL_AGREE = 0
USAGE = 2
DIFFERS = 10
UNREAD = 11
SKIPPED = 12
NOT_DONE = 13
OUTPUT_CLOSED = 141
"""Whoever read standard output has closed it (`| head -1`): 128 and SIGPIPE's 13, which is what a
shell reports of a program that the signal ended (POSIX, 2.8.2). No error of ours."""


def of_verdicts(verdicts: Iterable[Verdict], *, skipped: bool = False) -> int:
    """The code for a run: a difference outweighs what was unread, that outweighs a photo
    that could not be used."""
    seen = set(verdicts)
    if Verdict.DIFFERS in seen:
        return DIFFERS
    if Verdict.UNREAD in seen:
        return UNREAD
    return SKIPPED if skipped else ALL_AGREE
