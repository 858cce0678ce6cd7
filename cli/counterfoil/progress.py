"""A bar for each stage of a long job, with the time that is left, on a terminal; and in a log a
line a minute, whoever looks."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import click

from counterfoil import terminal
from pairing.audit.reports import code_words
from pairing.audit.run.reading_tally import ReadingTally
from pairing.findings import Code


@contextmanager
def bars() -> Iterator[Callable[[str, int, int], None]]:
    """Tell it what is being done, how many are done, of how many."""
    from tqdm import tqdm  # noqa: PLC0415 - only where progress is shown

    shown: dict[str, Any] = {}

    def tell(stage: str, done: int, total: int) -> None:
        if not sys.stderr.isatty():
            return
        if stage not in shown:
            for other in shown.values():
                other.close()
            shown[stage] = tqdm(
                total=total,
                initial=done - 1,
                leave=False,
                file=terminal.own(sys.stderr),
                bar_format="{n} of {total} " + stage + ", {remaining} left {bar:30}",
            )
        shown[stage].update(done - shown[stage].n)

    try:
        yield tell
    finally:
        for bar in shown.values():
            bar.close()


def above_bar(line: str) -> None:
    """A line of progress on stderr, above the bar where there is one."""
    if sys.stderr.isatty():
        from tqdm import tqdm  # noqa: PLC0415 - only where progress is shown

        tqdm.write(line, file=terminal.own(sys.stderr))
    else:
        click.echo(line, err=True)


EVERY_S = 60.0
_MOST_CAUSES = 4
_REMEDIES: dict[str, str] = {
    Code.FORM_UNKNOWN: "teach it from a photo of an empty card: `counterfoil form learn`",
    Code.PHOTO_SKIPPED: "the rows will say why",
}
"""What to do about a cause while the run goes on."""


class MinuteLog:
    """Writes a line a minute: share done, rate, time left, and what was not read so far and why.

    path: the log, added to. echo: is given each line too. clock: seconds that only go on.
    """

    def __init__(
        self,
        path: Path,
        *,
        echo: Callable[[str], None],
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._path, self._echo, self._clock = path, echo, clock
        self._stage, self._began, self._first, self._last = "", 0.0, 0, clock()
        self.tally = ReadingTally()

    def tell(self, stage: str, done: int, total: int) -> None:
        """As `bars` is told."""
        now = self._clock()
        if stage != self._stage:
            self._stage, self._began, self._first = stage, now, done - 1
        if now - self._last < EVERY_S:
            return
        self._last = now
        rate = (done - self._first) / max(now - self._began, 1e-9)
        line = f"{done:,} of {total:,} {stage} ({100 * done / max(total, 1):.1f} %), "
        line += f"{rate:.1f} a second, {_duration((total - done) / rate)} left{self._unread()}"
        with self._path.open("a", encoding="utf-8") as file:
            file.write(f"{datetime.now(UTC):%Y-%m-%dT%H:%M:%SZ} {line}\n")
        self._echo(line)

    def _unread(self) -> str:
        """What was not read so far, the most frequent cause first."""
        tally = self.tally
        if not tally.unread:
            return ""
        causes = []
        for code, number in tally.causes.most_common(_MOST_CAUSES):
            remedy = f" ({_REMEDIES[code]})" if code in _REMEDIES else ""
            causes.append(f"{number:,} {code_words.of_code(code)}{remedy}")
        share = f"{100 * tally.unread / tally.photos:.1f} %"
        return (
            f"; {tally.unread:,} of {tally.photos:,} photos not read ({share}): {'; '.join(causes)}"
        )


def _duration(seconds: float) -> str:
    """A time as people say it."""
    if seconds < 90:
        return f"{seconds:.0f} s"
    if seconds < 5400:
        return f"{seconds / 60:.0f} min"
    return f"{seconds / 3600:.1f} h"
