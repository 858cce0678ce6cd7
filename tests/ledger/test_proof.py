"""One piece's evidence, checked without the ledger."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from pairing.errors import ProofUnusable
from pairing.ledger import Ledger, State, check_proof, heads, keys
from pairing.ledger.canonical import canonical
from pairing.ledger.entries import encode
from pairing.ledger.proof import make
from pairing.ledger.tree import leaf_hash
from tests.ledger.making import card, label, pair, returned


@pytest.fixture
def proof(ledger: Ledger) -> bytes:
    """The proof of one piece of 21 that came back."""
    for number in range(20):
        ledger.append(pair(number, number, particulars={"name": f"Addressee {number}"}))
    ledger.append(returned(7, 7))
    return ledger.proof(card(7), with_particulars=True)


def test_a_proof_holds_by_itself(ledger: Ledger, proof: bytes) -> None:
    key = ledger.verify().keys[0]
    ledger.close()
    check = check_proof(proof, trusted_key=key)
    assert check.holds, check.findings
    assert [entry.sequence for entry in check.entries] == [8, 21]
    assert check.piece is not None
    assert check.piece.state is State.RETURNED
    assert check.particulars == {8: {"name": "Addressee 7"}}
    assert check.key_id == key


def test_a_proof_gives_nothing_else_away(proof: bytes) -> None:
    text = proof.decode()
    assert label(7) in text
    assert not any(label(number) in text for number in range(20) if number != 7)
    assert "Addressee 8" not in text


def test_names_are_in_a_proof_only_if_asked(ledger: Ledger, proof: bytes) -> None:
    assert b"Addressee" in proof
    assert b"Addressee" not in ledger.proof(label(7))


CHANGES: list[tuple[str, Callable[[dict[str, Any]], object]]] = [
    ("proof-entry", lambda body: body["entries"][0]["entry"].update(written=label(8))),
    ("proof-entry", lambda body: body["entries"][0]["entry"].update(unknown="x")),
    ("proof-entry", lambda body: body["entries"][0]["entry"].update(sequence=9)),
    ("proof-entry", lambda body: body["entries"][0]["path"].pop()),
    ("proof-entry", lambda body: body["entries"][1]["path"].reverse()),
    ("proof-signature", lambda body: body["head"].update(size=22)),
    ("proof-signature", lambda body: body["head"].update(day="2026-03-03")),
    ("proof-signature", lambda body: body["head"].update(at="2026-03-03T00:00:00.000000Z")),
    ("proof-signature", lambda body: body["head"].update(root="00" * 32)),
    ("proof-signature", lambda body: body.update(public_key="11" * 32)),
    ("proof-particulars", lambda body: body["entries"][0]["particulars"].update(name="Other")),
]


@pytest.mark.parametrize(("code", "change"), CHANGES)
def test_a_changed_proof_does_not_hold(
    proof: bytes, code: str, change: Callable[[dict[str, Any]], object]
) -> None:
    body = json.loads(proof)
    change(body)
    check = check_proof(canonical(body))
    assert not check.holds
    assert code in {finding.code for finding in check.findings}


def test_a_proof_signed_by_another_key_is_told(proof: bytes) -> None:
    check = check_proof(proof, trusted_key="ab" * 32)
    assert [finding.code for finding in check.findings] == ["proof-key"]


def test_another_ledgers_head_proves_nothing(proof: bytes, tmp_path: Path) -> None:
    with Ledger.open(str(tmp_path / "other.db")) as other:
        other.append(pair(1, 1))
        body, foreign = json.loads(proof), json.loads(other.proof(label(1)))
    body["head"], body["public_key"] = foreign["head"], foreign["public_key"]
    check = check_proof(canonical(body))
    assert {finding.code for finding in check.findings} == {"proof-entry"}


@pytest.mark.parametrize("data", [b"", b"{}", b"[]", b'{"format":"x"}', b"\xff\xfe"])
def test_what_is_no_proof_is_said(data: bytes) -> None:
    with pytest.raises(ProofUnusable, match="not a proof"):
        check_proof(data, where="proof.json")


def test_a_number_without_a_piece_has_no_proof(ledger: Ledger) -> None:
    with pytest.raises(ProofUnusable, match="No sealed piece"):
        ledger.proof(label(1))


def test_a_proof_that_shows_nothing_proves_nothing(proof: bytes) -> None:
    body = json.loads(proof)
    body["entries"] = []
    assert [one.code for one in check_proof(canonical(body)).findings] == ["proof-empty"]


def test_an_entry_shown_twice_does_not_count_twice(proof: bytes) -> None:
    """A second copy of a return would pass for a second return."""
    body = json.loads(proof)
    body["entries"].append(body["entries"][1])
    check = check_proof(canonical(body))
    assert [one.code for one in check.findings] == ["proof-entry"]


VALUES: list[Any] = [None, True, -1, 0, 1e300, [], {}, "", "x", "\ud800", "9" * 70, [[]], {"a": 1}]


def _places(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Every member and item of a JSON value."""
    found = [path] if path else []
    if isinstance(value, dict):
        for name, member in value.items():
            found += _places(member, (*path, name))
    if isinstance(value, list):
        for index, item in enumerate(value):
            found += _places(item, (*path, index))
    return found


def test_whatever_is_put_into_a_proof_it_is_refused_or_does_not_hold(proof: bytes) -> None:
    """Every place, every odd value: never another error, never a proof that holds."""
    whole = json.loads(proof)
    for path in _places(whole):
        for value in VALUES:
            body = json.loads(proof)
            here = body
            for step in path[:-1]:
                here = here[step]
            if here[path[-1]] == value:
                continue
            here[path[-1]] = value
            try:
                check = check_proof(json.dumps(body).encode())
            except ProofUnusable:
                continue
            assert not check.holds, (path, value)


@given(st.binary(max_size=200))
def test_any_bytes_are_refused(data: bytes) -> None:
    with pytest.raises(ProofUnusable):
        check_proof(data)


@pytest.mark.parametrize("data", [b"[" * 100_000, b'{"format":' * 50_000, b"1e999", b"NaN"])
def test_bytes_that_are_hard_on_a_parser(data: bytes) -> None:
    with pytest.raises(ProofUnusable):
        check_proof(data)


def test_an_accepted_pair_that_does_not_agree_is_no_evidence(
    ledger: Ledger, tmp_path: Path
) -> None:
    # Whoever has a key can sign for anything; such an entry no ledger records.
    entry = ledger.append(pair(1, 1)).entry
    for written, holds in ((label(1), True), (label(2), False)):
        forged = replace(entry, written=written)
        root = leaf_hash(encode(forged))
        signer = keys.load_or_make(tmp_path / "signer.key")
        head = heads.sign(signer, size=1, root=root, day=entry.at[:10], at=entry.at)
        check = check_proof(make([forged], head, lambda _level, _index: b""))
        assert check.holds is holds
        assert {one.code for one in check.findings} == (set() if holds else {"proof-pair"})
