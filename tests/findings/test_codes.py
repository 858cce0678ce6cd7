"""The codes, what travels with them, and what is said of them."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from pairing.audit.reports import code_words
from pairing.audit.run import reading_tally
from pairing.compare import CopyError
from pairing.findings import COPYING, PARAMETERS, Code, Finding, Weight
from pairing.findings.parameters import FLAG, OPTIONAL
from pairing.ledger.entries import recorded

LIBRARY = Path(__file__).resolve().parents[2] / "pairing"
WRITTEN = Path(__file__).with_name("codes_written.txt").read_text("utf-8").split()
"""Every code that a ledger, an export or `photos --json` of before may have."""

SAMPLES: dict[str, Any] = {
    "text": "9374 8901",
    "texts": ("9374 8901", "9400 1112"),
    "count": 3,
    "counts": (3, 22),
    "flag": True,
    "finding": Finding.of(Code.FIELDS),
    "findings": (Finding.of(Code.FIELDS),),
}
OF_COPYING = {
    "label": "9374890100000003985039",
    "box": "9374890100000003985093",
    "group_sizes": (4, 4, 4, 4, 4, 2),
    "also": (Code.BOX_TWIN,),
    "lost": 2,
    "put_in": 4,
}


def samples(code: Code) -> Iterator[Finding]:
    """Findings of this code: with all its parameters, with those that it must have, and with
    its flags off."""
    kinds = PARAMETERS.get(code, {})
    positions = (21, 22)
    full = {name: SAMPLES[kind.removesuffix(OPTIONAL)] for name, kind in kinds.items()}
    if code in COPYING:
        full |= OF_COPYING
    if code is Code.PHOTO_SKIPPED:
        full["reason"] = "It is locked."
    for text in ("letters", "digits", "characters"):
        if isinstance(full.get(text), str):
            full[text] = "70"
    least = {
        name: value for name, value in full.items()
        if not kinds[name].endswith(OPTIONAL) or (code is Code.BOX_CARD_OWN and name != "number")
    }  # fmt: skip
    off = {name: False for name, kind in kinds.items() if kind == FLAG}
    for weight in code.weights:
        for parameters in (full, least, {**full, **off}):
            yield Finding.from_parameters(code, parameters, weight=weight, positions=positions)


@pytest.mark.parametrize("code", Code)
def test_each_code_is_worded(code: Code) -> None:
    for one in samples(code):
        assert re.match(r"[A-Z0-9'\"].*[.?]$", one.message), one.message
        assert one.action == "" or re.match(r"[A-Z].*\.$", one.action), one.action
        assert "{" not in one.message + one.action
        assert one.action or one.weight is not Weight.CLASH or code in COPYING
        assert not re.search(r"\b1 (cards|digits|characters|scans|entries)\b", one.message)


@pytest.mark.parametrize("code", Code)
def test_each_code_says_what_it_means_and_how_much_it_weighs(code: Code) -> None:
    assert code.meaning
    assert code.weights
    assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", code)


def test_the_codes_of_before_are_all_there() -> None:
    assert len(WRITTEN) == len(set(WRITTEN)) > 130
    assert set(WRITTEN) <= set(Code)


def test_a_code_of_a_later_version_keeps_its_sentences() -> None:
    found = Finding.read_back("of-later", message="Said later.", action="Do it.", positions=(2,))
    assert (found.code, found.message, found.action) == ("of-later", "Said later.", "Do it.")
    assert Code.known("of-later") is None


def test_a_finding_that_was_stored_keeps_its_sentences_to_the_letter() -> None:
    found = Finding.read_back("label-unread", message="As it was said then", weight=Weight.DOUBT)
    assert found.code is Code.LABEL_UNREAD
    assert found.message == "As it was said then"
    assert found.action == ""


def test_what_is_recorded_is_what_was_said() -> None:
    found = Finding.of(Code.LABEL_TAKEN, piece="entry 7", partner=None)
    stored = recorded(found)
    assert (stored.message, stored.action) == (found.message, found.action)
    assert (stored.code, stored.weight) == ("label-taken", Weight.CLASH)
    assert found.parameters == (("piece", "entry 7"), ("partner", None))


def test_texts_are_changed_in_all_that_is_said() -> None:
    reason = Finding.of(Code.OTHER_KIND, what="7019 of trade")
    found = Finding.of(
        Code.LABEL_OTHER_KIND, weight=Weight.NOTE, source="scan", number="7019", reason=reason
    )
    masked = found.with_texts(lambda text: text.replace("7019", "it"))
    assert masked.message == "scan: it: This is it of trade, no article or card number."
    stored = Finding.read_back(found.code, message=found.message)
    assert stored.with_texts(lambda text: text.replace("7019", "it")).message == masked.message


@pytest.mark.parametrize(
    "parameters",
    [{}, {"piece": 7, "partner": None}, {"piece": "entry 7", "partners": "x"}, {"piece": None}],
)
def test_parameters_are_those_of_the_code(parameters: dict[str, Any]) -> None:
    with pytest.raises(TypeError):
        Finding.of(Code.LABEL_TAKEN, **parameters)


def test_weights_are_those_of_the_code() -> None:
    with pytest.raises(TypeError):
        Finding.of(Code.LABEL_UNREAD, weight=Weight.NOTE)
    with pytest.raises(TypeError):
        Finding.of(Code.CLOCK_SET_BACK, before="2026-03-02")


def calls() -> Iterator[tuple[str, Code, set[str]]]:
    """Every `Finding.of(Code.X, ...)` of the library: where, the code, its parameters."""
    for path in sorted(LIBRARY.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if not isinstance(node, ast.Call) or ast.unparse(node.func) != "Finding.of":
                continue
            given = node.args[0]
            for code in (given.body, given.orelse) if isinstance(given, ast.IfExp) else (given,):
                if isinstance(code, ast.Attribute) and ast.unparse(code.value) == "Code":
                    names = {one.arg or "**" for one in node.keywords} - {"weight", "positions"}
                    yield f"{path.name}:{node.lineno}", Code[code.attr], names


def test_every_place_that_makes_a_finding_gives_its_parameters() -> None:
    found = list(calls())
    assert len(found) > 70
    for where, code, names in found:
        kinds = PARAMETERS.get(code, {})
        wanted = {name for name, kind in kinds.items() if not kind.endswith(OPTIONAL)}
        assert wanted <= names <= kinds.keys(), where


def test_every_code_is_made_somewhere() -> None:
    text = "\n".join(
        path.read_text("utf-8")
        for path in LIBRARY.rglob("*.py")
        if "findings" not in path.parts[-3:]
    )
    named = set(re.findall(r"\bCode\.([A-Z0-9_]+)", text))
    put_together = {code for code in Code if re.match("(label|card|box)-", code)}
    put_together -= {code for code in Code if code.name in named}
    rest = {code for code in Code if code.name not in named} - put_together
    assert rest <= set(COPYING)
    assert Code.BOX_KEYED in put_together  # of older entries only


def test_copying_errors_have_their_codes() -> None:
    assert {error.code for error in CopyError} == COPYING


def test_reports_name_codes_that_exist() -> None:
    own = {"misread", reading_tally.NOTHING}  # causes of the report, no findings
    assert set(code_words._CAUSES) - own <= set(Code)
