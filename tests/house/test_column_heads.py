"""A column that is shown in several places is headed alike, from one table."""

from __future__ import annotations

import json
from importlib import resources
from pathlib import Path

from pairing import column_heads

ROOT = Path(__file__).resolve().parents[2]
HEADS = {name: text for name, text in vars(column_heads).items() if name.isupper()}


def test_no_two_columns_are_headed_alike() -> None:
    assert len(set(HEADS.values())) == len(HEADS) > 10


def test_no_other_file_spells_a_head() -> None:
    """Heads of several words; a page's own text for translation is held to the table below."""
    spelled = {
        (path.name, text)
        for room in ("desk", "audit", "kiosk", "pieces")
        for path in (ROOT / "pairing" / room).rglob("*")
        if path.suffix in (".py", ".html", ".js")
        for text in HEADS.values()
        if " " in text
        and any(mark.format(text) in path.read_text("utf-8") for mark in ('"{}"', "<th>{}</th>"))
    }
    assert spelled == set()


def test_the_kiosk_heads_the_same_columns_alike() -> None:
    texts = resources.files("pairing.kiosk").joinpath("texts", "en.json").read_text("utf-8")
    shown = json.loads(texts)["operator"]
    assert (shown["article"], shown["card"], shown["inquireBy"]) == (
        column_heads.ARTICLE, column_heads.CARD, column_heads.INQUIRE_BY,
    )  # fmt: skip
