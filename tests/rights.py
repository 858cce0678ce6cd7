"""The rights of somebody who may write nothing."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager

NOBODY = 65534
"""The user and group of that name on Linux."""


@contextmanager
def as_nobody() -> Iterator[None]:
    """Root may write everything; nobody may not."""
    if os.geteuid() != 0:
        yield
        return
    os.setegid(NOBODY)
    os.seteuid(NOBODY)
    try:
        yield
    finally:
        os.seteuid(0)
        os.setegid(0)
