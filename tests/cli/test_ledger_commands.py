"""`counterfoil ledger`: what each command says, writes and ends with."""

from __future__ import annotations

import json
import os
import sqlite3
import stat
from collections.abc import Iterator
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from pairing.ledger import Ledger, heads, keys, proof
from pairing.ledger.canonical import canonical
from pairing.ledger.tree import leaf_hash
from tests.cli.calling import Done, call
from tests.ledger.making import Clock, card, label, pair, returned, void


@pytest.fixture(autouse=True)
def surroundings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A ledger of this test alone, whatever the environment says; UTC."""
    monkeypatch.setenv("COUNTERFOIL_LEDGER", str(tmp_path / "ledger.db"))
    monkeypatch.setenv("COUNTERFOIL_DESK", "desk 5")
    monkeypatch.setenv("COUNTERFOIL_OPERATOR", "clerk 5")
    monkeypatch.setenv("TZ", "UTC")
    monkeypatch.chdir(tmp_path)


@pytest.fixture
def filled(tmp_path: Path) -> Path:
    """Five pieces and what became of them, and a second day."""
    clock = Clock(now=datetime(2026, 3, 2, 12, tzinfo=UTC))
    path = tmp_path / "ledger.db"
    with Ledger.open(str(path), clock=clock) as ledger:
        for number in (1, 2, 3, 4):
            names = {"name": "Isaura Penbrook"} if number == 2 else {}
            ledger.append(pair(number, number, particulars=names))
        ledger.append(pair(2, 9))  # 5: stopped
        ledger.append(void(3))  # 6
        ledger.append(returned(2, 2, remark="2026-03-01"))  # 7
        clock.now += timedelta(days=1)
        ledger.append(pair(8, 8, desk="south"))  # 8, and 9: the key that signed the day before
    return path


def numbers(done: Done) -> list[str]:
    return [line.split()[0] for line in done.out.splitlines()]


def test_list_by_day_state_and_desk(filled: Path) -> None:
    assert numbers(call("ledger", "list")) == ["1", "2", "3", "4", "8"]
    assert numbers(call("ledger", "list", "--day", "2026-03-02")) == ["1", "2", "3", "4"]
    assert numbers(call("ledger", "list", "--since", "2026-03-03")) == ["8"]
    assert numbers(call("ledger", "list", "--until", "2026-03-02")) == ["1", "2", "3", "4"]
    assert numbers(call("ledger", "list", "--desk", "south")) == ["8"]
    assert numbers(call("ledger", "list", "--state", "void")) == ["3"]
    both = call("ledger", "list", "--state", "void", "--state", "returned")
    assert numbers(both) == ["2", "3"]
    stopped = call("ledger", "list", "--kind", "stopped")
    assert numbers(stopped) == ["5"]
    assert "stopped: differs" in stopped.out
    # What is stored says `paired`; what is shown, and asked for, is `sealed`.
    sealed = call("ledger", "list", "--kind", "sealed")
    assert numbers(sealed) == numbers(call("ledger", "list", "--kind", "paired")) != []
    assert "accepted" not in call("ledger", "--help").out.lower()
    assert len(numbers(call("ledger", "list", "--entries"))) == 9
    assert call("ledger", "list").err.strip() == "5 pieces"
    assert call("ledger", "list", "--entries", "--kind", "stopped").err.strip() == "1 entry"
    assert call("ledger", "list", "--ledger", filled).code == 0


def test_list_as_json_lines(filled: Path) -> None:
    lines = call("ledger", "list", "--json").out.splitlines()
    second = json.loads(lines[1])
    assert (second["article"], second["card"], second["state"]) == (label(2), card(2), "returned")
    assert second["history"] == [2, 7]
    entries = call("ledger", "list", "--entries", "--json").out.splitlines()
    assert [json.loads(line)["kind"] for line in entries][4:7] == ["stopped", "voided", "returned"]


@pytest.mark.parametrize("number", [label(2), card(2), f"420{28212}{label(2)}"])
def test_show_tells_the_whole_story(filled: Path, number: str) -> None:
    done = call("ledger", "show", number)
    assert done.code == 0
    order = ["returned: its card came back", "sealed", "card came back: agrees", "2026-03-01"]
    places = [done.out.index(text) for text in order]
    assert places == sorted(places)
    assert "clerk 7 at desk 1" in done.out
    assert "Penbrook" not in done.out
    assert "Names or addresses belong to this entry" in done.out
    assert "Penbrook" in call("ledger", "show", "--names", number).out


def test_show_takes_a_number_in_its_groups(filled: Path) -> None:
    groups = [label(3)[place : place + 4] for place in range(0, 22, 4)]
    done = call("ledger", "show", *groups)
    assert done.code == 0
    assert "void" in done.out
    assert "wrong piece" in done.out


def test_show_of_what_stood_in_a_box_and_is_no_number(filled: Path) -> None:
    with Ledger.open(str(filled)) as ledger:
        short = label(4)[:-1]
        ledger.append(returned(4, None, written=short))
    done = call("ledger", "show", short)
    assert done.code == 0
    assert "not a valid number" in done.out
    assert "No sealed piece has it." in done.out
    assert "card came back" in done.out


def test_show_of_an_unknown_number(filled: Path) -> None:
    done = call("ledger", "show", label(99))
    assert (done.code, done.out) == (11, "")
    assert "knows nothing" in done.err
    assert call("ledger", "show", " ").code == 2


def test_show_as_json(filled: Path) -> None:
    found = json.loads(call("ledger", "show", "--json", "--names", label(2)).out)
    assert found["pieces"][0]["state"] == "returned"
    assert [entry["kind"] for entry in found["entries"]] == ["paired", "stopped", "returned"]
    assert found["beside"] == {"2": {"name": "Isaura Penbrook"}}


def test_show_names_the_lists_that_a_piece_is_on(filled: Path, tmp_path: Path) -> None:
    call("daylist", "--day", "2026-03-02", "--csv", tmp_path / "l.csv")
    assert "sealed on list 1 of 2026-03-02" in call("ledger", "show", label(1)).out


def test_verify_of_a_sound_ledger(filled: Path) -> None:
    done = call("ledger", "verify")
    assert done.code == 0
    assert "Everything matches" in done.out
    assert "9 entries, 1 signed head" in done.out
    found = json.loads(call("ledger", "verify", "--json").out)
    assert found["fits"] is True
    (key,) = found["keys"]
    assert call("ledger", "verify", "--key", key.upper()).code == 0
    strange = call("ledger", "verify", "--key", "ab" * 32)
    assert strange.code == 10
    assert "did not name" in strange.out
    assert call("ledger", "verify", "--key", "short").code == 2


def test_verify_takes_size_root_and_key_from_a_saved_day_list(filled: Path, tmp_path: Path) -> None:
    """Somebody had to type 64 digits from the list's foot before."""
    sheet, typed = tmp_path / "list.pdf", tmp_path / "typed.txt"
    assert call("daylist", "--day", "2026-03-02", "--pdf", sheet).code == 0
    assert call("ledger", "verify", "--list", sheet).code == 0
    root = json.loads(call("ledger", "verify", "--json").out)["root"]
    size = json.loads(call("ledger", "verify", "--json").out)["entries"]
    typed.write_text(f"{size}:{root[:30]}\n  {root[30:]}\n")
    assert call("ledger", "verify", "--list", typed, "--list", sheet).code == 0
    typed.write_text(f"{size}:{root[:63]}{'0' if root[63] != '0' else '1'}")
    found = call("ledger", "verify", "--json", "--list", typed)
    assert (found.code, json.loads(found.out)["roots_not_met"]) == (10, [size])
    typed.write_text(f"ledger {size}:{root}\nsigned by {'ab' * 32}, recorded today")
    assert json.loads(call("ledger", "verify", "--json", "--list", typed).out)["keys_not_met"]
    typed.write_text("nothing")
    done = call("ledger", "verify", "--list", typed)
    assert done.code == 13
    assert "SIZE:ROOT" in done.err


def test_going_on_after_a_lost_end_is_recorded(filled: Path) -> None:
    assert call("ledger", "go-on", "--reason", "none", "--yes").code == 11
    with closing(sqlite3.connect(filled)) as tool:
        tool.execute("DROP TRIGGER entries_no_delete")
        tool.execute("DELETE FROM entries WHERE sequence = (SELECT max(sequence) FROM entries)")
        tool.commit()
    assert call("ledger", "go-on", "--yes").code == 2
    done = call("ledger", "go-on", "--reason", "copy of Monday put back", "--yes")
    assert done.code == 0, done.err
    assert "copy of Monday put back" in call("ledger", "list", "--entries").out
    assert "went on after tampering" in " ".join(call("ledger", "verify").out.split())


def test_verify_names_the_first_entry_that_does_not_match(filled: Path) -> None:
    with closing(sqlite3.connect(filled, isolation_level=None)) as tool:
        tool.execute("DROP TRIGGER entries_no_update")
        tool.execute(
            "UPDATE entries SET canonical = CAST(replace(CAST(canonical AS TEXT), 'clerk 7', "
            "'clerk 8') AS BLOB) WHERE sequence IN (3, 5)"
        )
    done = call("ledger", "verify")
    assert done.code == 10
    assert "Does not match  entry 3" in done.out
    assert "2 entries before that match" in done.out
    found = json.loads(call("ledger", "verify", "--json").out)
    assert (found["fits"], found["problem"]["entry"]) == (False, 3)


def test_a_proof_is_checked_without_the_ledger(filled: Path, tmp_path: Path) -> None:
    done = call("ledger", "proof", label(2), "--names")
    assert done.code == 0
    path = tmp_path / f"{label(2)}.proof.json"
    key = done.out.replace("\n", "").split("key ")[2].split(".")[0].replace(" ", "")
    for beside in tmp_path.glob("ledger.db*"):
        beside.unlink()
    check = call("ledger", "verify-proof", path)
    assert check.code == 0
    for said in ("Holds", "returned: its card came back", "Anybody can sign", "Penbrook"):
        assert said in check.out
    assert "only the ledger itself can tell" in " ".join(check.out.split())
    known = call("ledger", "verify-proof", path, "--key", key)
    assert known.code == 0
    assert "Anybody can sign" not in known.out
    assert call("ledger", "verify-proof", path, "--key", "cd" * 32).code == 10
    assert not list(tmp_path.glob("ledger.db*"))  # no ledger was made by looking
    found = json.loads(call("ledger", "verify-proof", path, "--json").out)
    assert found["holds"] is True
    assert found["piece"]["article"] == label(2)
    assert call("ledger", "verify-proof", "-", stdin=path.read_bytes()).code == 0


def test_a_changed_proof_does_not_hold_and_says_nothing_else(filled: Path, tmp_path: Path) -> None:
    path = tmp_path / "p.json"
    assert call("ledger", "proof", card(2), "--out", path).code == 0
    path.write_bytes(path.read_bytes().replace(b"clerk 7", b"clerk 6"))
    done = call("ledger", "verify-proof", path)
    assert done.code == 10
    assert "Does not hold" in done.out
    assert "clerk 6" not in done.out
    found = json.loads(call("ledger", "verify-proof", path, "--json").out)
    assert (found["holds"], found["entries"], found["piece"]) == (False, [], None)


def test_a_proof_goes_nowhere_it_should_not(filled: Path, tmp_path: Path) -> None:
    path = tmp_path / "p.json"
    path.write_text("mine")
    assert call("ledger", "proof", label(2), "--out", path).code == 13
    assert path.read_text() == "mine"
    done = call("ledger", "proof", label(2), "--out", "-")
    assert json.loads(done.data)["format"] == "counterfoil proof 1"
    assert "Signed by key" in done.err
    assert call("ledger", "proof", label(77)).code == 13
    assert call("ledger", "proof", label(2), "--out", tmp_path / "no" / "p").code == 13


@pytest.mark.parametrize("form", ["jsonl", "csv"])
def test_export_and_import_round_trip(filled: Path, tmp_path: Path, form: str) -> None:
    path, copy = tmp_path / f"all.{form}", tmp_path / "copy.db"
    assert call("ledger", "export", path).code == 0
    done = call("ledger", "import", path, "--ledger", copy)
    assert done.code == 0
    assert done.out == "9 new entries; the ledger has 9 now.\n"
    assert call("ledger", "import", path, "--ledger", copy).out.startswith("0 new")
    first = call("ledger", "export", "--form", form)
    second = call("ledger", "export", "--form", form, "--ledger", copy)
    assert first.data == second.data == path.read_bytes()
    assert call("ledger", "verify", "--ledger", copy).code == 0
    piped = call("ledger", "import", "-", "--form", form, "--ledger", "p.db", stdin=first.data)
    assert piped.code == 0


def test_names_leave_the_house_only_if_asked(filled: Path) -> None:
    assert "Penbrook" not in call("ledger", "export").out
    assert "Penbrook" in call("ledger", "export", "--names").out
    for words in (("export", "all.jsonl"), ("proof", label(2), "--out", "p.json")):
        assert call("ledger", *words, "--names").code == 0
        path = Path(words[-1])
        assert stat.S_IMODE(path.stat().st_mode) == 0o600  # nobody else's to read
        path.unlink()
        call("ledger", *words)
        assert stat.S_IMODE(path.stat().st_mode) & 0o400
    assert call("ledger", "export", "--names", "--form", "csv").code == 2


def test_an_export_overwrites_nothing(filled: Path, tmp_path: Path) -> None:
    assert call("ledger", "export", filled).code == 13
    assert call("ledger", "verify").code == 0
    assert sorted(path.name for path in tmp_path.iterdir() if path.name.startswith(".")) == []


def test_another_ledgers_file_is_refused(filled: Path, tmp_path: Path) -> None:
    path = tmp_path / "all.jsonl"
    call("ledger", "export", path)
    with Ledger.open(str(tmp_path / "other.db")) as other:
        other.append(pair(5, 5))
    done = call("ledger", "import", path, "--ledger", tmp_path / "other.db")
    assert done.code == 13
    assert "not of the ledger" in done.err


def test_backup(filled: Path, tmp_path: Path) -> None:
    target = tmp_path / "backup.db"
    assert call("ledger", "backup", target).code == 0
    assert call("ledger", "verify", "--ledger", target).code == 0
    assert call("ledger", "backup", target).code == 13
    assert call("ledger", "backup", tmp_path / "no" / "backup.db").code == 13


def test_forget_asks_first_and_keeps_the_chain(filled: Path) -> None:
    assert call("ledger", "forget", label(2), stdin=b"n\n").code == 130
    assert "Penbrook" in call("ledger", "show", "--names", label(2)).out
    done = call("ledger", "forget", label(2), stdin=b"y\n")
    assert done.code == 0
    assert "Erased: 1 record " in done.out
    assert "Penbrook" not in call("ledger", "show", "--names", label(2)).out
    assert call("ledger", "verify").code == 0
    assert "nothing to erase" in call("ledger", "forget", "--yes", label(2)).out
    assert call("ledger", "forget", "--yes", label(77)).code == 11
    noted = call("ledger", "list", "--kind", "note", "--json").out.splitlines()[-1]
    assert json.loads(noted)["operator"] == "clerk 5"
    assert json.loads(noted)["desk"] == "desk 5"


# Nonsense for every command


READERS: list[tuple[str, ...]] = [
    ("ledger", "list"),
    ("ledger", "list", "--entries"),
    ("ledger", "show", label(1)),
    ("ledger", "verify"),
    ("ledger", "proof", label(1), "--out", "-"),
    ("ledger", "export"),
    ("ledger", "backup", "b.db"),
    ("ledger", "forget", label(1), "--yes"),
    ("daylist", "--csv", "-"),
    ("returned", card(1)),
    ("outstanding",),
]


def not_a_ledger(path: Path) -> None:
    path.write_text("Dear Sir or Madam, " * 400)


def binary(path: Path) -> None:
    path.write_bytes(bytes(range(256)) * 40)


def another_programs(path: Path) -> None:
    with closing(sqlite3.connect(path)) as tool:
        tool.execute("CREATE TABLE entries (a)")


def future(path: Path) -> None:
    Ledger.open(str(path)).close()
    with closing(sqlite3.connect(path, isolation_level=None)) as tool:
        tool.execute("UPDATE alembic_version SET version_num = '0042'")


def empty_file(path: Path) -> None:
    path.touch()


def folder(path: Path) -> None:
    path.mkdir()


def missing(path: Path) -> None:
    """Nothing is there."""


@pytest.mark.parametrize("words", READERS, ids=" ".join)
@pytest.mark.parametrize(
    "spoil",
    [not_a_ledger, binary, another_programs, future, empty_file, folder, missing],
    ids=lambda one: one.__name__,
)
def test_what_is_no_ledger_is_said_and_left_alone(
    tmp_path: Path, words: tuple[str, ...], spoil: object
) -> None:
    path = tmp_path / "ledger.db"
    spoil(path)  # type: ignore[operator]
    before = path.read_bytes() if path.is_file() else None
    done = call(*words)
    assert done.code == 13
    assert done.err.startswith("Not done: ")
    assert str(path) in done.err
    assert not done.data
    if before is None:
        assert path.is_dir() or not path.exists()
    elif spoil is not future:
        assert path.read_bytes()[100:] == before[100:]  # the first 100 bytes are SQLite's own


@pytest.mark.parametrize("words", READERS, ids=" ".join)
def test_an_empty_ledger_is_no_error_by_itself(tmp_path: Path, words: tuple[str, ...]) -> None:
    Ledger.open(str(tmp_path / "ledger.db")).close()
    done = call(*words)
    expected = {"show": 11, "proof": 13, "forget": 11}.get(words[1] if words[1:] else "", 0)
    if words[0] in ("daylist", "returned"):
        expected = 11
    assert done.code == expected, done.err


@pytest.fixture
def as_nobody(tmp_path: Path) -> Iterator[None]:
    """File rights do not hold for root."""
    for place in (tmp_path, *tmp_path.parents):
        if place.owner() == "root" and place != Path("/") and "pytest" in str(place):
            place.chmod(0o755)
    if os.geteuid() != 0:
        yield
        return
    os.setegid(65534)
    os.seteuid(65534)
    try:
        yield
    finally:
        os.seteuid(0)
        os.setegid(0)


@pytest.mark.parametrize("words", READERS, ids=" ".join)
def test_a_ledger_that_may_not_be_read_is_said(
    filled: Path, words: tuple[str, ...], request: pytest.FixtureRequest
) -> None:
    for beside in filled.parent.glob("ledger.db*"):
        beside.chmod(0)
    request.getfixturevalue("as_nobody")
    done = call(*words)
    assert done.code == 13
    assert done.err.startswith("Not done: ")


def test_a_backup_that_cannot_be_written_can_still_be_read(
    filled: Path, tmp_path: Path, request: pytest.FixtureRequest
) -> None:
    copy = tmp_path / "read-only" / "backup.db"
    copy.parent.mkdir()
    assert call("ledger", "backup", copy).code == 0
    copy.chmod(stat.S_IRUSR | stat.S_IRGRP | stat.S_IROTH)
    copy.parent.chmod(0o555)
    request.getfixturevalue("as_nobody")
    assert call("ledger", "verify", "--ledger", copy).code == 0
    assert call("ledger", "show", label(1), "--ledger", copy).code == 0
    done = call("returned", card(1), "--box", label(1), "--ledger", copy)
    assert done.code == 13
    assert "Nothing was recorded" in done.err
    assert "In order" not in done.out
    assert call("daylist", "--csv", "-", "--day", "2026-03-02", "--ledger", copy).code == 13


PROOFS = {
    "binary": bytes(range(256)) * 10,
    "empty": b"",
    "another JSON": b'{"format": "counterfoil proof 2"}',
    "brackets": b"[" * 200_000,
    "infinite": b'{"format":"counterfoil proof 1","public_key":"00","head":{"size":1e999,'
    b'"root":"","day":"","at":"","signature":""},"entries":[]}',
    "surrogate": b'{"format":"counterfoil proof 1","public_key":"00","head":{"size":1,"root":"",'
    b'"day":"\\ud800","at":"","signature":""},"entries":[]}',
    "long number": b'{"format":"counterfoil proof 1","head":' + b"9" * 50_000 + b"}",
    "a list": b"[1, 2]",
    "text": "ein Brief, kein Beweis \u2713".encode("utf-16"),
}


@pytest.mark.parametrize("name", PROOFS)
def test_what_is_no_proof_is_said(tmp_path: Path, name: str) -> None:
    path = tmp_path / "x.json"
    path.write_bytes(PROOFS[name])
    done = call("ledger", "verify-proof", path)
    assert done.code == 13, done.out
    assert "not a proof" in done.err


READING = {"side": "box", "how": "keyed", "via": "keyed", "text": "1", "given": "2"}
ODD: list[Any] = [None, True, -1, 1e300, [], {}, "", "x\x1b[2J", "9" * 70, [[]], {"a": 1}, [{}]]


def test_whatever_somebody_signs_with_a_key_of_their_own_is_said_or_shown(tmp_path: Path) -> None:
    """Anybody can sign a head over anything; showing it must not fall over or paint."""
    signer = keys.load_or_make(tmp_path / "own.key")
    with Ledger.open(str(tmp_path / "ledger.db")) as ledger:
        ledger.append(pair(1, 1, particulars={"name": "N"}))
        ledger.append(returned(1, 2))
        (whole,) = [json.loads(ledger.proof(label(1)))["entries"][1]["entry"]]
    path = tmp_path / "p.json"
    places: list[tuple[Any, ...]] = [(name,) for name in whole]
    places += [("findings", 0, name) for name in whole["findings"][0]]
    places += [("readings", 0, name) for name in ("side", "how", "via", "text", "given")]
    codes = set()
    for place in places:
        for value in ODD:
            entry = json.loads(json.dumps(whole))
            entry |= {"sequence": 1, "readings": [READING.copy()]}
            here: Any = entry
            for step in place[:-1]:
                here = here[step]
            here[place[-1]] = value
            leaf = leaf_hash(canonical(entry))
            head = heads.sign(signer, size=1, root=leaf, day="2026-03-02", at="x\x1b")
            body = {
                "entries": [{"entry": entry, "path": []}],
                "format": proof.FORMAT,
                "head": {
                    "at": head.at,
                    "day": head.day,
                    "root": head.root.hex(),
                    "signature": head.signature.hex(),
                    "size": 1,
                },
                "public_key": head.public.hex(),
            }
            path.write_bytes(canonical(body))
            for words in ((), ("--json",)):
                done = call("ledger", "verify-proof", path, *words)
                assert done.code in (0, 10, 13), (place, value)
                assert "\x1b" not in done.out + done.err
                codes.add(done.code)
    assert codes == {0, 10, 13}


def test_a_proof_that_is_not_there_or_a_folder(tmp_path: Path) -> None:
    for place in (tmp_path, tmp_path / "gone", "/dev/null"):
        done = call("ledger", "verify-proof", place)
        assert done.code == 13
        assert done.err.startswith("Not done: ")


@pytest.mark.parametrize("form", ["jsonl", "csv"])
@pytest.mark.parametrize(
    "content",
    [b"\x00\xff" * 500, b"a,b\n1,2\n", b'{"head": {}}\n', b"9" * 4_100_000, b'"', b"\xff\xfe"],
    ids=["binary", "table", "head", "no line end", "quote", "bom"],
)
def test_an_import_of_nonsense_records_nothing(tmp_path: Path, form: str, content: bytes) -> None:
    path = tmp_path / "x.bin"
    path.write_bytes(content)
    done = call("ledger", "import", path, "--form", form)
    assert done.code == 13, done.out
    assert str(path) in done.err
    assert "has 0" not in done.out
    assert call("ledger", "list").out == ""


def test_an_import_of_no_file(tmp_path: Path) -> None:
    for place in (tmp_path, tmp_path / "gone.jsonl"):
        assert call("ledger", "import", place).code == 13


@pytest.mark.parametrize(
    "words",
    [
        ("ledger",),
        ("ledger", "unheard-of"),
        ("ledger", "list", "--day", "32.13.2026"),
        ("ledger", "list", "--day", "0001-01-01"),
        ("ledger", "list", "--day", "today", "--since", "today"),
        ("ledger", "list", "--state", "lost"),
        ("ledger", "list", "--entries", "--state", "open"),
        ("ledger", "show"),
        ("ledger", "proof"),
        ("ledger", "verify-proof"),
        ("ledger", "import"),
        ("ledger", "backup"),
    ],
    ids=" ".join,
)
def test_calls_that_are_wrong(words: tuple[str, ...]) -> None:
    done = call(*words)
    assert done.code == 2
    assert "Traceback" not in done.err


@pytest.mark.parametrize(
    "name",
    [
        "list",
        "show",
        "verify",
        "proof",
        "verify-proof",
        "export",
        "import",
        "backup",
        "go-on",
        "forget",
    ],
)
def test_each_command_has_help(name: str) -> None:
    done = call("ledger", name, "--help")
    assert done.code == 0
    assert f"counterfoil ledger {name}" in done.out.partition("\n")[0]
    assert name in call("ledger", "--help").out


def test_unprintable_names_cannot_paint_over_the_screen(tmp_path: Path) -> None:
    with Ledger.open(str(tmp_path / "ledger.db")) as ledger:
        ledger.append(pair(1, 1, desk="\x1b[2Jdesk", operator="o\rEverything matches"))
    for words in (("list",), ("list", "--entries"), ("show", label(1))):
        done = call("ledger", *words)
        assert "\x1b" not in done.out
        assert "\r" not in done.out


def test_a_ledger_that_lost_its_end_is_told_by_every_command(filled: Path) -> None:
    with closing(sqlite3.connect(filled, isolation_level=None)) as tool:
        tool.execute("DROP TRIGGER entries_no_delete")
        tool.execute("DELETE FROM entries WHERE sequence = 9")
    for words in (("ledger", "list"), ("outstanding",), ("ledger", "show", label(1))):
        done = call(*words)
        assert done.code == 0
        assert "this machine has seen 9" in " ".join(done.err.split())
    done = call("ledger", "verify")
    assert done.code == 10
    assert "entry 9 and what came after it are missing" in done.out.lower()
