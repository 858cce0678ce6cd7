"""Court mail at a desk: counter, check, kiosk, lists and returned cards go by the rule that the
office chose. Numbers: `tests/numbers/test_derived.py`, with the rule's source."""

from __future__ import annotations

from pathlib import Path

import pytest
from starlette.testclient import TestClient

from pairing.kiosk import Settings, create_app
from pairing.ledger import Ledger
from pairing.pieces import office_rules
from tests.cli.calling import Done, call
from tests.kiosk.making import PAGE, PIN, SECRETS
from tests.numbers.test_derived import ARTICLE, CARD, RULE

OTHER = RULE.card_text("771234567895")


@pytest.fixture(autouse=True)
def chosen(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(office_rules.VARIABLE, RULE.name)


def lines(*words: object, given: str) -> Done:
    return call(*words, stdin=given.encode())


def test_check_seals_what_fits_and_stops_what_does_not() -> None:
    assert call("check", ARTICLE, CARD, "strip", ARTICLE).code == 0
    other = call("check", ARTICLE, OTHER, "strip", ARTICLE)
    assert (other.code, f"by the rule {RULE.name}" in other.out) == (10, True)


def test_check_without_the_rule_reads_neither(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv(office_rules.VARIABLE)
    found = call("check", ARTICLE, CARD, "strip", ARTICLE)
    assert found.code == 11
    assert office_rules.VARIABLE in found.out


def test_every_command_refuses_a_rule_that_there_is_none_of(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv(office_rules.VARIABLE, "court")
    (tmp_path / "a.jpg").write_bytes(b"no photo")
    for words in (
        ("check", ARTICLE),
        ("number", ARTICLE),
        ("counter", "--ledger", tmp_path / "l.db"),
        ("photos", tmp_path),
        ("audit", tmp_path, "--out", tmp_path.parent / "out"),
        ("kiosk", "--ledger", tmp_path / "l.db", "--secrets", tmp_path / "kiosk.json"),
    ):
        done = call(*words)
        assert (done.code, "no such pairing rule: 'court'" in done.err) == (13, True), words


def test_a_day_at_the_counter_and_its_card_that_comes_back(tmp_path: Path) -> None:
    ledger = tmp_path / "ledger.db"
    day = f"{ARTICLE}\n{CARD}\n/{ARTICLE}\n771234567895\n{CARD}\n/771234567895\nend\n"
    done = lines("counter", "--ledger", ledger, given=day)
    assert (done.code, "1 sealed" in done.out, "1 differed" in done.out) == (10, True, True)
    assert "not this label's: by the rule" in " ".join(done.out.replace("¦", " ").split())
    shown = call("ledger", "show", ARTICLE, "--ledger", ledger)
    assert (shown.code, CARD in shown.out.replace(" ", "")) == (0, True)
    back = lines("returned", "--ledger", ledger, given=f"{CARD}\n/{ARTICLE}\nsigned today\n\n")
    assert (back.code, "In order" in back.out) == (0, True), back.out
    void = lines("counter", "--ledger", ledger, given=f"void {ARTICLE} torn\nend\n")
    assert "came back, so that piece went out" in void.err


def test_a_list_of_court_mail_is_taken(tmp_path: Path) -> None:
    table = tmp_path / "pairs.csv"
    table.write_text(f"article,card,name\n{ARTICLE},{CARD},Orrick\n")
    done = call("expect", table, "--ledger", tmp_path / "ledger.db")
    assert (done.code, "1 pair added" in done.out) == (0, True), done.out


def test_the_kiosk_goes_by_the_same_rule(tmp_path: Path) -> None:
    with Ledger.open(str(tmp_path / "ledger.db")) as ledger:
        app = create_app(ledger, settings=Settings(desk="desk 1"), secrets=SECRETS)
        with TestClient(app, base_url="http://127.0.0.1") as client:
            for card, verdict in ((OTHER, "differs"), (CARD, "agrees")):
                offer = {"scans": [ARTICLE, card], "strip": ARTICLE}
                piece = client.post("/v1/pieces", json=offer).json()["piece"]
                assert piece["verdict"] == verdict
                codes = {one["code"] for one in piece["findings"]}
                assert ("card-not-derived" in codes) is (card == OTHER)
            sealed = {"scans": [ARTICLE, CARD], "strip": ARTICLE, "record": True, "key": "a" * 16}
            assert client.post("/v1/pieces", json=sealed).json()["may_seal"]
            opened = client.post("/operator/open", json={"pin": PIN}, headers=PAGE).json()["pass"]
            own = {**PAGE, "x-counterfoil-pass": opened}
            back = {"card": CARD, "box": ARTICLE, "is_signed": False}
            found = client.post("/operator/returned", json=back, headers=own).json()
            assert {one["code"] for one in found["findings"]} == {"card-unsigned", "card-keyed"}
            assert client.get(f"/v1/numbers/{CARD}").json()["is_valid"]
