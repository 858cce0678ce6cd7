"""Files that are read whole or line by line: no more of them than they may sensibly hold."""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator
from pathlib import Path
from typing import TextIO

MOST_BYTES = 64_000_000
"""A table, a report's decisions or samples; a line of a table with a name is some 60 bytes."""

LONGEST_LINE = 1_000_000
"""Characters of a table's line; a page of cells has some thousands."""


def lines(file: TextIO) -> Iterator[str]:
    """The lines of an open file, with their ends. Raises OSError for one of more than
    `LONGEST_LINE`: a device of zeros is one line without an end."""
    while line := file.readline(LONGEST_LINE + 1):
        if len(line) > LONGEST_LINE:
            raise OSError(errno.EFBIG, os.strerror(errno.EFBIG))
        yield line


def read(path: Path, most_bytes: int = MOST_BYTES) -> bytes:
    """The file's bytes. Raises OSError, also for more than `most_bytes`: a device that never ends,
    or a link to one in a folder that came from elsewhere, would take all memory."""
    with path.open("rb") as file:
        data = file.read(most_bytes + 1)
    if len(data) > most_bytes:
        raise OSError(errno.EFBIG, os.strerror(errno.EFBIG))
    return data
