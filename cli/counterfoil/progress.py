"""A bar for each stage of a long job, with the time that is left; on a terminal alone."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

from counterfoil import terminal


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
