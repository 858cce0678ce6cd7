"""A scripted day at the counter of the Drainage Board of Quillhaven, and what came later.

`python -m tests.cli.day` writes the transcript again (`golden/day.txt`); read it afterward.
"""

from __future__ import annotations

import re
import shlex
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

from pairing.demo import pieces as demo
from pairing.demo.scenario import BoxBy, Piece
from tests.cli.terminal import PACE_MS, Terminal
from tests.ledger.making import card, label

GOLDEN = Path(__file__).parent / "golden" / "day.txt"
PLACE = "/srv/quillhaven"
"""What the transcript has for the temporary folder."""

_DIGEST = re.compile(r"[0-9a-f]{64}")
_PROGRESS = re.compile(r" *\d+%\|.*")  # as many lines as the machine is slow

PIECES = demo.PIECES[:36]
"""Those that differ by what is read at a desk, not by how they were photographed."""

NEVER_CAME = 41
MORE = tuple(
    Piece(
        name=f"{number:04}",
        purpose=purpose,
        addressee="",
        article=label(number),
        card=card(with_card),
        box=label(number),
    )
    for number, with_card, purpose in (
        (37, 0, "the card of piece 0001"),
        (39, 39, "a label on no list"),
        (40, 40, "a card that the list gives to another article"),
    )
)


class Day:
    """Runs the commands, one after the other, and keeps what they show."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._shown: list[str] = []
        self._terminal: Terminal | None = None

    @property
    def transcript(self) -> str:
        """Everything shown so far, but for progress; lines without blanks at their ends."""
        text = "".join(self._shown).replace(str(self._folder), PLACE)
        text = _DIGEST.sub("(64 hexadecimal digits)", text)
        lines = (line.rstrip() for line in text.splitlines() if not _PROGRESS.match(line))
        return "\n".join(lines) + "\n"

    @property
    def terminal(self) -> Terminal:
        assert self._terminal is not None
        return self._terminal

    def start(self, command: str, start: str) -> None:
        self._shown.append(f"$ counterfoil {command}\n")
        words = [word.replace(PLACE, str(self._folder)) for word in shlex.split(command)]
        ledger = str(self._folder / "ledger.db")
        self._terminal = Terminal(*words, start=start, ledger=ledger)

    def end(self, line: str = "") -> int:
        code = self.terminal.last(line) if line or self.terminal.screen else self.terminal.end()
        return self._ended(code)

    def run(self, command: str, start: str) -> int:
        """A command that asks nothing."""
        self.start(command, start)
        return self._ended(self.terminal.end())

    def _ended(self, code: int) -> int:
        self._shown.append(f"{self.terminal.screen}[exit code {code}]\n\n")
        return code

    def scan(self, *texts: str) -> None:
        for text in texts:
            self.terminal.scan(text)

    def type(self, *lines: str) -> None:
        for line in lines:
            self.terminal.type(line)

    def piece(self, piece: Piece) -> None:
        """One piece of the demonstration, as a clerk handles it."""
        self._piece(piece)
        self.leave_stop()

    def leave_stop(self) -> None:
        """A stopped piece is set aside before the next one is scanned."""
        if self.terminal.screen.endswith("aside, or again > "):
            self.type("aside")

    def _piece(self, piece: Piece) -> None:
        self.scan(_bars(piece, piece.article))
        if piece.second_article:
            self.scan(piece.second_article)
            return
        if piece.is_card_glared:
            self.type(f"card {piece.card}")
        elif piece.card:
            self.scan(piece.card)
        if piece.box_by is BoxBy.EMPTY:
            self.type("next")
        elif piece.box_by is BoxBy.STRIP_BARCODE and piece.box == piece.box_bars:
            self.type("strip")
            self.scan(_bars(piece, piece.box_bars))
            if piece.box_bars == piece.card:  # asked for again: it may be the card's own barcode
                self.type(f"/{piece.box}")
        else:
            self.type(f"/{piece.box}" if piece.box[:1].isdigit() else f"box {piece.box}")
        if not piece.card:
            self.type("next")


def _bars(piece: Piece, number: str) -> str:
    return f"420{piece.routing}{number}" if piece.routing else number


def pairs_csv() -> str:
    """What the Board's own system printed."""
    rows = ["Notice;Article;Return card"]
    for place, piece in enumerate(PIECES, 1):
        rows.append(f"N-{place:03};{piece.article};{piece.card}")
    rows.append(f"N-037;{label(37)};{card(37)}")
    rows.append(f"N-040;{label(40)};{card(NEVER_CAME)}")
    rows.append(f"N-041;{label(NEVER_CAME)};{card(40)}")
    rows.append("N-042;9.58907E+21;9.59095E+21")
    return "\n".join(rows) + "\n"


def play() -> tuple[list[int], str]:
    """The whole story in a new folder: an exit code for each command, and the transcript."""
    # A short name, so that no line is broken for its sake.
    folder = Path(tempfile.mkdtemp(prefix="day", dir="/tmp"))
    try:
        return list(_play(folder)), (folder / "transcript.txt").read_text()
    finally:
        shutil.rmtree(folder)


def _play(folder: Path) -> Iterator[int]:
    day = Day(folder)
    (folder / "pairs.csv").write_text(pairs_csv())
    yield day.run(f"expect {PLACE}/pairs.csv --desk 'desk 1' --operator 'Theda Orrick'",
                  "2026-11-25T08:30:00")  # fmt: skip
    day.start(f"counter --desk 'desk 1' --operator 'Theda Orrick' --pace {PACE_MS}",
              "2026-11-25T09:00:00")  # fmt: skip
    day.terminal.prompt()
    _morning(day)
    day.type("handover Osric Dunmallow")
    _afternoon(day)
    day.type("end")  # asks after the pieces that are not settled
    yield day.end("yes")
    yield day.run("daylist --day 2026-11-25 --csv -", "2026-11-25T17:00:00")
    yield from _cards_come_back(day)
    yield day.run("ledger verify", "2026-12-30T12:00:00")
    (folder / "transcript.txt").write_text(day.transcript)


def _morning(day: Day) -> None:
    pieces = iter(PIECES)
    for _ in range(11):
        day.piece(next(pieces))
    slip = next(pieces)  # 0012: two keys swapped in typing
    swapped = f"{slip.box[:-2]}{slip.box[-1]}{slip.box[-2]}"
    day.scan(slip.article, slip.card)
    day.type(f"/{swapped}", "correct")
    day.scan(slip.article, slip.card)
    day.type(f"/{slip.box}")
    wrong = next(pieces)  # 0013: the sender writes the box again
    day.piece(wrong)
    day.scan(wrong.article, wrong.card)
    day.type(f"/{wrong.article}")
    for _ in range(7):
        day.piece(next(pieces))
    day.type("note the scale is out of order", "count")


def _afternoon(day: Day) -> None:
    for piece in PIECES[20:34]:
        day.piece(piece)
    glared = PIECES[34]  # 0035: a barcode with a word in it, a book, a scan cut short, one twice
    day.scan("void 1 by a barcode", "9780471117094", glared.article[:-5], glared.article)
    day.scan(glared.article)
    day.type(f"card {glared.card}", f"box {glared.box}")
    day.piece(PIECES[35])
    first, unlisted, exchanged = MORE
    day.scan(first.article, PIECES[0].card)
    day.type(f"/{first.box}")
    day.leave_stop()
    again = PIECES[2]  # 0003 lies on the table once more
    day.scan(again.article, again.card)
    day.type(f"/{again.box}")
    day.leave_stop()
    day.piece(unlisted)
    day.piece(exchanged)
    day.type("viod 50", "void 50", f"void {PIECES[7].article} the sender took it back", "yes")
    day.type("help")


def _cards_come_back(day: Day) -> Iterator[int]:
    day.start("returned --desk 'desk 1' --operator 'Osric Dunmallow'", "2026-12-30T10:00:00")
    day.terminal.prompt()
    for place in (0, 1, 2, 4, 5):
        day.scan(PIECES[place].card)
        day.type(f"box {PIECES[place].box}", f"signed 2026-12-0{place + 2}", "next")
    day.scan(PIECES[8].card)
    day.type(f"box {PIECES[9].box}", "next")  # names another article
    day.scan(PIECES[7].card)
    day.type(f"box {PIECES[7].box}", "next")  # was voided
    day.scan(PIECES[0].card)
    day.type(f"box {PIECES[0].box}", "next")  # a second time
    day.scan(card(99))
    day.type("next")  # of nobody
    day.scan(PIECES[9].card)
    day.type(f"box {PIECES[12].box}", "signed 2026-12-20", "next")  # a slip
    day.type(f"box {PIECES[9].box}")  # put right by the same word
    day.scan(PIECES[12].card)
    day.type(f"box {PIECES[12].article}", "unsigned", "next")
    day.type("signed 2026-12-21")  # it was signed after all
    day.scan(PIECES[11].card)
    day.type(f"box {PIECES[11].box}", "name Theda Orrick", "next")
    yield day.end()
    yield day.run("outstanding --older-than 30d", "2026-12-30T11:00:00")


def main() -> None:
    """Write the transcript again."""
    codes, transcript = play()
    print("exit codes", codes)
    GOLDEN.write_text(transcript)


if __name__ == "__main__":
    main()
