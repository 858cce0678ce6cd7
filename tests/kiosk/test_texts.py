"""The texts: one file a language, all with the same keys, and none left in the code."""

from __future__ import annotations

import csv
import json
import re
from importlib import resources
from pathlib import Path
from typing import Any

import pytest

from pairing.compare import CopyError
from pairing.desk.remarks import Say
from pairing.findings import Code
from pairing.kiosk.settings import LANGUAGES

FOLDER = resources.files("pairing.kiosk")


def flat(tree: dict[str, Any], start: str = "") -> dict[str, str]:
    """Dotted paths to texts."""
    found: dict[str, str] = {}
    for name, value in tree.items():
        path = f"{start}{name}"
        found |= flat(value, f"{path}.") if isinstance(value, dict) else {path: value}
    return found


TEXTS = {
    language: flat(json.loads(FOLDER.joinpath("texts", f"{language}.json").read_text("utf-8")))
    for language in LANGUAGES
}


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_text_is_in_every_language(language: str) -> None:
    assert TEXTS[language].keys() == TEXTS["en"].keys()
    assert all(text.strip() for text in TEXTS[language].values())


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_text_has_the_same_gaps_to_fill(language: str) -> None:
    gaps = re.compile(r"\{\w+\}")
    for path, text in TEXTS["en"].items():
        assert sorted(gaps.findall(text)) == sorted(gaps.findall(TEXTS[language][path])), path


def test_translations_are_no_copies() -> None:
    alike = {"operator.place"}  # the same word in French
    for path, text in TEXTS["en"].items():
        for language in ("es", "fr"):
            if len(text) > 4 and path not in alike:
                assert TEXTS[language][path] != text, (language, path)


def test_every_copying_error_has_a_sentence() -> None:
    for error in CopyError:
        assert f"findings.{error.code}" in TEXTS["en"]


def test_what_stops_a_piece_has_a_sentence_in_each_language() -> None:
    """Codes that rooms give to doubts and clashes, as they are in their source; `side-code`
    is put together from both by the page."""
    rooms = ("judge", "wedge", "desk", "numbers")
    known = {path.removeprefix("findings.") for path in TEXTS["en"]}
    # Notes, and what other commands say.
    not_shown = {Code.READ_ANEW, Code.SIGNED_IN_FUTURE, Code.SIGNED_BEFORE_MAILING}
    not_shown |= {Code.SIGNATURE_UNSAID, Code.CARD_UNSIGNED, Code.CARD_UNDATED}
    not_shown |= {Code.RETURN_CORRECTED}
    not_shown |= {Code.MAILER_RANGE, Code.BOX_BY_SHAPE, Code.BOX_DIGITS_UNSURE}
    not_shown |= {Code.STRIP_PRINT_UNREAD, Code.BOX_OTHER_NUMBER}
    # A kiosk corrects nothing.
    not_shown |= {code for code in Code if code.startswith("correction-of-")}
    # "label-length" is put together by the page: the side, and what "length" says.
    not_shown |= {code for code in Code if code.partition("-")[2] in known}
    found: set[Code] = set()
    for room in rooms:
        for file in Path(str(resources.files("pairing").joinpath(room))).rglob("*.py"):
            names = re.findall(r"\bCode\.([A-Z0-9_]+)\b", file.read_text("utf-8"))
            found |= {Code[name] for name in names}
    assert len(found) > 50
    assert found - not_shown <= known


OF_THE_KIOSK = {
    "box-too-early", "busy", "card-too-late", "double-read-asked", "double-read-or-strip",
    "known-sealed", "not-listed", "strip-or-next",
    "known-stopped", "malformed", "recorded", "refused", "scanned-on",
    "starts-over", "strip-is-card", "strip-next", "strip-or-label", "strip-too-early",
    "strip-too-soon", "too-long", "voided",
    "for-whom", "for-whom-entry", "for-whom-taken", "for-whom-next", "for-whom-added",
    "reference-is-number", "piece-kind", "piece-kind-how",
}  # fmt: skip
"""Texts under "findings" that are no finding's: refusals and remarks of the page."""

OF_THE_TERMINAL = set(Say) - {
    Say.BOX_TOO_EARLY, Say.CARD_TOO_LATE, Say.DOUBLE_READ, Say.DOUBLE_READ_ASKED, Say.RECORDED,
    Say.DOUBLE_READ_OR_STRIP, Say.STRIP_OR_NEXT, Say.NOT_LISTED,
    Say.SEALED_BEFORE, Say.STARTED_OVER, Say.STOPPED_BEFORE, Say.STRIP_NEXT, Say.STRIP_IS_CARD,
    Say.STRIP_OR_LABEL,
    Say.STRIP_TOO_EARLY, Say.STRIP_TOO_SOON, Say.STRIP_UNCLEAR, Say.LABEL_UNCONFIRMED,
    Say.FOR_WHOM, Say.FOR_WHOM_ENTRY, Say.FOR_WHOM_TAKEN, Say.FOR_WHOM_NEXT, Say.FOR_WHOM_ADDED,
    Say.REFERENCE_IS_NUMBER,
}  # fmt: skip
"""Remarks that come of typed words, or of holding a stopped piece, which the page does itself."""


def test_every_sentence_of_a_finding_has_a_code_of_the_library() -> None:
    named = {path.removeprefix("findings.") for path in TEXTS["en"] if path.startswith("findings.")}
    unknown = {name for name in named if Code.known(name) is None}
    # "unclear" is said of a side: the page puts both together.
    assert unknown - {"unclear"} == OF_THE_KIOSK
    assert Code.known("box-unclear")


def test_every_text_that_the_pages_name_is_there() -> None:
    paths = set()
    for file in FOLDER.joinpath("page").iterdir():
        content = file.read_text("utf-8")
        paths |= set(re.findall(r"\bsay\(\"([\w.]+)\"", content))
        paths |= set(re.findall(r"data-(?:text|name)=\"([\w.]+)\"", content))
    assert len(paths) > 60
    counted = {path.removesuffix(".other") for path in TEXTS["en"]}
    assert paths <= TEXTS["en"].keys() | counted


@pytest.mark.parametrize("language", LANGUAGES)
def test_a_text_that_counts_has_each_plural_of_its_language(language: str) -> None:
    """One and other (Unicode CLDR, plural rules of English, Spanish and French; their "many"
    begins at a million and falls back to "other")."""
    counting = {path.rpartition(".")[0] for path in TEXTS["en"] if path.endswith(".other")}
    assert {"idle.soon", "operator.outstandingSays"} <= counting
    for path in counting:
        assert {f"{path}.one", f"{path}.other"} <= TEXTS[language].keys()


def test_nothing_comes_from_elsewhere() -> None:
    """No address of another machine is in what the pages are made of (SVG's name aside)."""
    for file in FOLDER.joinpath("page").iterdir():
        content = file.read_text("utf-8").replace("http://www.w3.org/2000/svg", "")
        assert not re.search(r"(https?:)?//[a-z0-9-]+\.[a-z]", content), file.name
        assert "innerHTML" not in content


def test_every_remark_of_the_desk_has_a_text() -> None:
    """What the desk says to a page, by its code; words about the record are no page's."""
    for language in LANGUAGES:
        for code in set(Say) - OF_THE_TERMINAL:
            assert f"findings.{code}" in TEXTS[language]


GLOSSARY = list(csv.DictReader((Path(__file__).parent / "glossary.csv").open(encoding="utf-8")))
"""A term, and what it is called in each language, as stems with a bar between two that will do.
Terms of the trade as post offices of these countries print them, from memory."""


@pytest.mark.parametrize("row", GLOSSARY, ids=[row["english"] for row in GLOSSARY])
def test_a_term_is_called_the_same_everywhere(row: dict[str, str]) -> None:
    """Wherever the English text has the term, so have the others, in their own words."""
    term = re.compile(rf"\b{row['english']}\b", re.IGNORECASE)
    having = [path for path, text in TEXTS["en"].items() if term.search(text)]
    assert having
    for language, name in (("es", "spanish"), ("fr", "french")):
        stem = re.compile(row[name], re.IGNORECASE)
        assert [path for path in having if not stem.search(TEXTS[language][path])] == []


def test_there_are_forty_terms() -> None:
    assert len(GLOSSARY) >= 40
