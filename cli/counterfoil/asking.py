"""Asking a person for what the reader could not read, with the label's number unseen.

Where one to four digits are in doubt each is shown by itself, as a picture and drawn in block
characters, and answered by one key; the rest is kept. Where it is in doubt how many there are,
the stretch is shown as one and answered with everything in it. Where more is in doubt, the
whole number is asked for.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from string import ascii_uppercase, digits

import click
import numpy as np
from numpy.typing import NDArray

from counterfoil.view import style
from pairing.errors import PhotoUnusable
from pairing.judge.box import Stretch, Thresholds
from pairing.judge.without_label import without_label
from pairing.model import Side
from pairing.photos.written.shown import half_blocks
from pairing.pieces.batch import BatchResult, PieceResult, judge_all, with_answers, with_written
from pairing.pieces.drawings import box_picture, digit_picture, write_box, write_digit
from pairing.pieces.reading import PieceReadings

_ROWS = 18
_CANNOT_TELL = ("", "\r", "\n", " ", "?")
_STRETCH = 2.2
"""Width of a drawn stretch of the box, in heights: 18 rows of two pixels, some 90 columns."""
_MOST_TYPED = 8
"""Characters that a stretch may hold: twice those that are asked for."""


def asked_all(
    read: Sequence[PieceReadings], thresholds: Thresholds, pictures: Path | None
) -> list[PieceReadings]:
    """Ask for each box that was not read; the end of input leaves the rest unread.

    pictures: where enlarged digits are written; None for a folder that is removed afterward.
    """
    with tempfile.TemporaryDirectory(prefix="counterfoil-") as passing:
        return _asked_each(read, thresholds, pictures or Path(passing))


def _asked_each(
    read: Sequence[PieceReadings], thresholds: Thresholds, folder: Path
) -> list[PieceReadings]:
    results = {id(one.piece): one for one in judge_all(read, thresholds=thresholds).pieces}
    answered: list[PieceReadings] = []
    for one in read:
        result = results.get(id(one.piece))
        if result is None or _is_read(result):
            answered.append(one)
            continue
        try:
            answered.append(_asked(one, result, thresholds, folder))
        except click.Abort:
            click.echo("\nNo more answers: the rest stays unread.", err=True)
            break
    return answered + list(read[len(answered) :])


def _is_read(result: PieceResult) -> bool:
    return any(reading.side is Side.BOX for reading in result.readings)


def without_labels(batch: BatchResult) -> BatchResult:
    """The batch as it may be seen by whoever keys the boxes that are not read: what was found on
    those pieces does not quote the label."""
    return replace(
        batch,
        pieces=tuple(
            one
            if _is_read(one)
            else replace(one, judgment=without_label(one.judgment, one.readings))
            for one in batch.pieces
        ),
    )


def _asked(
    one: PieceReadings, result: PieceResult, thresholds: Thresholds, folder: Path
) -> PieceReadings:
    asks = result.weighed.asks
    if asks and one.seen is not None and one.seen.digit_quads:
        answers = _answers(one, asks, folder)
        if answers is not None:
            settled = with_answers(one, answers)
            (again,) = judge_all([settled], thresholds=thresholds).pieces
            if _is_read(again):
                return settled
    picture = _picture_of_box(one, folder)
    name = style.plain(one.piece.name)
    while True:
        text: str = click.prompt(
            f"{name}: also in {picture}. What is written in the card's box? "
            "(Enter: cannot be read; help)",
            default="",
            show_default=False,
            err=True,
        )
        word = text.strip().lower()
        if word in _CANNOT_TELL:
            return one
        if word == "end":
            raise click.Abort
        if word != "help":
            return with_written(one, text.strip().removeprefix("/"))
        click.echo(_HELP, err=True)


_HELP = """\
  NUMBER   what is written in the box, as you read it; / before it may be typed or left out
  Enter    it cannot be read (so does ?): the piece stays unread
  end      stop asking; the rest stays unread (so does Ctrl+D)
  help     these lines"""


def _draw_box(picture: NDArray[np.uint8]) -> None:
    """The box in block characters, cut into stretches that are wide enough to be read."""
    wide = picture.shape[1]
    parts = max(1, round(wide / (_STRETCH * picture.shape[0])))
    over = wide // (16 * parts)  # a digit on the cut is whole in one of the two
    for part in range(parts):
        first, last = part * wide // parts - over, (part + 1) * wide // parts + over
        cut = picture[:, max(0, first) : min(wide, last)]
        click.echo("\n".join([*_drawable(half_blocks(cut, rows=_ROWS)), ""]), err=True)


def _picture_of_box(one: PieceReadings, folder: Path) -> str:
    """What a person opens to read the box. The label, and so its photo, must not be before
    their eyes; where no box was found the photo is all there is."""
    try:
        alone, picture = write_box(one, folder), box_picture(one)
    except PhotoUnusable:
        alone = picture = None
    if alone is not None and picture is not None:
        _draw_box(picture)
        return style.path_text(alone)
    photos = [photo for photo in one.piece.photos if photo.shows is not Side.LABEL]
    return " and ".join(style.path_text(photo.path) for photo in photos or one.piece.photos)


def _answers(
    one: PieceReadings, asks: Sequence[Stretch], folder: Path
) -> dict[Stretch, str] | None:
    """What a person read in those stretches; None where one of them cannot be told."""
    assert one.seen is not None
    assert one.seen.evidence is not None
    best = one.seen.evidence.best
    answers: dict[Stretch, str] = {}
    for stretch in asks:
        try:
            path = write_digit(one, stretch, folder)
            lines = half_blocks(digit_picture(one, stretch), rows=_ROWS)
        except PhotoUnusable:
            return None
        click.echo("\n".join(["", *_drawable(lines), ""]), err=True)
        name, where = style.plain(one.piece.name), style.path_text(path)
        if stretch.is_open:
            answer = _typed(
                f"{name}: part of the box, also in {where}. Key every character written "
                "in it, however many there are. (-: none; Enter: cannot be told) "
            )
        else:
            answer = _key(
                f"{name}: character {stretch.first} of {len(best)} in the box, also in {where}. ",
                is_letter=best[stretch.first - 1].isalpha(),
            )
        if answer is None:
            return None
        answers[stretch] = answer
    return answers


def _key(question: str, *, is_letter: bool) -> str | None:
    """One character; None where it cannot be told. Raises click.Abort at the end of input."""
    known, span = (ascii_uppercase, "A to Z") if is_letter else (digits, "0 to 9")
    which = f"Which {'letter' if is_letter else 'digit'} is it? ({span}; Enter: cannot be told) "
    while True:
        click.echo(question + which, nl=False, err=True)
        if sys.stdin.isatty():
            answer = click.getchar()
            click.echo(answer if answer.isprintable() else "", err=True)
            if answer in ("\x03", "\x04"):
                raise click.Abort
        else:
            answer = _line()
        if answer in _CANNOT_TELL:
            return None
        if len(answer) == 1 and answer.upper() in known:
            return answer.upper()
        click.echo(f"One key from {span}, or Enter.", err=True)


def _typed(question: str) -> str | None:
    """All that a person sees in a stretch; None where it cannot be told. Raises click.Abort at
    the end of input."""
    while True:
        click.echo(question, nl=False, err=True)
        answer = "".join(_line().split()).upper()
        if answer in _CANNOT_TELL:
            return None
        if answer == "-":
            return ""
        if len(answer) <= _MOST_TYPED and set(answer) <= set(digits + ascii_uppercase):
            return answer
        click.echo(f"Only what the picture shows: 1 to {_MOST_TYPED} characters.", err=True)


def _line() -> str:
    line = sys.stdin.readline()
    if not sys.stdin.isatty():
        click.echo(err=True)
    if not line:
        raise click.Abort
    return line.strip()


def _drawable(lines: Sequence[str]) -> Sequence[str]:
    """The lines as this terminal's encoding can show them."""
    encoding = getattr(sys.stderr, "encoding", None) or "ascii"
    try:
        "".join(lines).encode(encoding)
    except (UnicodeEncodeError, LookupError):
        return [line.translate({0x2580: "'", 0x2584: ".", 0x2588: "#"}) for line in lines]
    return lines
