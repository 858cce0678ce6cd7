"""All that can be read at one place, the cheap ways first.

A place is a quad in the photo where a symbol is known or suspected. It is cut out,
laid flat and given to both engines; then the rows are averaged into a profile for
them; and where that is not enough our own reader looks at the profile, and at two
disjoint halves of it.

Our own reader alone is believed for a text of more than 12 characters, or of other signs than
letters and digits, or under bars lower than 8 X, only if it is a number whose check digit holds:
three crops in 29,000 gave a number that had lost or gained an end. One engine alone is believed in
two bands only where our own reader does not say otherwise (`tests/benchmarks/RESULTS.md`).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pairing.model import Quad
from pairing.photos.barcodes.engines import Detection, Engine, Engines, Gray, Scope
from pairing.photos.barcodes.own_reading import contradicting_votes, own_fit, own_votes
from pairing.photos.barcodes.profile import Profiles, profiles_of, row_runs
from pairing.photos.barcodes.profile_image import profile_image
from pairing.photos.barcodes.rectify import Strip, cut_strip, flat_cut
from pairing.photos.barcodes.votes import LOWER, UPPER, Vote, outcome
from pairing.photos.code128.scanline import swings

_QUARTERS = 4
_LEAST_QUARTER_ROWS = 6
_ROWS_SCANNED, _LEAST_ROWS_SCANNED = 40, 24
_MOST_PARTS = 3
_BLANK_COLUMNS = 33
_INSET = 0.22
_EDGE = 0.12  # of the bars' contrast
_CLEAR_AGREEMENT = 0.85
_LEAST_AGREEMENT = 0.75
"""Correlation of the two halves below which rows show no common bars. Measured: of 840 averages
of rows of damaged crops and drawn scenes that engines were asked about, 66 were read, all at 0.87
and more."""

_LEAST_OWN_AGREEMENT = 0.9
"""The same below which our own reader is not asked. Measured: on the damage ladder and the
reference photos it never read anything below 0.93; of what it refused in photos without bars
about half lay below 0.9."""

_LEAST_EXPLAINED, _MOST_EXPLAINED = 0.75, 0.9
"""Of all rows' variance, between which the middle rows are tried: where it is explained better
the outer rows are not what is amiss. Measured on 500 damaged crops: of 104 middles 3 were read,
where all rows came to 0.80, 0.88 and 0.895; 15 lay below, 21 above."""

_FEWEST_OWN_EDGES, _MOST_OWN_EDGES = 40, 180
"""Changes between dark and light between which our own reader is asked. Measured on 400 damaged
crops: of 102 numbers that it read one showed 43, all others 55 and more; a form's words on drawn
cards show 21 to 38. 27 characters, more than any number here has, show 169 (ISO/IEC 15417: six to
a character and seven); the grain of a table shows more."""

_LEAST_CORE_AGREEMENT = 0.88
"""The same of a place's middle rows alone, where all of them fell short. Measured on 221 damaged
crops: of 51 numbers that our own reader read one lay below 0.92, at 0.884. Of the middles of 24
places without bars in sample_scans 15 lie below."""


@dataclass(frozen=True, slots=True, kw_only=True)
class QuickRead:
    """What the engines made of a place. votes: earlier ones too. strip, profiles: what is left for
    our own reader to try; None where the votes settle the place or its rows show no common bars."""

    quad: Quad
    votes: tuple[Vote, ...]
    strip: Strip | None = None
    profiles: Profiles | None = None

    @property
    def agreement(self) -> float:
        """How far the two halves of the place show the same bars; 0 where nothing is left."""
        return 0.0 if self.profiles is None else self.profiles.whole.agreement

    @property
    def edges(self) -> int:
        """Changes between dark and light along what is left to try."""
        if self.profiles is None:
            return 0
        first, last = (int(max(column, 0)) for column in self.profiles.bars)
        return swings(self.profiles.whole.dark[first:last] - 0.5, _EDGE)


def read_place(
    gray: Gray, quad: Quad, engines: Engines, votes: tuple[Vote, ...] = ()
) -> tuple[Vote, ...]:
    """Votes on the symbol at `quad`, going only as far as needed; earlier votes count."""
    return read_slowly(gray, read_quickly(gray, quad, engines, votes))


def read_quickly(
    gray: Gray, quad: Quad, engines: Engines, votes: tuple[Vote, ...] = ()
) -> QuickRead:
    """What the engines read at `quad`, in its rows and in their average; earlier votes count."""
    strip = cut_strip(gray, quad)
    if strip is None:
        return QuickRead(quad=quad, votes=votes)
    votes += _engine_votes(_rows_to_scan(strip.pixels), strip, engines, None)
    if is_settled(votes):
        return QuickRead(quad=quad, votes=votes)
    profiles = profiles_of(strip)
    if profiles.whole.agreement < _LEAST_AGREEMENT:
        return QuickRead(quad=quad, votes=votes)
    for blanked in (False, True):
        picture = profile_image(profiles.whole, strip, blanked=blanked)
        votes += _engine_votes(picture, strip, engines, profiles)
        if not is_settled(votes):
            votes += _band_votes(strip, engines, profiles, votes, blanked=blanked)
            if is_settled(votes):  # by one engine alone, whose bands err alike in one photo
                votes += contradicting_votes(strip, profiles, votes[0].text)
        if is_settled(votes):
            return QuickRead(quad=quad, votes=votes)
    return QuickRead(quad=quad, votes=votes, strip=strip, profiles=profiles)


def read_slowly(gray: Gray, quick: QuickRead) -> tuple[Vote, ...]:
    """The votes on a place, those of our own reader too where the engines' do not settle it."""
    votes, strip, profiles = quick.votes, quick.strip, quick.profiles
    if strip is None or profiles is None:
        return votes
    if not _FEWEST_OWN_EDGES <= quick.edges <= _MOST_OWN_EDGES:
        return votes
    agreement = profiles.whole.agreement
    is_tried = agreement >= _LEAST_OWN_AGREEMENT
    fit = own_fit(strip, profiles) if is_tried else None
    own = own_votes(strip, profiles, fit)
    is_hopeless = is_tried and (
        fit is None or not _LEAST_EXPLAINED <= fit.explained < _MOST_EXPLAINED
    )
    if own or agreement <= _CLEAR_AGREEMENT or is_hopeless:
        return votes + own
    # Text and the bars' ragged ends spoil the outer rows: the middle alone, then.
    core = cut_strip(gray, quick.quad, inset_rows=_INSET)
    if core is None:
        return votes
    profiles = profiles_of(core)
    if profiles.whole.agreement < _LEAST_CORE_AGREEMENT:
        return votes
    return votes + own_votes(core, profiles, own_fit(core, profiles))


def parts_of(gray: Gray, quad: Quad) -> list[Quad]:
    """The parts of a block that show one pattern of bars each, tallest first.

    Empty where the whole block is one pattern: there is nothing to take apart.
    """
    strip = cut_strip(gray, quad)
    if strip is None:
        return []
    rows = len(strip.pixels)
    runs = [run for run in row_runs(strip) if run[1] - run[0] < 0.85 * rows]
    runs.sort(key=lambda run: run[0] - run[1])
    return [
        strip.quad(strip.bars[0], strip.bars[1], top=first, bottom=last)
        for first, last in runs[:_MOST_PARTS]
    ]


def tallest_part(gray: Gray, quad: Quad) -> Quad:
    """The part of a block whose rows show one pattern of bars highest: the block itself where it
    cannot be told. Print below bars may be in a block's foot, too low to be a part of its own."""
    strip = cut_strip(gray, quad)
    runs = [] if strip is None else row_runs(strip)
    if strip is None or not runs:
        return quad
    first, last = max(runs, key=lambda run: run[1] - run[0])
    return strip.quad(strip.bars[0], strip.bars[1], top=first, bottom=last)


def is_settled(votes: tuple[Vote, ...]) -> bool:
    """Whether the votes agree and are enough."""
    return bool(outcome(votes).accepted)


def _rows_to_scan(pixels: NDArray[np.float32]) -> Gray:
    """As many rows as an engine needs; each costs it the same, and neighbors say the same."""
    step = max(1, len(pixels) // _ROWS_SCANNED)
    picture = np.clip(pixels[step // 2 :: step], 0, 255).astype(np.uint8)
    return np.repeat(picture, -(-_LEAST_ROWS_SCANNED // len(picture)), axis=0)


def _engine_votes(
    picture: Gray, strip: Strip, engines: Engines, profiles: Profiles | None
) -> tuple[Vote, ...]:
    """What the engines read on a flat picture whose columns are the strip's, or a multiple."""
    out: list[Vote] = []
    for engine in engines.present:
        for detection in engine.read(picture, scope=Scope.CODE_128, is_flat=True):
            out.append(_vote(detection, picture, strip, profiles))
    return tuple(out)


def _band_votes(
    strip: Strip,
    engines: Engines,
    profiles: Profiles,
    votes: tuple[Vote, ...],
    *,
    blanked: bool,
) -> tuple[Vote, ...]:
    """Where one engine alone read the bars: what it reads on disjoint bands of them.

    The bands share no row, so that a blot or a crease that misled it in one is not in the
    other: first the two halves, averaged, then four quarters as they are.
    """
    seen = {vote.engine for vote in votes}
    if len(seen) != 1:
        return ()
    (alone,) = [engine for engine in engines.present if engine.name in seen] or (None,)
    if alone is None:
        return ()
    halves = tuple(
        replace(vote, band=band, exact=False)
        for band, profile in ((UPPER, profiles.upper), (LOWER, profiles.lower))
        for vote in _one_engine_votes(profile_image(profile, strip, blanked=blanked), alone, strip)
    )
    return halves if is_settled(votes + halves) else halves + _quarter_votes(strip, profiles, alone)


def _quarter_votes(strip: Strip, profiles: Profiles, alone: Engine) -> tuple[Vote, ...]:
    """The first and the last quarter of the bars that the engine reads, if they are two."""
    borders = np.linspace(profiles.top, profiles.bottom, _QUARTERS + 1).round().astype(int)
    read: list[tuple[Vote, ...]] = []
    for first, last in pairwise(borders.tolist()):
        if last - first < _LEAST_QUARTER_ROWS:
            return ()
        picture = _rows_to_scan(strip.pixels[first:last])
        read.append(_one_engine_votes(picture, alone, strip))
    hits = [votes for votes in read if votes]
    if len(hits) < 2:
        return ()
    named = [(UPPER, votes) for votes in hits[:-1]] + [(LOWER, hits[-1])]
    return tuple(replace(v, band=band, exact=False) for band, votes in named for v in votes)


def _one_engine_votes(picture: Gray, engine: Engine, strip: Strip) -> tuple[Vote, ...]:
    found = engine.read(np.ascontiguousarray(picture), scope=Scope.CODE_128, is_flat=True)
    return tuple(_vote(detection, picture, strip, None) for detection in found)


def _vote(detection: Detection, picture: Gray, strip: Strip, profiles: Profiles | None) -> Vote:
    rows, columns = picture.shape
    across = strip.pixels.shape[1] / columns
    down = len(strip.pixels) / rows
    xs = [p[0] * across for p in detection.points] or [0.0, float(strip.pixels.shape[1])]
    # zbar's points may lie on one line: the strip's own rows say more.
    exact = len(detection.points) == 4 and detection.turn_deg is None
    ys = [down * p[1] for p in detection.points] if exact else [0.0, float(len(strip.pixels))]
    first, last = min(xs), max(xs)
    if not exact and last - first < 0.5 * (strip.bars[1] - strip.bars[0]):  # met at one place only
        first, last = strip.bars
    backwards = (
        detection.points[0][0] > detection.points[1][0] if exact else detection.turn_deg == 180
    )
    if profiles is None:
        top, bottom = min(ys), max(ys)
    else:
        top, bottom = profiles.top, profiles.bottom
    if backwards:
        first, last = last, first
    quad = strip.quad(first, last, top=top, bottom=max(bottom, top + 1))
    return Vote.of(detection, quad, exact=exact)


def quick_witness(gray: Gray, quad: Quad, engine: Engine, modules: int) -> tuple[Vote, ...]:
    """One engine's word on a symbol whose place is known, at the least cost."""
    picture = flat_cut(gray, quad, columns=modules * 3, rows=24, quiet_columns=36)
    # The ends are known, so print beyond them need not disturb the engine.
    light = np.percentile(picture, 90, axis=1, keepdims=True).astype(np.uint8)
    picture[:, :_BLANK_COLUMNS] = light
    picture[:, -_BLANK_COLUMNS:] = light
    return tuple(
        Vote.of(detection, quad, exact=False)
        for detection in engine.read(picture, scope=Scope.CODE_128, is_flat=True)
    )
