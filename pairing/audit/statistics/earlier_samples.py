"""The samples that a run was held against before: whoever draws more until it passes is told what
that is worth."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Sequence
from pathlib import Path

import msgspec

from pairing import output, whole_file
from pairing.audit.statistics.aims import Aim
from pairing.audit.statistics.draws import FORMAT, Drawn
from pairing.audit.statistics.plans import Stage, chance_to_accept
from pairing.errors import TableUnusable

FILE = "samples.jsonl"
"""In the run's folder: one line for each sample, as it stood last."""


class Held(msgspec.Struct, frozen=True, kw_only=True):
    """A sample and its answer. pieces_sha256: of the names drawn, each followed by a line feed.
    size: pieces of all its stages. checked, bad: of those that counted."""

    list_sha256: str
    pieces_sha256: str
    seed: str
    size: int
    allowed: int
    checked: int
    bad: int
    is_reached: bool
    is_open: bool = False


def note(folder: Path, drawn: Drawn, aim: Aim) -> tuple[Held, ...]:
    """Put the sample down, and give those of the same list, not the same pieces, that did not
    reach their aim. Raises TableUnusable for a file that is damaged, OutputRefused."""
    kept = _read(folder / FILE)
    names = "".join(f"{name}\n" for name in (*drawn.pieces, *drawn.second))
    now = Held(
        list_sha256=drawn.list_sha256,
        pieces_sha256=hashlib.sha256(names.encode()).hexdigest(),
        seed=drawn.seed,
        size=drawn.size + len(drawn.second),
        allowed=drawn.allowed,
        checked=aim.checked,
        bad=aim.bad,
        is_reached=aim.is_reached,
        is_open=bool(aim.second),
    )
    others = [one for one in kept if one.pieces_sha256 != now.pieces_sha256]
    lines = (msgspec.json.encode(one) + b"\n" for one in (*others, now))
    output.replace(folder / FILE, lines)
    return tuple(
        one
        for one in others
        if one.list_sha256 == now.list_sha256 and not one.is_reached and not one.is_open
    )


def risk_of_all(earlier: Sequence[Held], drawn: Drawn) -> float | None:
    """The chance that one of these samples, each the beginning of the next one (drawn with the
    same seed), accepts a lot with just too many bad pieces; None where they are not such a row."""
    row = sorted(
        {one.size: one for one in earlier if one.size < drawn.size}.values(),
        key=lambda one: one.size,
    )
    is_row = all(one.seed == drawn.seed for one in row) and drawn.format == FORMAT
    if not row or not is_row:
        return None
    stages, before = [], 0
    for size, allowed in (*((one.size, one.allowed) for one in row), (drawn.size, drawn.allowed)):
        stages.append(Stage(size - before, allowed, size + 1))
        before = size
    bad = int(float(drawn.share) * drawn.lot) + 1
    return chance_to_accept(tuple(stages), share=float(drawn.share), lot=drawn.lot, bad=bad)


def in_words(earlier: Sequence[Held], drawn: Drawn) -> str:
    """The warning; "" where there is nothing to warn of."""
    if not earlier:
        return ""
    sizes = ", ".join(f"{one.size:,} pieces with {one.bad:,} bad or unread" for one in earlier)
    sure = 100 * float(drawn.confidence)
    text = (
        f"This lot was sampled before and did not reach the aim ({sizes}). A sample that is drawn "
        f"again or extended until it passes does not have the confidence of {sure:g} %"
    )
    risk = risk_of_all(earlier, drawn)
    if risk is not None:
        text += (
            f": together these samples accept a lot with just too many bad ones with a chance of "
            f"{100 * risk:.1f} %, not {100 - sure:.3g} %"
        )
    return f"{text}. Report all of them, or plan two stages beforehand (sample --two-stage)."


def _read(path: Path) -> list[Held]:
    try:
        lines = whole_file.read(path).splitlines() if path.exists() else []
        return [msgspec.json.decode(line, type=Held) for line in lines]
    except (OSError, msgspec.MsgspecError) as error:
        raise TableUnusable(
            f"The list of earlier samples cannot be read ({error})",
            where=os.fspath(path),
            remedy="Restore it from a copy; without it nobody can say whether this lot was "
            "sampled before.",
        ) from error
