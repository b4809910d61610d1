"""Planted changes are found again from photos with noise, vignetting and 8-bit rounding; how often intervals hold.

The model that is fitted is the model that made the photo, with independent noise of its own, so that what is checked is
the fit: its value, its intervals, and what noise of the prediction and code values do to both.
"""

from __future__ import annotations

import numpy as np
import pytest
from frames import COLUMNS, SQUARE, developed, light_of, model, noisy, place_of, raw, templates
from scipy import stats

from throughlight.match.fit import interval, prediction_variance, solve, weigh
from throughlight.match.jackknife import with_prediction_noise
from throughlight.match.observe import observe
from throughlight.match.patches import gather

PIXELS = 6  # of a cell, along a side


def drawn(truth, rng):
    """Return changes as far off as such things usually are."""
    x = np.zeros(truth.count)
    lows, highs = truth.bounds
    for place in truth.joint:
        while True:
            x[place] = truth.usual[place] + rng.standard_normal() * truth.sigmas[place]
            if truth.templates.changes[place : place + 1] and truth.templates.changes[place].kind == "flag":
                x[place] = abs(x[place])
            if lows[place] <= x[place] <= highs[place]:
                break
    return x


def repeated(truth, x, rng):
    """Return changes as gear repeats them: to a hundredth of a stop or share, beams to a fiftieth, one sigma."""
    finest = np.full(truth.count, 0.01)
    finest[[i for i, one in enumerate(truth.templates.changes) if one.kind == "beam"]] = 0.02
    finest[truth.vignetting + 1 :] = 0.0
    return np.clip(x + finest * rng.standard_normal(truth.count), *truth.bounds)


def photo_of(truth, x, rng, kind, photons=1e-4, reading=2e-3):
    light = noisy(light_of(truth.exposure(x), PIXELS), rng, photons=photons, reading=reading)
    return developed(light) if kind == "8 bit" else raw(light)


def fitted(capture, noise, seed):
    traced = templates(noise=noise, seed=seed)
    patches = gather(traced, observe(capture, traced.base.grid, SQUARE), 2)
    weights, fit = weigh(patches.model, patches.data)
    return patches, weights, with_prediction_noise(patches.model, patches.data, weights, fit)


@pytest.mark.parametrize("kind", ["raw", "8 bit"])
def test_intervals_hold_the_truth_as_often_as_they_say(kind):
    # 45 photos of changes drawn from what is usual, each with noise of its own in photo and prediction (2 % of every
    # cell in each of 8 replicates). Expected: 95 % of the intervals hold the truth. A change's count is binomial(45,
    # 0.95); the nominal 95 % is refuted where the count is as low as happens by chance in one of 2000 (Šidák over 15
    # changes: 0.7 % in all).
    truth = model()
    held, halved = np.zeros(truth.count), 0
    rng = np.random.default_rng(11)
    photos = 45
    for seed in range(photos):
        x = drawn(truth, rng)
        patches, _, fit = fitted(photo_of(truth, repeated(truth, x, rng), rng, kind), 0.02, 500 + seed)
        for place in truth.joint:
            found = interval(patches.model, fit, place)
            held[place] += found.low <= x[place] <= found.high
            halved += abs(found.value - x[place]) <= 0.25 * (found.high - found.low)
    least = stats.binom.ppf(1.0 / 2000.0, photos, 0.95)
    assert (held[truth.joint] >= least).all(), (held[truth.joint], least)
    # Not by being endlessly wide: half as wide they must be found out. Half of a normal 95 % interval holds 67 %, half
    # of one that allows for 8 replicates (Student's t, 7 degrees of freedom) 76 %; changes near a bound hold more.
    assert halved / photos / len(truth.joint) < 0.9


def test_a_planted_change_of_each_kind_is_found():
    truth = model()
    for kind, of, planted in (
        ("head", "left", 0.6), ("head", "right", -0.8), ("beam", "left", 0.2), ("cloth", "backdrop", 1.0),
        ("glare", "the lens", 1.5), ("room", "the room", 2.0), ("flag", "right flag", 0.7),
    ):  # fmt: skip
        x = np.zeros(truth.count)
        x[place_of(truth, kind, of)], x[truth.vignetting] = planted, 0.4
        patches, weights, fit = fitted(photo_of(truth, x, np.random.default_rng(5), "raw"), 0.01, 77)
        # Each value within four of its standard errors; the planted ones are known well, but for the room: on an even
        # cloth it looks like a veil that falls off to the corners, as a lens's may.
        known = 0.6 if kind == "room" else 0.35
        for place in truth.joint:
            assert abs(fit.x[place] - x[place]) < 4.0 * fit.sigma(place) + 1e-9, (kind, place)
        assert fit.sigma(place_of(truth, kind, of)) < known * truth.sigmas[place_of(truth, kind, of)], kind
        assert weights.kappa < 0.01
        assert patches.data.used.mean() > 0.8


def test_what_no_change_explains_widens_the_intervals():
    truth = model()
    x = np.zeros(truth.count)
    rng = np.random.default_rng(3)
    clean = photo_of(truth, x, rng, "raw")
    blotchy = np.kron(rng.standard_normal((8, 12)), np.ones((6 * PIXELS, 6 * PIXELS)))  # 10 % over 6×6 cells
    spoilt = raw(noisy(light_of(truth.exposure(x), PIXELS) * 2.0 ** (0.14 * blotchy), rng, photons=1e-4, reading=2e-3))
    left = place_of(truth, "head", "left")
    _, sure, fit = fitted(clean, 0.01, 9)
    _, unsure, worse = fitted(spoilt, 0.01, 9)
    assert sure.kappa < 0.01
    assert 0.04 < unsure.kappa < 0.2
    assert unsure.crowding > 2.0
    assert worse.sigma(left) > 5.0 * fit.sigma(left)
    assert abs(worse.x[left]) < 4.0 * worse.sigma(left)


def test_the_curve_of_least_squares_is_that_of_a_general_solver():
    # scipy's least_squares on the same residuals and priors, from the same start.
    from scipy.optimize import least_squares

    truth = model()
    x = drawn(truth, np.random.default_rng(2))
    patches, weights, _ = fitted(photo_of(truth, x, np.random.default_rng(4), "raw"), 0.01, 21)
    one, data = patches.model, patches.data
    free = one.joint
    ours = solve(one, data, weights, free)

    def residuals(z):
        full = np.zeros(one.count)
        full[free] = z
        misfit = (data.y - one.exposure(full))[weights.used] / np.sqrt(weights.variance[weights.used])
        return np.concatenate([misfit, (z - one.usual[free]) / one.sigmas[free]])

    lows, highs = one.bounds
    theirs = least_squares(residuals, np.zeros(len(free)) + 1e-6, bounds=(lows[free] - 1e-9, highs[free] + 1e-9))
    assert ours.cost <= 2.0 * theirs.cost * (1.0 + 1e-5)
    np.testing.assert_allclose(ours.x[free], theirs.x, atol=0.02)


@pytest.mark.parametrize("layers", [None, [0], [1, 2]])
def test_slopes_are_those_of_the_exposure(layers):
    # Central differences of 1e-5: good for 1e-7 of the largest slope.
    one, rng = model(), np.random.default_rng(1)
    x, step = np.clip(0.5 * rng.standard_normal(one.count) * one.sigmas, *one.bounds), 1e-5
    found = one.slopes(x, range(one.count), layers)
    for place in range(one.count):
        away = np.zeros(one.count)
        away[place] = step
        expected = (one.exposure(x + away, layers) - one.exposure(x - away, layers)) / (2.0 * step)
        np.testing.assert_allclose(found[:, place], expected, atol=1e-7 * max(np.abs(found).max(), 1.0), rtol=1e-5)


def test_variance_of_a_prediction_is_that_of_its_replicates():
    # Eight replicates with 3 % noise: the mean of relative variances over all cells is 0.03²/8, to √(2/7/cells).
    rng = np.random.default_rng(8)
    image = np.linspace(1.0, 3.0, 40 * COLUMNS) * (1.0 + 0.03 * rng.standard_normal((8, 40 * COLUMNS)))
    variance = prediction_variance(image, np.zeros(8), COLUMNS)
    relative = variance / image.mean(axis=0) ** 2
    assert relative.mean() == pytest.approx(0.03**2 / 8, rel=4.0 * np.sqrt(2.0 / 7.0 / image.shape[1]))
    assert relative.std() < 0.25 * relative.mean()
