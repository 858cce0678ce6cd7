"""The lot that a sample is drawn from, and the record of the draw."""

from __future__ import annotations

import hashlib
import json
import os
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import Literal

import msgspec

from pairing import output, whole_file
from pairing.audit.statistics import selection
from pairing.audit.statistics.piece_lists import Listed
from pairing.audit.statistics.plans import Stage, two_stages
from pairing.audit.statistics.sampling import Ranking
from pairing.audit.statistics.strata import Stratum
from pairing.errors import TableUnusable
from pairing.numbers.text import is_digits

FORMAT, FORMAT_WITH_PLAN = "counterfoil sample 1", "counterfoil sample 2"
"""Of one random sample; of every other plan, which an earlier version of the program must not take
for a random one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """What a sample is to show. share: the share of bad pairs that is tolerated at most, with this
    confidence; allowed: bad pieces that the sample may hold; expected: the share that was expected
    when it was planned, "" where none was. All decimals as text."""

    share: str
    confidence: str
    allowed: int = 0
    expected: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """A sample that was drawn, with all that is needed to draw it again.

    lot: pieces in the list, each once. list_sha256: of the names, each followed by a line
    feed (UTF-8; with a tab and its stratum or value in between, where it is drawn by these), so
    that another list is not taken for this one. share, confidence, allowed, expected: as in
    `Plan`. pieces: those drawn, of two stages those of the first. method: "random", "systematic"
    or "value". second: pieces of a second stage, fixed beforehand. spares: what stands in for void
    pieces, in this order. strata: with pieces and spares of each. points: of a sample by value,
    how many of its points lie on each piece; value: of the whole lot, as decimal text.
    """

    lot: int
    size: int
    share: str
    confidence: str
    allowed: int
    seed: str
    list_sha256: str
    pieces: tuple[str, ...]
    format: str = FORMAT
    expected: str = ""
    method: Literal["random", "systematic", "value"] = "random"
    second: tuple[str, ...] = ()
    spares: tuple[str, ...] = ()
    strata: tuple[Stratum, ...] = ()
    points: dict[str, int] = field(default_factory=dict)
    value: str = ""

    @property
    def names(self) -> frozenset[str]:
        """Every piece that is to be photographed, or may stand in for another."""
        spare = (name for stratum in self.strata for name in stratum.spares)
        return frozenset((*self.pieces, *self.second, *self.spares, *spare))

    @property
    def stages(self) -> tuple[Stage, ...]:
        """The plan's stages: one, or two of equal size."""
        if self.second:
            return two_stages(self.size, self.allowed)
        return (Stage(self.size, self.allowed, self.allowed + 1),)


_ALWAYS = ("lot", "size", "share", "confidence", "allowed", "seed", "list_sha256", "pieces")


@dataclass(frozen=True, slots=True)
class Numbered:
    """The names of a lot of which only the size is known: 1 to `lot`, with leading zeros. They
    are made when asked for, so that a lot of any size takes no memory."""

    lot: int

    def __len__(self) -> int:
        return self.lot

    def __contains__(self, name: object) -> bool:
        is_shaped = isinstance(name, str) and len(name) == len(str(self.lot)) and is_digits(name)
        return is_shaped and 1 <= int(str(name)) <= self.lot

    def __iter__(self) -> Iterator[str]:
        width = len(str(self.lot))
        return (f"{n:0{width}}" for n in range(1, self.lot + 1))


def distinct(names: Iterable[str]) -> Sequence[str]:
    """The names once each, in order."""
    return tuple(dict.fromkeys(names))


def draw_from(  # noqa: PLR0913 - what is recorded of the plan
    names: Iterable[str],
    *,
    size: int,
    seed: str,
    share: str,
    confidence: str,
    allowed: int,
    expected: str = "",
    second: int = 0,
    spares: int = 0,
) -> Drawn:
    """Draw, and record how. names: each once (`distinct`, `Numbered`); they are gone through
    once, and only the sample is kept in memory. second: pieces of the second stage; spares: those
    that may stand in for void ones."""
    digest, ranking, lot = hashlib.sha256(), Ranking(size + second + spares, seed=seed), 0
    for name in names:
        digest.update(f"{name}\n".encode())
        ranking.add(name)
        lot += 1
    first, more, spare = ranking.parts(size, second)
    return Drawn(
        lot=lot,
        size=min(size, lot),
        share=share,
        confidence=confidence,
        allowed=allowed,
        seed=seed,
        list_sha256=digest.hexdigest(),
        pieces=first,
        second=more,
        spares=spare,
        expected=expected,
        format=FORMAT_WITH_PLAN if expected or more or spare else FORMAT,
    )


def draw_systematic(names: Collection[str], plan: Plan, *, size: int, seed: str) -> Drawn:
    """Every so-manyth piece of the list from a random start. names: each once."""
    return Drawn(
        lot=len(names),
        size=size,
        **asdict(plan),
        seed=seed,
        list_sha256=_digest(names),
        pieces=selection.systematic(names, lot=len(names), size=size, seed=seed),
        method="systematic",
        format=FORMAT_WITH_PLAN,
    )


def draw_strata(
    listed: Collection[Listed], sizes: Mapping[str, int], plan: Plan, *, seed: str, spares: int = 0
) -> Drawn:
    """So many pieces of each stratum, and `spares` more of each. listed: each piece once."""
    rankings = {name: Ranking(size + spares, seed=seed) for name, size in sizes.items()}
    for one in listed:
        rankings[one.stratum].add(one.name)
    many = Counter(one.stratum for one in listed)
    strata = []
    for name, ranking in rankings.items():
        pieces, spare = ranking.parts(sizes[name])
        strata.append(Stratum(name=name, lot=many[name], pieces=pieces, spares=spare))
    drawn = tuple(name for stratum in strata for name in stratum.pieces)
    return Drawn(
        lot=len(listed),
        size=len(drawn),
        **asdict(plan),
        seed=seed,
        list_sha256=_digest(f"{one.name}\t{one.stratum}" for one in listed),
        pieces=drawn,
        strata=tuple(strata),
        format=FORMAT_WITH_PLAN,
    )


def draw_by_value(listed: Collection[Listed], plan: Plan, *, size: int, seed: str) -> Drawn:
    """`size` points of the lot's value, and the pieces that they lie on."""
    total = sum((one.value for one in listed), Fraction(0))
    points = selection.by_value(
        ((one.name, one.value) for one in listed), total=total, size=size, seed=seed
    )
    return Drawn(
        lot=len(listed),
        size=size,
        **asdict(plan),
        seed=seed,
        list_sha256=_digest(f"{one.name}\t{one.value}" for one in listed),
        pieces=tuple(points),
        method="value",
        points=points,
        value=f"{float(total):.2f}",
        format=FORMAT_WITH_PLAN,
    )


def _digest(lines: Iterable[str]) -> str:
    digest = hashlib.sha256()
    for line in lines:
        digest.update(f"{line}\n".encode())
    return digest.hexdigest()


def write(drawn: Drawn, target: Path) -> None:
    """Write the record as JSON. Raises OutputRefused."""
    members = {name: one for name, one in asdict(drawn).items() if one or name in _ALWAYS}
    text = json.dumps(members, indent=1) + "\n"
    output.replace(target, [text.encode()], remedy="Name a file in a folder that you may write to.")


def read(source: Path) -> Drawn:
    """Read a record back. Raises TableUnusable."""
    try:
        drawn = msgspec.json.decode(whole_file.read(source), type=Drawn)
        if drawn.format not in (FORMAT, FORMAT_WITH_PLAN):
            raise ValueError(drawn.format)  # noqa: TRY301 - worded below
        if not (0 < float(drawn.share) < 1 and 0 < float(drawn.confidence) < 1):
            raise ValueError(drawn.share)  # noqa: TRY301 - worded below
    except OSError as error:
        raise TableUnusable(
            f"The sample cannot be read ({error.strerror or error})",
            where=os.fspath(source),
            remedy="Name the file that `counterfoil sample --out` wrote.",
        ) from error
    except (msgspec.MsgspecError, ValueError, RecursionError) as error:
        raise TableUnusable(
            "This is not a sample that this program drew",
            where=os.fspath(source),
            remedy="Draw one with `counterfoil sample --out FILE.json`.",
        ) from error
    return drawn
