"""The command line, called in this process: what it writes and how it ends."""

from __future__ import annotations

import contextlib
import io
import sys
from dataclasses import dataclass
from unittest import mock

from counterfoil.main import main


@dataclass(frozen=True, slots=True, kw_only=True)
class Done:
    """How a call ended: the exit code and both streams as bytes and as text."""

    code: int
    data: bytes
    err: str

    @property
    def out(self) -> str:
        """Standard output as text."""
        return self.data.decode()


def call(*words: object, stdin: bytes = b"") -> Done:
    """`counterfoil WORDS` as `main` runs it; anything but an exit is an error of the test."""
    out, err = io.BytesIO(), io.BytesIO()
    streams = {
        "stdin": io.TextIOWrapper(io.BytesIO(stdin), encoding="utf-8"),
        "stdout": io.TextIOWrapper(out, encoding="utf-8", write_through=True),
        "stderr": io.TextIOWrapper(err, encoding="utf-8", write_through=True),
    }
    code: object = None
    with contextlib.ExitStack() as stack:
        stack.enter_context(mock.patch.object(sys, "argv", ["counterfoil", *map(str, words)]))
        for name, stream in streams.items():
            stack.enter_context(mock.patch.object(sys, name, stream))
        try:
            main()
        except SystemExit as end:
            code = end.code
    assert isinstance(code, int), code
    return Done(code=code, data=out.getvalue(), err=err.getvalue().decode())
