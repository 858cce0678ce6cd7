"""No control character reaches a terminal, whatever a field holds (ECMA-48; Unicode's Cc, Cf).

Each command runs on a pseudo terminal, over data with controls planted in every field that
takes text.
"""

from __future__ import annotations

import os
import pty
import re
import shutil
import sys
import threading
import unicodedata
from dataclasses import fields, replace
from pathlib import Path
from unittest import mock

import pytest

from counterfoil.main import main
from counterfoil.terminal import safe
from pairing.errors import CounterfoilError
from pairing.ledger import Draft, Kind, Ledger
from tests.ledger.making import label, pair

PLANTED = "a\x1b]0;t\x07\x1b[2J\x1b[8m\x9b31m\x85\u202e\u2028\rb\x00\x7f"
"""A title set, a screen erased, text hidden, C1 in one character, order turned round, a line
begun again."""
_OWN = re.compile(r"\x1b\[(?:[0147];?)+m|\r?\n|\r(?!b)")
"""Styles, ends of lines, and the progress bar's own way back; `\\rb` is what was planted."""
_END = b"(all that was shown)"
_ACTS = ("Cc", "Cf", "Zl", "Zp", "Cs")


def acting(shown: str) -> set[str]:
    """The characters of what was shown that act and are not the program's own."""
    return {char for char in _OWN.sub("", shown) if unicodedata.category(char) in _ACTS}


def on_a_terminal(*words: object) -> str:
    """What a command shows on a terminal of its own; it runs in this process."""
    try:
        master, slave = pty.openpty()
    except OSError:
        pytest.skip("this root has no pseudo terminals (/dev/pts)")
    data: list[bytes] = []
    reader = threading.Thread(target=_drain, args=(master, data))
    reader.start()
    with (
        os.fdopen(os.dup(slave), "w", encoding="utf-8", buffering=1) as stream,
        Path(os.devnull).open(encoding="utf-8") as nothing,
        mock.patch.dict(os.environ, TERM="xterm"),
        mock.patch.multiple(sys, stdin=nothing, stdout=stream, stderr=stream),
        mock.patch.object(sys, "argv", ["counterfoil", *map(str, words)]),
        pytest.raises(SystemExit) as end,
    ):
        main()
    os.write(slave, _END)
    reader.join()
    os.close(slave)
    os.close(master)
    assert end.value.code in (0, 2, 10, 11, 12, 13)
    return b"".join(data).removesuffix(_END).decode()


def _drain(master: int, data: list[bytes]) -> None:
    """Read up to `_END`; processes that were started may hold the other side open."""
    while not b"".join(data[-2:]).endswith(_END):
        data.append(os.read(master, 65536))


@pytest.fixture
def ledger(tmp_path: Path) -> Path:
    """A ledger with an entry for every text field of a draft that takes what was planted."""
    path = tmp_path / "ledger.db"
    planted = []
    with Ledger.open(str(path)) as opened:
        for number, field in enumerate(fields(Draft)):
            draft = replace(pair(number, number), key=str(number))
            for kind in (draft.kind, Kind.NOTE):
                value: object = PLANTED
                if field.name == "particulars":
                    value = {"name": PLANTED, PLANTED: "x"}
                try:
                    odd = replace(draft, kind=kind, **{field.name: value})  # type: ignore[arg-type]
                    opened.append(odd)
                except (CounterfoilError, TypeError, ValueError, AttributeError):
                    continue
                planted.append(field.name)
    assert {"desk", "operator", "remark", "particulars"} <= set(planted)
    return path


@pytest.mark.parametrize(
    "words",
    [
        ("ledger", "list"),
        ("ledger", "list", "--entries"),
        ("ledger", "list", "--json"),
        ("ledger", "list", "--entries", "--json"),
        *(("ledger", "show", label(number)) for number in range(12)),
        ("ledger", "verify"),
        ("outstanding", "--days", "0"),
    ],
    ids=" ".join,
)
def test_of_the_ledger(ledger: Path, words: tuple[str, ...]) -> None:
    shown = on_a_terminal(*words, "--ledger", ledger)
    assert acting(shown) == set()
    assert shown.strip()


def test_of_photos_names(samples: Path, tmp_path: Path) -> None:
    folder = tmp_path / "lot"
    folder.mkdir()
    odd = PLANTED.replace("\x00", "")
    for side in ("label", "card"):
        shutil.copy(samples / f"0016-{side}.jpg", folder / f"{odd}16-{side}.jpg")
    (folder / f"{odd}17-card.jpg").write_bytes(b"no photo")
    for more in ((), ("--csv", "-"), ("--json", "-")):
        shown = on_a_terminal("photos", folder, *more)
        assert acting(shown) == set(), more
        assert "16" in shown


@pytest.mark.parametrize("words", [("number",), ("compare", "1"), ("blindspots",), ("nothing",)])
def test_of_arguments(words: tuple[str, ...]) -> None:
    process_takes = PLANTED.replace("\x00", "")
    assert acting(on_a_terminal(*words, process_takes)) == set()


def test_what_is_kept_and_what_is_spelled_out() -> None:
    assert safe("\x1b[1mSeal\x1b[0m\n") == "\x1b[1mSeal\x1b[0m\n"
    assert safe("\x1b[8m\x1b[31m\x9b1m") == "\\x1b[8m\\x1b[31m\\x9b1m"
    assert safe("Do not seal\rSeal") == "Do not seal\\rSeal"
    assert safe("a\r\nb") == "a\r\nb"
    for first in range(0, 0x110000, 0x1000):
        every = " ".join(map(chr, range(first, first + 0x1000)))
        assert not acting(safe(every).replace("\n", "")), first
