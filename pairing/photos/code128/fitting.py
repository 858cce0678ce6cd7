"""Where a symbol's characters lie on a profile, and what they say.

Both ends, the number of characters, the blur and the ink spread are unknown at
first. Many guesses are scored cheaply, the few best are decoded by `likelihood`,
and each decoded guess is used to measure place, blur and contrast better, until
nothing changes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from pairing.photos.barcodes.profile import Profile
from pairing.photos.code128 import blur, encoding, likelihood, rough_costs
from pairing.photos.code128.beam import CHARACTER_NATS
from pairing.photos.code128.beamsearch import nats_of
from pairing.photos.code128.blur import CELL, LEAD, SAMPLES, BlurModel
from pairing.photos.code128.likelihood import Chain
from pairing.photos.code128.placements import (
    KNOTS,
    Placement,
    blurred_placements,
    even_placements,
    rough_model,
    sharp_placements,
)
from pairing.photos.code128.scanline import ScanLine, swings

Floats = NDArray[np.float64]

_WAVE_PRICE = 5.0
_BEYOND_MODULES, _BEYOND_SWING = 13.0, 0.4
_CLEAR_AGREEMENT = 0.75  # halves that agree so far belong to bars, however blurred
_PLAIN_EXPLAINED = 0.85
_MOST_UNEXPLAINED = 0.28
"""Share of a profile's variance that a first decode may leave. Measured on tilted reference
photos and damaged drawings: at most 0.23 at true placements, at least 0.31 at 95 % of others."""
_HARDLY_WORSE = 1.1
"""Measured on the damage ladder, turned reference photos and 400 crops: of the placements of one
way of guessing it was always the best that led to a number, 169 times of 169."""

_MODELS_TRIED = 2  # of the blurs to start from, once all have been tried on trust
_MOST_ABOVE_NATS = 100.0
"""What runs that pass their check may cost above the best that does not, and the next one with
them. Measured on 150 damaged crops: of 56 such runs those 16 that were sure by 30 nats cost at most
17 more, and the next one 70."""

_HOPELESS_EXPLAINED = 0.5  # share of variance that even a first decode of true bars explains


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """A decoded profile.

    chain: the best run of characters.
    noise: root mean square of darkness that the best run leaves unexplained.
    explained: share of the profile's variance that the best run explains.
    confidence: by how many nats the best run beats the next one, given that noise.
    """

    placement: Placement
    model: BlurModel
    chain: Chain
    noise: float
    explained: float
    confidence: float


def fit_symbol(profile: Profile, bars: tuple[float, float], *, least_x: float) -> Fit | None:
    """Find and decode the one symbol on a profile, None where nothing fits.

    bars: the columns between which the bars lie, roughly.
    least_x: fewest columns a module to consider.
    """
    line = ScanLine(dark=profile.dark, trust=profile.trust, bars=bars)
    best: Fit | None = None
    is_followed = False
    for guess in (sharp_placements, even_placements, blurred_placements):
        # Measured on 500 damaged crops: where bars could be followed in focus, or nearly, following
        # them as blurred ones led to none of 117 numbers, and took a fifth of this reader's time.
        if guess is blurred_placements and is_followed:
            break
        for placement in _promising(profile, guess(line, least_x)):
            fit = _settled(profile, placement)
            is_followed |= guess is sharp_placements
            if fit is not None and (best is None or _rank(fit) > _rank(best)):
                best = fit
                if _is_plain(fit):
                    return fit
        if profile.agreement < _CLEAR_AGREEMENT:
            break
    if best is None or best.chain.passes or best.explained < _PLAIN_EXPLAINED:
        return best
    return _checked(profile, best)


def _is_plain(fit: Fit) -> bool:
    """Whether looking further would be a waste of time."""
    return fit.chain.passes and fit.explained > _PLAIN_EXPLAINED and fit.confidence > 60


def decode_again(profile: Profile, fit: Fit) -> Fit:
    """Decode another profile of the same symbol where `fit` found it."""
    dark, trust = _sampled(profile, fit.placement)
    dark = _levelled(dark, trust, fit.model.predicted(fit.chain.values))
    chain = likelihood.best_chain(dark, trust, fit.model)
    return _judged(dark, trust, fit.placement, fit.model, chain)


def weakest_cell(profile: Profile, fit: Fit) -> float:
    """The largest share of its own bars that any one character leaves unexplained.

    A run that goes on into bare paper or noise, or starts inside another symbol, may
    fit well on the whole; the characters that are not there do not.
    """
    predicted = fit.model.predicted(fit.chain.values)
    dark, trust = _sampled(profile, fit.placement)
    dark = _levelled(dark, trust, predicted)
    cells = fit.placement.characters
    body = slice(LEAD, LEAD + cells * CELL)
    error = ((dark - predicted)[body] ** 2).reshape(cells, CELL).sum(axis=1)
    bars = predicted[body].reshape(cells, CELL)
    spread = ((bars - bars.mean(axis=1, keepdims=True)) ** 2).sum(axis=1)
    end = slice(LEAD + cells * CELL, LEAD + cells * CELL + encoding.STOP_MODULES * SAMPLES)
    stop = predicted[end]
    stop_error = float(((dark - predicted)[end] ** 2).sum()) / float(
        ((stop - stop.mean()) ** 2).sum()
    )
    return max(float((error / spread).max()), stop_error)


def swings_beyond(profile: Profile, fit: Fit) -> int:
    """Changes between dark and light within one character's width outside either end.

    A frame or an edge of paper makes two; more means that the symbol goes on.
    """
    x = fit.placement.x_columns
    first, last = sorted((fit.placement.knots[0], fit.placement.knots[-1]))
    reach = _BEYOND_MODULES * x
    shown = profile.dark * np.minimum(1.0, profile.trust)
    size = len(shown)
    before = shown[int(max(0, first - reach)) : int(max(0, first - 0.7 * x))]
    after = shown[int(min(size, last + 0.7 * x)) : int(min(size, last + reach))]
    return max(swings(before, _BEYOND_SWING), swings(after, _BEYOND_SWING))


def _rank(fit: Fit) -> tuple[bool, float]:
    return fit.chain.passes and fit.explained > 0.6 and fit.confidence > 5, fit.confidence


@lru_cache(maxsize=1)
def _first_models() -> tuple[BlurModel, ...]:
    """Blurs to start from; they are refined on the profile itself afterward."""
    return (
        BlurModel(blur.gaussian_blur(0.35)),
        BlurModel(blur.gaussian_blur(0.6)),
        BlurModel(blur.disk_blur(1.3)),
        BlurModel(blur.box_blur(2.0)),
        BlurModel(blur.box_blur(2.8)),
    )


def _promising(profile: Profile, placements: Sequence[Placement]) -> list[Placement]:
    """The placement at which some run of characters comes nearest to the profile, and others
    that do hardly worse; none where no run comes near."""
    scored: list[tuple[float, Placement]] = []
    sampled = [_sampled(profile, placement)[0] for placement in placements]
    costs = rough_costs.least_costs(sampled, (_first_models()[0], rough_model())).min(axis=0)
    for placement, dark, cost in zip(placements, sampled, costs.tolist(), strict=True):
        spread = max(float(dark.var()), 1e-9)
        if cost >= _MOST_UNEXPLAINED * len(dark) * spread:
            continue
        price = placement.characters * CHARACTER_NATS / nats_of(placement.x_columns)
        modules = encoding.symbol_modules(placement.characters + 1)
        scored.append(((cost + price) / (spread * modules), placement))
    scored.sort(key=lambda pair: pair[0])
    return [placement for score, placement in scored if score < _HARDLY_WORSE * scored[0][0]][:2]


def _settled(profile: Profile, placement: Placement) -> Fit | None:
    """Decode, measure place, blur and contrast on the result, decode again."""
    dark, trust = _sampled(profile, placement)
    rough = rough_costs.least_costs([dark], _first_models())[:, 0]
    likeliest = [_first_models()[i] for i in np.argsort(rough)[:_MODELS_TRIED]]
    chains = [(likelihood.best_chain(dark, trust, model), model) for model in likeliest]
    chain, model = min(chains, key=lambda pair: pair[0].cost)
    best: Fit | None = None
    for turn in range(5):
        predicted = model.predicted(chain.values)
        placement = _moved(profile, placement, predicted)
        dark, trust = _sampled(profile, placement)
        dark = _levelled(dark, trust, predicted)
        model = _measured_blur(dark, trust, chain.values, model)
        previous, chain = chain, likelihood.best_chain(dark, trust, model)
        fit = _judged(dark, trust, placement, model, chain)
        if best is None or fit.noise < best.noise:
            best = fit
        if chain.values == previous.values and fit.noise > 0.97 * best.noise and turn > 0:
            break
        if fit.explained < _HOPELESS_EXPLAINED + 0.1 * turn:
            return best
    return best


def _checked(profile: Profile, fit: Fit) -> Fit:
    """Where the best run fails its check: the best run that passes it."""
    dark, trust = _sampled(profile, fit.placement)
    dark = _levelled(dark, trust, fit.model.predicted(fit.chain.values))
    chain = likelihood.best_checked_chain(
        dark,
        trust,
        fit.model,
        most_above=_MOST_ABOVE_NATS / _nats_each(fit.noise**2, fit.placement),
    )
    if chain is None:
        return fit
    # What passing the check cost counts against it: the likeliest run said otherwise.
    penalty = max(0.0, chain.cost - fit.chain.cost)
    chain = replace(chain, margin=chain.margin - penalty)
    return _judged(dark, trust, fit.placement, fit.model, chain)


def _sampled(profile: Profile, placement: Placement) -> tuple[Floats, Floats]:
    columns = placement.columns()
    grid = np.arange(len(profile.dark)) + 0.5
    dark = np.interp(columns, grid, profile.dark)
    trust = np.interp(columns, grid, profile.trust)
    trust = np.where((columns < 0) | (columns > len(grid)), 0.0, trust)
    # The quiet zone may be printed on: it says little about the characters.
    trust[: LEAD // 2] *= 0.25
    trust[-LEAD // 2 :] *= 0.25
    return dark, trust


def _levelled(dark: Floats, trust: Floats, predicted: Floats) -> Floats:
    """Contrast and level, changing slowly along the symbol, fitted to the prediction."""
    pieces = max(2, min(8, len(dark) // (3 * CELL)))
    hats = _hats(len(dark), pieces)
    design = np.concatenate([hats * predicted[:, None], hats], axis=1)
    weighted = design * trust[:, None]
    prior = np.concatenate([np.ones(pieces), np.zeros(pieces)])
    ridge = 2.0 * np.eye(2 * pieces)
    solution = np.linalg.solve(design.T @ weighted + ridge, weighted.T @ dark + ridge @ prior)
    gain = np.clip(hats @ solution[:pieces], 0.3, 2.5)
    return np.asarray((dark - hats @ solution[pieces:]) / gain)


def _hats(size: int, count: int) -> Floats:
    """`count` overlapping triangles that sum to one over `size` samples."""
    along = np.linspace(0, count - 1, size)[:, None]
    return np.asarray(np.clip(1 - np.abs(along - np.arange(count)[None]), 0, 1))


def _moved(profile: Profile, placement: Placement, predicted: Floats) -> Placement:
    """The placement shifted, knot by knot, to where the prediction lies on the profile."""
    slope = np.gradient(predicted)
    for _ in range(3):
        dark, trust = _sampled(profile, placement)
        dark = _levelled(dark, trust, predicted)
        hats = _hats(len(dark), KNOTS)
        design = hats * slope[:, None]
        weighted = design * trust[:, None]
        step = (placement.knots[-1] - placement.knots[0]) / (
            encoding.symbol_modules(placement.characters + 1) * SAMPLES
        )
        # A change of scale along the symbol is perspective; a change of that change is
        # paper that is not flat, and has to be paid for.
        wave = np.diff(np.eye(KNOTS), 3, axis=0)
        scale = float((weighted * design).sum()) / KNOTS
        ridge = scale * _WAVE_PRICE * wave.T @ wave
        wanted = weighted.T @ (dark - predicted) + ridge @ (np.array(placement.knots) / step)
        shift = np.linalg.solve(design.T @ weighted + ridge + 0.01 * scale * np.eye(KNOTS), wanted)
        # dark(u) = predicted(u + shift): the sample belongs `shift` samples further on.
        shift = np.clip(shift, -3.0, 3.0)
        knots = np.array(placement.knots) - shift * step
        if np.any(np.diff(knots) * np.sign(step) <= 0):
            return placement
        placement = replace(placement, knots=tuple(float(k) for k in knots))
        if float(np.abs(shift).max()) < 0.05:
            break
    return placement


def _measured_blur(
    dark: Floats, trust: Floats, values: tuple[int, ...], model: BlurModel
) -> BlurModel:
    """The blur kernel and bar gain that best turn the decoded bars into the profile."""
    gain = _measured_gain(dark, trust, values, model)
    reach = 3 * SAMPLES
    sharp = BlurModel(np.array([1.0]), gain).predicted(values)
    windows = np.lib.stride_tricks.sliding_window_view(np.pad(sharp, reach), 2 * reach + 1)
    # A symmetric kernel: half as many unknowns, and no shift that `_moved` should make.
    folded = windows[:, reach:].copy()
    folded[:, 1:] += windows[:, :reach][:, ::-1]
    weighted = folded * trust[:, None]
    distance = np.arange(reach + 1) / SAMPLES
    middle = len(model.kernel) // 2
    prior = np.zeros(reach + 1)
    size = min(middle, reach) + 1
    prior[:size] = model.kernel[middle : middle + size]
    smooth = np.diff(np.eye(reach + 1), 2, axis=0)
    scale = float(trust.sum())
    ridge = scale * (
        0.02 * smooth.T @ smooth + np.diag(0.004 + 0.02 * np.clip(distance - 1.2, 0, None) ** 2)
    )
    half = np.linalg.solve(folded.T @ weighted + ridge, weighted.T @ dark + ridge @ prior)
    kernel = np.concatenate([half[:0:-1], half])
    kernel = np.clip(kernel, 0, None)
    if kernel.sum() <= 0.2:
        return model
    return BlurModel(kernel / kernel.sum(), gain)


def _measured_gain(dark: Floats, trust: Floats, values: tuple[int, ...], model: BlurModel) -> float:
    """Ink spread in modules: bars wider than nominal by this much."""
    step = 0.1
    wider = BlurModel(model.kernel, model.gain + step).predicted(values)
    here = model.predicted(values)
    slope = (wider - here) / step
    norm = float((trust * slope * slope).sum())
    if norm <= 1e-9:
        return model.gain
    change = float((trust * slope * (dark - here)).sum()) / norm
    return float(np.clip(round((model.gain + np.clip(change, -0.15, 0.15)) * 20) / 20, -0.4, 0.4))


def _nats_each(error: float, placement: Placement) -> float:
    """Nats for a squared darkness error where the mean one is `error`."""
    # Neighboring samples repeat each other where a module has fewer columns.
    independent = min(1.0, placement.x_columns / SAMPLES)
    return independent / (2 * max(error, 4e-4))


def _judged(
    dark: Floats, trust: Floats, placement: Placement, model: BlurModel, chain: Chain
) -> Fit:
    predicted = model.predicted(chain.values)
    total = float(trust.sum()) + 1e-9
    error = float((trust * (dark - predicted) ** 2).sum()) / total
    mean = float((trust * dark).sum()) / total
    spread = float((trust * (dark - mean) ** 2).sum()) / total
    confidence = chain.margin * _nats_each(error, placement)
    return Fit(
        placement=placement,
        model=model,
        chain=chain,
        noise=float(np.sqrt(error)),
        explained=1 - error / max(spread, 1e-9),
        confidence=confidence,
    )
