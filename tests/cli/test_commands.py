"""The command line as its users call it: in its own process, exit codes and all."""

from __future__ import annotations

import contextlib
import csv
import json
import os
import pty
import re
import select
import subprocess
import sys
import time
from pathlib import Path

import click
import jsonschema
import numpy as np
import pytest

from counterfoil import options
from counterfoil.main import cli
from pairing.demo.camera import Placed, Shot, photograph
from pairing.demo.labels import label_sheet
from pairing.demo.scenario import BoxBy, Piece
from pairing.photos.barcodes.engines import load_engines
from pairing.pieces import report
from tests.benchmarks import spoiled
from tests.cli.calling import call

ROOT = Path(__file__).resolve().parent.parent.parent
SAMPLES = ROOT / "sample_scans"
PACKAGE = "9374890100000003985039"  # BCOCA Reference, IMpb example
CARD = "9590940258780038231151"  # NC DEQ public record NOV-2020-DV-0495
SWAPPED = "9590940258780083231151"  # derived: digits 15 and 16 swapped, passes mod-10
ENTRY = "import sys; from counterfoil.main import main; sys.argv[0] = 'counterfoil'; main()"


def run(*words: str, stdin: str = "") -> subprocess.CompletedProcess[str]:
    """The command in this process: what it writes, exit codes and all."""
    with contextlib.chdir(ROOT):
        done = call(*words, stdin=stdin.encode())
    return subprocess.CompletedProcess(words, done.code, done.out, done.err)


def start(*words: str, stdin: str = "", **env: str) -> subprocess.CompletedProcess[str]:
    """The command in a process of its own."""
    return subprocess.run(
        [sys.executable, "-c", ENTRY, *words],
        input=stdin,
        capture_output=True,
        text=True,
        check=False,
        cwd=ROOT,
        env={
            **os.environ,
            "PYTHONPATH": os.pathsep.join((str(ROOT), str(ROOT / "cli"))),
            **env,
        },
    )


def test_photos_load_no_ledger() -> None:
    """A quarter of a second of CPU before the first photo (measured), for nothing."""
    script = "import sys, counterfoil.commands.photos; print('sqlalchemy' in sys.modules)"
    loaded = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True, cwd=ROOT
    )
    assert loaded.stdout.strip() == "False"


def test_help_names_every_command_and_loads_no_decoder() -> None:
    done = start("--help")
    assert done.returncode == 0
    assert "Usage: counterfoil" in done.stdout
    for name in ("check", "counter", "expect", "photos", "compare", "number", "blindspots", "demo"):
        assert f"  {name} " in done.stdout
    heavy = (
        "import sys, counterfoil.main as m; m.cli(['--help'], standalone_mode=False)\n"
        "heavy = {'cv2', 'numpy', 'PIL', 'zxingcpp', 'pyzbar', 'pypdfium2', 'stdnum'}\n"
        "print(sorted(heavy & set(sys.modules)))"
    )
    loaded = subprocess.run(
        [sys.executable, "-c", heavy],
        capture_output=True,
        text=True,
        check=True,
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": os.pathsep.join((str(ROOT), str(ROOT / "cli")))},
    )
    assert loaded.stdout.strip().endswith("[]")


@pytest.mark.parametrize(
    "name", ["check", "counter", "expect", "photos", "compare", "number", "blindspots", "demo"]
)
def test_each_command_has_help(name: str) -> None:
    done = run(name, "--help")
    assert done.returncode == 0
    assert f" {name} [OPTIONS]" in done.stdout


@pytest.mark.parametrize(
    ("words", "code"),
    [
        ([PACKAGE], 0),
        ([PACKAGE, CARD, "EE 876 543 216 CA"], 0),
        ([PACKAGE, "9374890100000003985038"], 10),
        (["9780471117094"], 10),
        ([""], 10),
        ([], 2),
        (["--unheard-of"], 2),
    ],
)
def test_number_exit_codes(words: list[str], code: int) -> None:
    assert run("number", *words).returncode == code


def test_until_means_the_same_everywhere() -> None:
    """Up to and with that day, in the days of this machine."""
    found = []
    waiting: list[click.Command] = [cli]
    while waiting:
        command = waiting.pop()
        context = click.Context(command)
        if isinstance(command, click.Group):
            waiting += filter(
                None, (command.get_command(context, one) for one in command.list_commands(context))
            )
        found += [one for one in command.params if one.name == "until"]
    assert len(found) >= 3
    for one in found:
        assert one.type is options.DAY
        assert re.search("up to and with (that|this) day", getattr(one, "help", "").lower())


def test_number_works_the_check_digit_out() -> None:
    # Worked example in the handbook, 1.3: 41, x3 = 123, 28, 151, 9.
    done = run("number", PACKAGE)
    for shown in (
        "9374 8901 0000 0003 9850 39",
        "sum 41",
        "= 123",
        "sum 28",
        "= 151",
        "channel 93",
    ):
        assert shown in done.stdout
    assert not done.stderr


@pytest.mark.parametrize("words", [("", ""), (" ", ""), (PACKAGE, ""), ("", PACKAGE)])
def test_nothing_is_equal_to_nothing(words: tuple[str, str]) -> None:
    done = run("compare", *words)
    assert done.returncode == 10
    assert "Every digit is the same" not in done.stdout
    assert "differs" not in done.stdout
    assert "Nothing was read" in done.stdout


@pytest.mark.parametrize(
    ("label", "box", "code", "said"),
    [
        (CARD, CARD, 0, "same"),
        (CARD, "9590 9402 5878 0038 2311 51", 0, "same"),
        (CARD, SWAPPED, 10, "group 4, digits 3 and 4"),
        (CARD, CARD[:-1], 10, ""),
        (CARD[:-1] + "2", CARD[:-1] + "2", 10, "check digit"),
        (CARD, "", 10, ""),
    ],
)
def test_compare(label: str, box: str, code: int, said: str) -> None:
    done = run("compare", label, box)
    assert done.returncode == code
    assert said in done.stdout


def test_nothing_ever_offers_to_make_one_side_like_the_other() -> None:
    shown = run("compare", CARD, SWAPPED).stdout + run("check", PACKAGE, CARD, "--box", CARD).stdout
    for word in ("copy", "correct", "fix", "use the label's", "replace"):
        assert word not in shown.lower()


@pytest.mark.parametrize(
    ("words", "stdin", "code"),
    [
        ((PACKAGE, CARD, "--box", PACKAGE), "", 0),
        ((CARD, PACKAGE, f"box {PACKAGE}"), "", 0),
        ((PACKAGE, CARD, "--box", CARD), "", 10),
        ((PACKAGE, CARD), "", 11),
        ((PACKAGE, CARD, "box", PACKAGE), "", 0),
        ((PACKAGE, CARD, "--box", PACKAGE, "--box", CARD), "", 10),
        ((PACKAGE, CARD, "--gs", "0"), "", 2),
        ((), f"{PACKAGE}\n{CARD}\nbox {PACKAGE}\nbox {CARD}\n", 0),
        ((), f"{PACKAGE}\n{CARD}\nbox {PACKAGE}\n", 0),
        ((), f"{PACKAGE}\n{CARD}\n\n{PACKAGE}\n{SWAPPED}\nbox {CARD}\n", 10),
        ((), "", 11),
        ((), "\x00\xff\x1d nonsense\n", 11),
        (("--box", PACKAGE), "", 2),
    ],
)
def test_check_exit_codes(words: tuple[str, ...], stdin: str, code: int) -> None:
    assert run("check", *words, stdin=stdin).returncode == code


def test_check_of_the_sample_lines_ends_in_their_list() -> None:
    done = run("check", "--brief", stdin=(SAMPLES / "wedge.txt").read_bytes().decode())
    with (SAMPLES / "wedge.csv").open() as file:
        wanted = [(f"Piece {row['piece']}", row["verdict"]) for row in csv.DictReader(file)]
    got = [
        (line.split("  ")[0], line.rsplit("(", 1)[1].rstrip(")"))
        for line in done.stdout.splitlines()
    ]
    assert got == wanted
    assert done.returncode == 10


def test_words_stand_beside_emphasis_and_pipes_get_no_escapes() -> None:
    done = run("check", PACKAGE, CARD, "--box", CARD)
    assert "Do not seal" in done.stdout
    assert "\x1b" not in done.stdout


def test_blindspots_prints_the_published_shares() -> None:
    # Handbook 6.3: 1/9 of adjacent swaps, every jump swap, every swap of 4-digit groups.
    shown = run("blindspots", "package").stdout
    lines = {line[:44].strip(): line[44:].split("%")[0].strip() for line in shown.splitlines()}
    assert lines["one digit"] == "0"
    assert lines["two adjacent digits swapped (ab, ba)"] == "11.11"
    assert lines["two digits swapped across one (abc, cba)"] == "100"
    assert lines["two printed 4-digit groups swapped"] == "100"
    assert run("blindspots", "unknown").returncode == 2


@pytest.fixture
def two_pieces(tmp_path: Path) -> Path:
    """One piece that agrees and one with the next label's strip (sample_scans/README.md)."""
    for name in ("0001-label.jpg", "0001-card.jpg", "0028.jpg"):
        (tmp_path / name).write_bytes((SAMPLES / name).read_bytes())
    return tmp_path


def test_photos_json_csv_and_exit_code(two_pieces: Path, tmp_path: Path) -> None:
    done = run("photos", str(two_pieces), "--json", "-", "--csv", str(tmp_path / "out.csv"))
    assert done.returncode == 10
    document = json.loads(done.stdout)
    jsonschema.validate(document, report.schema())
    assert [piece["verdict"] for piece in document["pieces"]] == ["agrees", "differs"]
    assert [code["code"] for code in document["pieces"][1]["findings"]] == ["box-pad-neighbour"]
    assert len((tmp_path / "out.csv").read_text().splitlines()) == 3


def test_photos_of_one_good_piece_exit_with_0(two_pieces: Path) -> None:
    assert run("photos", *map(str, sorted(two_pieces.glob("0001*")))).returncode == 0


def test_a_bad_photo_is_skipped_and_the_rest_goes_on(two_pieces: Path) -> None:
    (two_pieces / "0002.jpg").write_bytes(b"")
    done = run("photos", str(two_pieces), "--json", "-")
    document = json.loads(done.stdout)
    assert [Path(row["photo"]).name for row in document["skipped"]] == ["0002.jpg"]
    assert "empty" in document["skipped"][0]["reason"]
    assert len(document["pieces"]) == 2
    assert "Skipped" in done.stderr


def test_a_skipped_photo_alone_is_exit_code_12(two_pieces: Path) -> None:
    (two_pieces / "0028.jpg").write_bytes(b"")
    assert run("photos", str(two_pieces)).returncode == 12


STRUCK = "9589 0733 6140 0193 4178 02"
"""sample_scans/manifest.csv, piece 0032: struck out and written again, which only a person
may read."""


@pytest.fixture
def struck_out(tmp_path: Path) -> Path:
    for name in ("0032-label.jpg", "0032-card.jpg"):
        (tmp_path / name).write_bytes((SAMPLES / name).read_bytes())
    return tmp_path


def test_what_a_person_read_is_taken_by_option_and_by_question(struck_out: Path) -> None:
    folder = str(struck_out)
    assert run("photos", folder).returncode == 11
    assert run("photos", folder, "--written", f"0032={STRUCK}").returncode == 0
    asked = run("photos", folder, "--ask", stdin=STRUCK + "\n")
    assert asked.returncode == 0
    # The question comes before the label's number is shown anywhere.
    assert STRUCK.replace(" ", "") not in asked.stderr.replace(" ", "")
    assert "0032-box-alone.png" in asked.stderr
    assert "0032-label.jpg" not in asked.stderr
    assert run("photos", folder, "--ask", stdin="\n").returncode == 11
    assert run("photos", folder, "--written", "0009=1").returncode == 2
    twice = ("--written", f"0032={STRUCK}", "--written", f"0032={STRUCK[:-2]}91")
    assert run("photos", folder, *twice).returncode == 10
    ended = run("photos", folder, "--ask", stdin="")
    assert ended.returncode == 11
    assert "Look again" in ended.stdout


def test_the_labels_number_is_not_shown_before_the_box_is_read(struck_out: Path) -> None:
    for done in (run("photos", str(struck_out)), run("check", STRUCK, CARD)):
        assert done.returncode == 11
        assert "0193 4178" not in done.stdout
        assert "shown once the box is" in done.stdout


@pytest.fixture(scope="module")
def in_doubt(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """A folder with one piece, drawn, in whose box a digit was written over, so that the reader
    leaves one or a few to a person, and the digits that were written there first."""
    for seed in (8, *range(12)):  # 8 was one when this was written; another reader asks elsewhere
        folder = tmp_path_factory.mktemp("in-doubt")
        article, photo = spoiled.card("overwritten", seed)
        (folder / "0001-card.jpg").write_bytes(photo)
        (folder / "0001-label.jpg").write_bytes(_label(article))
        (piece,) = json.loads(run("photos", str(folder), "--json", "-").stdout)["pieces"]
        asks = piece["box"]["doubtful"] if piece["box"] else []
        is_open = any("how many" in finding["message"] for finding in piece["findings"])
        if piece["verdict"] == "unread" and asks and not is_open:
            assert len(piece["box"]["read"]) == len(article)
            return folder, "".join(article[at - 1] for at in asks)
    pytest.fail("of twelve numbers with a digit written over none is asked about")


def _label(article: str) -> bytes:
    piece = Piece(name="0001", purpose="", addressee="Corin Thackmire", article=article,
                  card="9590948231076137543417", box_by=BoxBy.EMPTY)  # fmt: skip
    shot = Shot(px_per_mm=9.0, turn_deg=0.5, tilt=0.004, blur_px=0.7, light=1.0, falloff=0.1,
                noise=2.0, has_shadow=False)  # fmt: skip
    return photograph((Placed(sheet=label_sheet(piece), x_mm=100.0, y_mm=60.0),),
                      size_mm=(200.0, 120.0), shot=shot, table=0,
                      rng=np.random.default_rng(1))  # fmt: skip


def test_doubtful_digits_are_asked_for_alone(in_doubt: tuple[Path, str], tmp_path: Path) -> None:
    folder, digits = in_doubt
    pictures = tmp_path / "pictures"
    done = run("photos", str(folder), "--ask", "--pictures", str(pictures), "--json", "-",
               stdin="\n".join(digits) + "\n")  # fmt: skip
    (piece,) = json.loads(done.stdout)["pieces"]
    jsonschema.validate(json.loads(done.stdout), report.schema())
    assert piece["written_by"] == "partly keyed"
    assert len(list(pictures.glob("*-digit-*.png"))) == len(digits)
    assert len(list(pictures.glob("*-box.png"))) == 1
    assert piece["article"] not in done.stderr.replace(" ", "")
    assert "\u2588" in done.stderr


def test_a_digit_that_nobody_can_tell_means_keying_all(in_doubt: tuple[Path, str]) -> None:
    folder, _ = in_doubt
    done = run("photos", str(folder), "--ask", stdin="x\n\n\n")
    assert done.returncode == 11
    assert "One key" in done.stderr
    assert "What is written in the card's box?" in done.stderr
    # The box by itself: the photo may show the label too.
    assert "-box-alone.png. What is written" in done.stderr
    dumb = start("photos", str(folder), "--ask", stdin="\n\n", PYTHONIOENCODING="ascii")
    assert "Traceback" not in dumb.stderr
    assert "#" in dumb.stderr


def test_at_a_terminal_one_key_answers(in_doubt: tuple[Path, str]) -> None:
    folder, digits = in_doubt
    try:
        ours, theirs = pty.openpty()
    except OSError:
        pytest.skip("this root has no pseudo terminals (/dev/pts)")
    process = subprocess.Popen(
        [sys.executable, "-c", ENTRY, "photos", str(folder), "--ask", "--brief"],
        stdin=theirs,
        stdout=subprocess.PIPE,
        stderr=theirs,
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": os.pathsep.join((str(ROOT), str(ROOT / "cli")))},
        start_new_session=True,
    )
    os.close(theirs)
    shown, deadline = "", time.monotonic() + 90

    def until(text: str, seconds: float) -> bool:
        nonlocal shown
        end = time.monotonic() + seconds
        while text not in shown and time.monotonic() < min(end, deadline):
            if select.select([ours], [], [], 0.2)[0]:
                shown += os.read(ours, 4096).decode(errors="replace")
        return text in shown

    for digit in digits:
        assert until("Which digit is it?", 60)
        shown = shown.split("Which digit is it?", 1)[1]
        # A key hit before the terminal is set to single keys is lost, as it is for people.
        while not until(f") {digit}", 2):
            assert time.monotonic() < deadline
            os.write(ours, digit.encode())  # no Enter
    out, _ = process.communicate(timeout=60)
    assert process.returncode in (0, 10)
    assert b"Look again  (" not in out


def test_strictness_takes_stated_rates_alone(struck_out: Path) -> None:
    assert run("photos", str(struck_out), "--strictness", "1e-5").returncode == 11
    done = run("photos", str(struck_out), "--strictness", "1e-9")
    assert done.returncode == 2
    assert "1e-4" in done.stderr


def test_names_cannot_paint_over_the_screen(tmp_path: Path) -> None:
    forged = tmp_path / "0028\x1b[2K\r0028  Seal  (agrees)\x1b[8m.jpg"
    forged.write_bytes((SAMPLES / "0028.jpg").read_bytes())
    (tmp_path / "b\nPiece 9  Seal  (agrees).jpg").write_bytes(b"")
    done = run("photos", str(tmp_path), "--brief")
    assert "\x1b" not in done.stdout + done.stderr
    assert len(done.stdout.splitlines()) == 2
    assert "\x07" not in run("check", PACKAGE, CARD, "--box", "9\x07374890100").stdout


def test_bytes_that_are_no_text_in_a_name(tmp_path: Path) -> None:
    path = os.fsencode(tmp_path) + b"/0001-\xff.jpg"
    Path(os.fsdecode(path)).write_bytes((SAMPLES / "0028.jpg").read_bytes())
    done = run("photos", str(tmp_path), "--json", "-", "--csv", str(tmp_path / "o.csv"))
    assert done.returncode == 10
    assert "\\xff" in json.loads(done.stdout)["pieces"][0]["photos"][0]


def test_an_output_never_overwrites_a_photo(two_pieces: Path) -> None:
    photo = two_pieces / "0028.jpg"
    before = photo.read_bytes()
    assert run("photos", str(two_pieces), "--csv", str(photo)).returncode == 13
    assert photo.read_bytes() == before
    assert run("photos", str(two_pieces), "--csv", "x", "--json", "x").returncode == 2


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs /dev/full")
@pytest.mark.parametrize("words", [("compare", CARD, CARD), ("number", CARD), ("check", PACKAGE)])
def test_a_full_disk_is_told(words: tuple[str, ...]) -> None:
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [sys.executable, "-c", ENTRY, *words],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
            env={**os.environ, "PYTHONPATH": os.pathsep.join((str(ROOT), str(ROOT / "cli")))},
        )
    assert done.returncode == 13
    assert "cannot be written" in done.stderr
    assert "Traceback" not in done.stderr


def test_pieces_from_a_list(tmp_path: Path) -> None:
    for name in ("0001-label.jpg", "0001-card.jpg"):
        (tmp_path / name.replace("-", "")).write_bytes((SAMPLES / name).read_bytes())
    table = tmp_path / "list.csv"
    table.write_text("piece,photo,shows\nX,0001label.jpg,label\nX,0001card.jpg,card\n")
    assert run("photos", "--pieces", str(table)).returncode == 0
    table.write_text("piece,photo\nX,0001label.jpg\nX,0001card.jpg\n")
    # Tall bars alone are a label's, the others are in the box by their place.
    assert run("photos", "--pieces", str(table)).returncode == 0
    table.write_text("piece,photo\nX,0001card.jpg\nX,gone.jpg\n")
    done = run("photos", "--pieces", str(table), "--json", "-")
    assert done.returncode == 11
    document = json.loads(done.stdout)
    assert "photo-skipped" in {f["code"] for f in document["pieces"][0]["findings"]}


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (["photos"], 2),
        (["photos", "no-such-folder"], 13),
        (["photos", "--pieces", "no-such-list.csv"], 13),
        (["photos", str(ROOT / "tests" / "facts")], 13),
        (["photos", str(SAMPLES / "0008-card.jpg"), "--json", "/no/such/folder/out.json"], 13),
        (["check-it"], 2),
    ],
)
def test_what_cannot_be_done_says_so(words: list[str], code: int) -> None:
    done = run(*words)
    assert done.returncode == code
    assert done.stderr.strip()
    assert "Traceback" not in done.stderr


def test_without_one_decoder_it_says_so_once_and_goes_on(two_pieces: Path) -> None:
    """libzbar is hidden by making its search come up empty."""
    hide = two_pieces / "hide"
    hide.mkdir()
    (hide / "sitecustomize.py").write_text(
        "import ctypes.util\n"
        "find = ctypes.util.find_library\n"
        "ctypes.util.find_library = lambda name: None if 'zbar' in name else find(name)\n"
    )
    path = os.pathsep.join((str(hide), str(ROOT), str(ROOT / "cli")))
    done = start("photos", str(two_pieces), "--json", "-", PYTHONPATH=path)
    assert done.returncode == 10
    assert done.stderr.count("libzbar0") == 1
    verdicts = [piece["verdict"] for piece in json.loads(done.stdout)["pieces"]]
    assert verdicts == ["agrees", "differs"]


def test_both_decoders_are_here_where_they_should_be() -> None:
    if not os.environ.get("CI"):
        pytest.skip("only CI promises both decoders")
    assert load_engines().missing == ()
