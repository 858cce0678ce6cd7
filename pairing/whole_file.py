"""Files that are read whole: no more of them than they may sensibly hold."""

from __future__ import annotations

import errno
import os
from pathlib import Path

MOST_BYTES = 64_000_000
"""A table, a report's decisions or samples; a line of a table with a name is some 60 bytes."""


def read(path: Path, most_bytes: int = MOST_BYTES) -> bytes:
    """The file's bytes. Raises OSError, also for more than `most_bytes`: a device that never ends,
    or a link to one in a folder that came from elsewhere, would take all memory."""
    with path.open("rb") as file:
        data = file.read(most_bytes + 1)
    if len(data) > most_bytes:
        raise OSError(errno.EFBIG, os.strerror(errno.EFBIG))
    return data
