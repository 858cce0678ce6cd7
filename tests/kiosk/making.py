"""Pieces for the kiosk's tests: those of the sample set, whose answers its manifest gives."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from pathlib import Path

from argon2 import PasswordHasher

from pairing.kiosk.secret import Secrets
from tests.ledger.making import card, label

SAMPLES = Path(__file__).resolve().parents[2] / "sample_scans"

LABEL, CARD = "9589073361400182453019", "9590948231076148727349"
"""Piece 0008 of the sample set: right by hand."""

PIN = "40718263"
TOKEN = "a token that only this test knows of"
_CHEAP = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
"""What a real hash costs, `test_command.py` looks at; here guessing would take longer than all
else together."""
SECRETS = Secrets(pin=_CHEAP.hash(PIN), token=_CHEAP.hash(TOKEN))

PAGE = {"x-counterfoil": "page", "origin": "http://127.0.0.1"}
"""What the kiosk's own pages send with every post."""

ANSWERS = {"agrees": "seal", "differs": "stop", "unread": "look"}


@dataclass(frozen=True)
class Line:
    """One line of `wedge.txt`: word ("scan", "box", "strip", "next") and what follows it."""

    word: str
    text: str


@dataclass(frozen=True)
class WedgePiece:
    """A piece of the wedge sample."""

    purpose: str
    verdict: str
    lines: tuple[Line, ...]


def wedge_pieces() -> list[WedgePiece]:
    """The pieces of `sample_scans/wedge.txt`, a blank line or a whole piece apart, with the
    verdicts of `wedge.csv`."""
    with (SAMPLES / "wedge.csv").open(newline="", encoding="utf-8") as table:
        rows = list(csv.DictReader(table))
    groups: list[list[Line]] = [[]]
    for raw in (SAMPLES / "wedge.txt").read_text("utf-8").split("\n"):
        if raw.strip():
            groups[-1].append(_line(raw))
        elif groups[-1]:
            groups.append([])
    groups = [group for group in groups if group]
    return [
        WedgePiece(purpose=row["purpose"], verdict=row["verdict"], lines=tuple(group))
        for row, group in zip(rows, groups, strict=False)
    ]


def copied_pieces() -> list[dict[str, str]]:
    """The rows of the sample manifest whose box a person can read."""
    with (SAMPLES / "manifest.csv").open(newline="", encoding="utf-8") as table:
        return [
            row
            for row in csv.DictReader(table)
            if row["box"] and row["card"] and not row["second_article"]
        ]


def pair(number: int) -> tuple[str, str]:
    """A valid label and a valid card."""
    return label(number), card(number)


def _line(raw: str) -> Line:
    word, _, rest = raw.partition(" ")
    if word in ("box", "strip", "next"):
        return Line(word, rest.strip())
    return Line("scan", raw)
