"""Our own reader: the likeliest characters, their margin, and when it keeps silent."""

from __future__ import annotations

import numpy as np
import pytest

from pairing.photos.barcodes.halved import Halved
from pairing.photos.barcodes.locate import locate_blocks
from pairing.photos.barcodes.profile import profiles_of
from pairing.photos.barcodes.rectify import cut_strip
from pairing.photos.code128 import blur, encoding, likelihood, rough_costs
from pairing.photos.code128.fitting import fit_symbol
from tests.benchmarks.decode_damage import Scene, drawn
from tests.photos.drawing import picture, reportlab_modules, turned

# Published: github jkeen/tracking_number_data, "910112345678900000001 3" and others.
NUMBER = "9400111201080805483016"


def test_predictions_are_the_drawn_bars() -> None:
    """Without blur the predicted darkness is the bars of another implementation."""
    values = encoding.shortest_values(NUMBER)
    assert values is not None
    model = blur.BlurModel(np.array([1.0]))
    dark = model.predicted((*values, encoding.check_value(values)))
    inner = dark[blur.LEAD : -blur.LEAD]
    modules = reportlab_modules(NUMBER)
    assert len(inner) == len(modules) * blur.SAMPLES
    assert np.array_equal(inner, np.repeat(modules.astype(float), blur.SAMPLES))


@pytest.mark.parametrize(
    "kernel",
    [
        blur.gaussian_blur(0.6),
        blur.disk_blur(1.4),
        blur.box_blur(2.5),
    ],
    ids=["gaussian", "disk 1.4 X", "motion 2.5 X"],
)
def test_true_characters_are_the_likeliest(kernel: np.ndarray) -> None:
    rng = np.random.default_rng(1)
    model = blur.BlurModel(kernel)
    assert kernel.sum() == pytest.approx(1)
    for _ in range(10):
        data = (encoding.START_C, *(int(v) for v in rng.integers(0, 100, 11)))
        values = (*data, encoding.check_value(data))
        dark = model.predicted(values) + rng.normal(0, 0.02, blur.sample_count(13))
        free = likelihood.best_chain(dark, np.ones_like(dark), model)
        bound = likelihood.best_checked_chain(dark, np.ones_like(dark), model)
        assert bound is not None
        assert free.values == bound.values == values
        assert free.passes
        assert 0 < free.margin <= bound.margin + 1e-9
        twice = rough_costs.least_costs([dark, dark[::-1]], [model])[0]
        assert twice[0] == pytest.approx(free.cost, rel=1e-3)
        assert twice[1] > twice[0]


def test_the_checked_margin_is_exact() -> None:
    """Against every pair of characters changed by hand: none that passes costs less."""
    rng = np.random.default_rng(2)
    model = blur.BlurModel(blur.disk_blur(1.8))
    data = (encoding.START_C, 12, 34)
    values = (*data, encoding.check_value(data))
    dark = model.predicted(values) + rng.normal(0, 0.05, blur.sample_count(4))
    chain = likelihood.best_checked_chain(dark, np.ones_like(dark), model)
    assert chain is not None
    assert chain.values == values
    costs = []
    for a in range(103):
        for b in range(103):
            start = (encoding.START_C, a, b)
            other = (*start, encoding.check_value(start))
            costs.append(float(((dark - model.predicted(other)) ** 2).sum()))
    first, second = np.sort(costs)[:2]
    assert chain.cost == pytest.approx(first, rel=1e-5)
    # Starts A and B can only make the true next best nearer.
    assert 0 < chain.margin <= second - first + 1e-5
    # What is not looked at bounds the margin, and a run that costs too much is none.
    near = chain.margin / 2
    bound = likelihood.best_checked_chain(dark, np.ones_like(dark), model, most_above=near)
    assert bound is not None
    assert bound.values == values
    assert bound.margin == pytest.approx(near, rel=1e-4)
    broken = model.predicted((*data, (values[-1] + 1) % 103))
    assert likelihood.best_checked_chain(broken, np.ones_like(dark), model, 1e-3) is None


def test_profiles_of_several_lengths_and_blurs_are_weighed_as_each_alone() -> None:
    models = [blur.BlurModel(blur.gaussian_blur(0.4)), blur.BlurModel(blur.disk_blur(1.2))]
    rng = np.random.default_rng(3)
    darks = []
    for size in (9, 4, 13, 4):
        data = (encoding.START_C, *(int(v) for v in rng.integers(0, 100, size - 2)))
        values = (*data, encoding.check_value(data))
        darks.append(models[0].predicted(values) + rng.normal(0, 0.05, blur.sample_count(size)))
    together = rough_costs.least_costs(darks, models)
    assert together.shape == (2, 4)
    for row, model in zip(together, models, strict=True):
        for cost, dark in zip(row, darks, strict=True):
            assert cost == pytest.approx(rough_costs.least_costs([dark], [model])[0, 0], rel=1e-3)
            best = likelihood.best_chain(dark, np.ones_like(dark), model).cost
            assert cost == pytest.approx(best, rel=0.02)


def _fit(scene: Scene, seed: int) -> tuple[str, str | None, float]:
    gray = drawn(NUMBER, False, scene, np.random.default_rng(seed))
    strip = cut_strip(gray, locate_blocks(Halved(gray))[0].quad)
    assert strip is not None
    profiles = profiles_of(strip)
    fit = fit_symbol(profiles.whole, profiles.bars, least_x=0.75 * strip.scale)
    if fit is None:
        return NUMBER, None, 0.0
    message = encoding.message_of(fit.chain.values)
    return NUMBER, message.text if message else None, fit.confidence


@pytest.mark.parametrize(
    "scene",
    [
        Scene(defocus_radius_x=1.2),
        Scene(motion_x=1.8),
        Scene(px_per_x=1.0),
        Scene(noise=0.3),
        Scene(angle_deg=33.0),
    ],
    ids=["defocus", "motion", "few pixels", "noise", "tilt"],
)
def test_reads_where_engines_fail(scene: Scene) -> None:
    truth, said, confidence = _fit(scene, 4)
    assert said == truth
    assert confidence > 30


def test_keeps_silent_where_nothing_can_be_known() -> None:
    for seed in range(3):
        truth, said, confidence = _fit(Scene(defocus_radius_x=3.0, noise=0.1), seed)
        assert said == truth or confidence < 30


@pytest.mark.parametrize("angle_deg", [0, 17, 45, 90, 123])
def test_blocks_are_found_at_any_angle(angle_deg: float) -> None:
    symbol = picture(reportlab_modules(NUMBER), x_px=3, height_px=100)
    gray = np.pad(turned(symbol, angle_deg), 200, constant_values=255)
    block = locate_blocks(Halved(gray))[0]
    center = np.array(block.quad.center)
    assert np.abs(center - np.array(gray.shape[::-1]) / 2).max() < 12
    a, b = np.array(block.quad.top_left), np.array(block.quad.top_right)
    found = np.degrees(np.arctan2(*(b - a)[::-1]))
    assert (found - angle_deg + 90) % 180 - 90 == pytest.approx(0, abs=1.5)
    assert np.hypot(*(b - a)) == pytest.approx(3 * len(reportlab_modules(NUMBER)), rel=0.08)
