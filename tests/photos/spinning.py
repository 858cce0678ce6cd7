"""Work that never ends, in a module that a reader loads at once."""

from __future__ import annotations

import os
import re
from pathlib import Path


def spin(path: Path) -> None:
    """Say which process this is, then keep the processor and Python's lock, as a decoder in a
    loop would: a search that backtracks without end."""
    path.with_suffix(".part").write_text(str(os.getpid()))
    path.with_suffix(".part").rename(path)
    re.match("(a+)+$", "a" * 60 + "b")
