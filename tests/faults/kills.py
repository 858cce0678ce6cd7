"""kill -9 at a random moment of every command that writes."""

from __future__ import annotations

import csv
import io
import os
import random
import re
import shutil
import tempfile
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from PIL import Image

from pairing.audit.run import lot
from pairing.ledger import Kind, Ledger
from pairing.photos.forms.definition import as_bytes
from pairing.photos.forms.folder import VARIABLE as FORMS
from pairing.photos.forms.folder import built_in
from tests.faults import served
from tests.faults.forked import Life, run
from tests.ledger.making import Clock, card, label, pair

PIECES = 12
_OLDER = 10
"""Entries of the older copy that was put back."""
_GO_ON = ("ledger", "go-on", "--reason", "A copy was put back", "--yes", "--ledger",
          "FOLDER/older.db")  # fmt: skip
_PAIRS = 100
_BEFORE = 30
"""Entries in the ledger that each command begins with."""


@dataclass(frozen=True)
class Case:
    """One command. words: after its name, FOLDER for the place that it works in. check: given
    the place and how it ended, raises AssertionError where something is lost or is half. forms:
    the office's folder of forms in that place."""

    words: tuple[str, ...]
    check: Callable[[Path, Life], None]
    stdin: bytes = b""
    forms: str = "forms"


def _pieces() -> bytes:
    """Sealed, then corrected, every third voided."""
    lines, entry = [], _BEFORE
    for number in range(100, 100 + PIECES):
        lines += [label(number), card(number), f"/{label(number)}", f"correct {entry + 1}"]
        lines += [label(number), card(number + 500), f"/{label(number)}"]
        entry += 2
        if number % 3 == 0:
            lines.append(f"void {entry} of no use")
            entry += 1
    return ("\n".join([*lines, "end"]) + "\n").encode()


def _returns() -> bytes:
    lines = []
    for number in range(PIECES):
        lines += [card(number), f"/{label(number)}", "unsigned", "next"]
    return ("\n".join(lines) + "\n").encode()


def check_ledger(place: Path, name: str = "ledger.db") -> dict[int, tuple[Kind, str | None]]:
    """What the ledger holds: it fits, and nothing seems tampered with."""
    with Ledger.open(str(place / name)) as ledger:
        report = ledger.verify()
        assert report.is_clean, report.problem
        assert ledger.warnings() == (), ledger.warnings()
        return {one.sequence: (one.kind, one.article) for one in ledger.entries()}


_ENTRY = re.compile(r"(?:ecorded as entry|ledger  +entry) +(\d+)")
_SEALED = re.compile(r"entry +(\d+) ¦ Seal\..*\n +label ¦ ([\d ]+)\n")


def all_recorded(place: Path, life: Life) -> None:
    """Every entry that was named is there, and every one that was sealed is that label's."""
    entries = check_ledger(place)
    whole = life.out[: life.out.rfind("\n") + 1]
    for found in _ENTRY.finditer(whole):
        assert int(found[1]) in entries, found[0]
    for found in _SEALED.finditer(whole):
        kind, article = entries[int(found[1])]
        assert kind in (Kind.PAIRED, Kind.CORRECTED)
        assert article == found[2].replace(" ", "")


def _all_or_nothing(said: str, added: int, name: str = "ledger.db") -> Callable[..., None]:
    def check(place: Path, life: Life) -> None:
        if not (place / name).exists():
            assert said not in life.out
            return
        begun = _BEFORE if name == "ledger.db" else 0
        size = len(check_ledger(place, name))
        assert size in (begun, begun + added), size
        assert size == begun + added or said not in life.out

    return check


def _expected(place: Path, life: Life) -> None:
    """Each pair by itself; the same file again adds those that are missing."""
    size = _listed(place)
    assert size == _PAIRS or "pairs added" not in life.out, size
    again = run("expect", place / "pairs.csv", "--ledger", place / "ledger.db")
    assert again.code == 0, again.out
    assert _listed(place) == _PAIRS


def _listed(place: Path) -> int:
    return sum(kind is Kind.EXPECTED for kind, _ in check_ledger(place).values())


def _whole_file(name: str, is_whole: Callable[[bytes], bool]) -> Callable[..., None]:
    """A file that is there is whole, and one that was reported is there."""

    def check(place: Path, life: Life) -> None:
        check_ledger(place)
        path = place / name
        assert path.exists() or life.code != 0
        assert not path.exists() or is_whole(path.read_bytes())

    return check


def _backup(place: Path, life: Life) -> None:
    check_ledger(place)
    copy = place / "copy.db"
    assert copy.exists() or "Written" not in life.out
    if copy.exists():
        assert len(check_ledger(place, "copy.db")) == _BEFORE
        assert not copy.with_name("copy.db-journal").exists()


def _daylist(place: Path, life: Life) -> None:
    """Whole files; and whatever was recorded, every piece gets onto a list that is printed."""
    check_ledger(place)
    for name, end in (("list.pdf", b"%%EOF"), ("list.csv", b"\n")):
        path = place / name
        assert path.exists() or life.code != 0
        assert not path.exists() or path.read_bytes()[-6:].endswith((end, end + b"\n"))
    if "Acceptance list" in life.out:
        with Ledger.open(str(place / "ledger.db")) as ledger:
            assert ledger.size() > _BEFORE
    again = run("daylist", "--ledger", place / "ledger.db", "--csv", place / "b.csv", "--day",
                "2026-03-02")  # fmt: skip
    if again.code == 11:  # all are on the list that was killed, which is printed again
        again = run("daylist", "--ledger", place / "ledger.db", "--csv", place / "b.csv",
                    "--day", "2026-03-02", "--again")  # fmt: skip
    assert again.code == 0, again.out
    listed = {row[0] for row in csv.reader(io.StringIO((place / "b.csv").read_text()))}
    text = " ".join(listed | {(place / "b.csv").read_text()}).replace(" ", "")
    assert all(label(number) in text for number in range(_BEFORE))


def _forget(place: Path, life: Life) -> None:
    check_ledger(place)
    with Ledger.open(str(place / "ledger.db")) as ledger:
        names = ledger.particulars(1)
        assert names in (None, {"name": "Invented 0"})
        assert names is None or "Erased" not in life.out
        if names is None:
            run("ledger", "forget", label(0), "--yes", "--ledger", place / "ledger.db")
            assert ledger.verify().gone == ()


def _form(place: Path, life: Life) -> None:
    kept = list((place / "forms").glob("*.form")) if (place / "forms").is_dir() else []
    assert kept or life.code != 0
    listed = run("form", "list", before=lambda: _forms_of(place))
    assert listed.code == 0, listed.out
    shown = {name for name in ("office", "taught") if f"\n{name}:" in f"\n{listed.out}"}
    assert {one.stem for one in kept} == shown


def _form_gone(place: Path, life: Life) -> None:
    is_there = (place / "taught" / "gone.form").exists()
    assert not (is_there and "removed" in life.out)
    listed = run("form", "list", before=lambda: _forms_of(place, "taught"))
    assert listed.code == 0, listed.out
    assert ("gone" in listed.out) == is_there
    assert "staying" in listed.out


def _forms_of(place: Path, name: str = "forms") -> None:
    os.environ[FORMS] = str(place / name)


def _gone_on(place: Path, life: Life) -> None:
    """Recorded, or still stopped; the next try records it or finds it done, and pieces are
    sealed again."""
    words = Case(_GO_ON, _gone_on)
    with Ledger.open(str(place / "older.db")) as ledger:
        size, is_stopped = ledger.size(), bool(ledger.warnings())
    assert size > _OLDER or is_stopped
    if "ecorded as entry" in life.out:
        assert size > _OLDER
    if is_stopped:
        again = once(words, place)
        assert again.code == 0, again.out
    assert check_ledger(place, "older.db")
    with Ledger.open(str(place / "older.db")) as ledger:
        assert ledger.verify().went_on
        assert ledger.append(pair(5000, 5000)).may_seal


def _audit(place: Path, life: Life) -> None:
    """It goes on to the same rows as a run that nobody disturbed."""
    again = run("audit", place / "photos", "--out", place / "out", "--no-report", "--workers", 1)
    assert again.code in (0, 10, 11, 12), again.out
    assert (place / "out" / lot.ROWS).read_bytes() == (place / "rows").read_bytes()


def cases() -> dict[str, Case]:
    """Every command that writes, by its name."""
    ledger = ("--ledger", "FOLDER/ledger.db")
    new = ("--ledger", "FOLDER/new.db")
    lines = _BEFORE
    is_pdf = _daylist
    return {
        "counter": Case(("counter", *ledger), all_recorded, _pieces()),
        "returned": Case(("returned", *ledger), all_recorded, _returns()),
        "expect": Case(("expect", "FOLDER/pairs.csv", *ledger), _expected),
        "import lines": Case(
            ("ledger", "import", "FOLDER/x.jsonl", *new),
            _all_or_nothing("new entries", lines, "new.db"),
        ),
        "import table": Case(
            ("ledger", "import", "FOLDER/x.csv", *new),
            _all_or_nothing("new entries", lines, "new.db"),
        ),
        "export lines": Case(
            ("ledger", "export", "FOLDER/y.jsonl", *ledger),
            _whole_file("y.jsonl", lambda data: data.count(b"\n") >= _BEFORE),
        ),
        "export table": Case(
            ("ledger", "export", "FOLDER/y.csv", *ledger),
            _whole_file("y.csv", lambda data: data.count(b"\n") > _BEFORE),
        ),
        "backup": Case(("ledger", "backup", "FOLDER/copy.db", *ledger), _backup),
        "proof": Case(
            ("ledger", "proof", label(1), "--out", "FOLDER/p.json", *ledger),
            _whole_file("p.json", lambda data: data.rstrip().endswith(b"}")),
        ),
        "daylist": Case(
            ("daylist", "--day", "2026-03-02", "--pdf", "FOLDER/list.pdf", "--csv",
             "FOLDER/list.csv", *ledger), is_pdf,
        ),
        "forget": Case(("ledger", "forget", label(0), "--yes", *ledger), _forget),
        "go-on": Case(_GO_ON, _gone_on),
        "form remove": Case(("form", "remove", "gone"), _form_gone, forms="taught"),
        "form import": Case(("form", "import", "FOLDER/a.form"), _form),
        "form learn": Case(
            ("form", "learn", "taught", "FOLDER/blank.png", "--corners",
             "100,100 1100,100 1100,700 100,700", "--box", "300,300 900,300 900,360 300,360",
             "--size", "150x90", "--drawing", "FOLDER/drawing.png", "--yes"), _form,
        ),
        "sample": Case(
            ("sample", "--lot", "5000", "--out", "FOLDER/s.json"),
            _whole_file("s.json", lambda data: data.rstrip().endswith(b"}")),
        ),
        "photos": Case(
            ("photos", "FOLDER/photos", "--workers", "1", "--json", "FOLDER/r.json", "--brief"),
            _whole_file("r.json", lambda data: data.rstrip().endswith((b"}", b"]"))),
        ),
        "audit": Case(
            ("audit", "FOLDER/photos", "--out", "FOLDER/out", "--no-report", "--workers", "1"),
            _audit,
        ),
    }  # fmt: skip


def prepare(place: Path) -> None:
    """What every command begins with."""
    with Ledger.open(str(place / "ledger.db"), clock=Clock()) as ledger:
        for number in range(_BEFORE):
            if number == _OLDER:
                ledger.back_up(place / "older.db")
            ledger.append(pair(number, number, particulars={"name": f"Invented {number}"}))
        (place / "x.jsonl").write_bytes(b"".join(ledger.export_lines()))
        with (place / "x.csv").open("w", newline="") as file:
            file.writelines(ledger.export_csv())
    shutil.copy(place / "ledger.db.mark", place / "older.db.mark")
    rows = "".join(f"{label(n)},{card(n)}\n" for n in range(1000, 1000 + _PAIRS))
    (place / "pairs.csv").write_text(f"article,card\n{rows}")
    (place / "a.form").write_bytes(as_bytes(replace(built_in()[0], name="office")))
    (place / "taught").mkdir()
    for name in ("gone", "staying"):
        (place / "taught" / f"{name}.form").write_bytes(as_bytes(replace(built_in()[0], name=name)))
    blank = Image.new("L", (1200, 800), 90)
    blank.paste(235, (100, 100, 1100, 700))
    blank.paste(20, (300, 300, 900, 360))
    blank.paste(235, (304, 304, 896, 356))
    blank.save(place / "blank.png")
    (place / "photos").mkdir()
    for number in range(3):
        Image.new("L", (64, 48), 60 * number).save(place / "photos" / f"{number}.png")


def once(case: Case, place: Path, *, kill_after_s: float | None = None, **how: Any) -> Life:
    """Run it in a place that was prepared. how: as for `run`."""
    words = [word.replace("FOLDER", str(place)) for word in case.words]
    before = how.pop("before", lambda: None)

    def begun() -> None:
        _forms_of(place, case.forms)
        before()

    return run(*words, stdin=case.stdin, kill_after_s=kill_after_s, before=begun, **how)


def killed(name: str, count: int, seed: int) -> tuple[int, list[str]]:
    """Kill one command so often; how often it was killed before its end, and what was lost."""
    case, dice = cases()[name], random.Random(f"{name} {seed}")
    hits, lost = 0, []
    with tempfile.TemporaryDirectory(prefix="counterfoil-faults-") as folder:
        template, place = Path(folder) / "template", Path(folder) / "place"
        template.mkdir()
        prepare(template)
        shutil.copytree(template, place)
        rested = once(case, place)
        assert rested.code in (0, 10, 11, 12), rested.out
        if name == "audit":
            (template / "rows").write_bytes((place / "out" / lot.ROWS).read_bytes())
        for number in range(count):
            shutil.rmtree(place)
            shutil.copytree(template, place)
            after_s = dice.uniform(0, 1.05 * rested.took_s)
            life = once(case, place, kill_after_s=after_s)
            hits += life.code == -9
            try:
                case.check(place, life)
            except AssertionError as problem:
                lost.append(f"{name}, kill {number} after {after_s:.4f} s: {problem!r:.300}")
    return hits, lost


def kill(count: int, seed: int) -> tuple[int, list[str]]:
    """So many kills of each command."""
    done = 0
    lost: list[str] = []
    for name in cases():
        hits, lost_here = killed(name, count, seed)
        done += hits
        lost += lost_here
        print(f"  {name}: killed {hits} times of {count} before its end", flush=True)
    hits, lost_here = served.killed(count, seed)
    return done + hits, lost + lost_here
