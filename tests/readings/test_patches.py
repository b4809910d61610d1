"""Figures chosen among many noisy cells, on made-up cells whose truth is known.

Coverage is judged by the binomial law: of n intervals at 95 %, so few cover by chance with a probability under 1 in
1000 only. Seeds are fixed.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from throughlight.readings.intervals import student_t
from throughlight.readings.patches import (
    brightest,
    contenders,
    figure_of_cells,
    means_and_errors,
    weighted_percentile,
)

REPLICATES = 16
SIGNIFICANCE = 1e-3


def fewest(trials, level=0.95):
    """Return how many of so many intervals may cover at the fewest."""
    return int(stats.binom.ppf(SIGNIFICANCE, trials, level))


def percentile(percent):
    return lambda values, weights: weighted_percentile(values, weights, percent)


def part_over(limit):
    return lambda values, weights: float(weights[values > limit].sum() / weights.sum())


def noisy(truth, noise, rng):
    return truth + noise * rng.standard_normal((REPLICATES, len(truth)))


def test_weighted_percentile_is_the_plain_one_for_equal_weights():
    """NumPy's "hazen" definition: steps at the middle of each value's share."""
    values = np.random.default_rng(1).normal(size=101)
    for percent in (5.0, 37.0, 50.0, 95.0):
        expected = np.percentile(values, percent, method="hazen")
        assert weighted_percentile(values, np.ones(101), percent) == pytest.approx(expected, rel=1e-12)


def test_only_the_proportion_of_weights_counts():
    values, weights = np.array([3.0, 1.0, 2.0]), np.array([2.0, 4.0, 6.0])
    expected = weighted_percentile(values, weights, 50.0)
    assert weighted_percentile(values, weights / 7.0, 50.0) == pytest.approx(expected, rel=1e-12)
    assert weighted_percentile(np.array([1.0, 2.0, 3.0]), np.array([1.0, 1e-12, 1.0]), 50.0) == pytest.approx(2.0)


def test_error_of_a_mean_is_the_usual_one():
    """For the mean the half-samples give back s/√n exactly (Parseval), here times 2^¼ for safety."""
    cells = np.random.default_rng(2).normal(10.0, 1.0, (REPLICATES, 40))
    estimate = figure_of_cells(cells, np.ones(40), lambda values, weights: float(np.average(values, weights=weights)))
    usual = cells.mean(axis=1).std(ddof=1) / math.sqrt(REPLICATES)
    assert estimate.value == pytest.approx(cells.mean(), rel=1e-12)
    assert estimate.error == pytest.approx(2**0.25 * usual, rel=1e-9)
    assert estimate.freedom == REPLICATES - 1


@pytest.mark.parametrize("noise", [0.04, 0.2, 0.8])
@pytest.mark.parametrize("percent", [5.0, 50.0, 95.0])
def test_percentiles_are_covered_and_hardly_biased(percent, noise):
    """Cells evenly from 0.5 to 1.5 with noise up to a third of that spread: 95 of 100 intervals hold the truth.

    Without taking the noise out, a noise of 0.8 puts the 5th percentile at 0.43 instead of 0.55.
    """
    rng, trials = np.random.default_rng(3), 100
    truth = 1.0 + 0.5 * np.linspace(-1.0, 1.0, 300)
    expected = weighted_percentile(truth, np.ones(300), percent)
    found = [figure_of_cells(noisy(truth, noise, rng), np.ones(300), percentile(percent)) for _ in range(trials)]
    covered = sum(abs(one.value - expected) <= student_t(one.freedom) * one.error for one in found)
    bias = float(np.mean([one.value for one in found])) - expected
    print(f"{covered} of {trials} cover (at least {fewest(trials)}), bias {bias:+.4f}")
    assert covered >= fewest(trials)
    assert abs(bias) < 0.03


@pytest.mark.parametrize("noise", [0.04, 0.2, 0.8])
def test_clipped_part_is_covered(noise):
    rng, trials = np.random.default_rng(4), 100
    truth = 1.0 + 0.5 * np.linspace(-1.0, 1.0, 300)
    expected = part_over(1.2)(truth, np.ones(300))
    found = [figure_of_cells(noisy(truth, noise, rng), np.ones(300), part_over(1.2)) for _ in range(trials)]
    covered = sum(abs(one.value - expected) <= student_t(one.freedom) * one.error for one in found)
    assert covered >= fewest(trials)


def test_percentiles_of_an_evenly_lit_subject_are_its_mean():
    """All cells alike: what looks like spread is noise: 0.05 of the mean, 1.64 times that at the 5th percentile."""
    rng = np.random.default_rng(5)
    cells = noisy(np.ones(300), 0.2, rng)
    raw = weighted_percentile(cells.mean(axis=0), np.ones(300), 5.0)
    estimate = figure_of_cells(cells, np.ones(300), percentile(5.0))
    assert raw < 0.93
    assert estimate.value == pytest.approx(1.0, abs=0.03)
    assert abs(estimate.value - 1.0) <= student_t(15) * estimate.error


def test_cells_that_some_replicates_miss():
    rng = np.random.default_rng(6)
    truth = np.linspace(1.0, 2.0, 200)
    cells = noisy(truth, 0.1, rng)
    cells[rng.random(cells.shape) < 0.3] = math.nan
    cells[:, 7] = math.nan
    cells[1:, 8] = math.nan
    estimate = figure_of_cells(cells, np.ones(200), percentile(50.0))
    assert abs(estimate.value - 1.5) <= student_t(15) * estimate.error
    means, errors = means_and_errors(cells)
    assert means[7] == 0.0
    assert errors[7] == math.inf
    assert errors[8] == math.inf


def test_replicates_that_cannot_be_halved():
    with pytest.raises(ValueError, match="power of two"):
        figure_of_cells(np.ones((12, 3)), np.ones(3), percentile(50.0))


def test_contenders_hold_the_brightest_and_shed_the_dark():
    rng = np.random.default_rng(7)
    truth = np.linspace(0.0, 1.0, 400)
    chosen = contenders(noisy(truth, 0.1, rng), 400)
    assert 399 in chosen
    assert truth[chosen].min() > 0.75
    assert len(contenders(noisy(truth, 0.1, rng), 5)) == 5


@pytest.mark.parametrize("spread", [0.0, 0.05, 0.5])
def test_brightest_of_many_is_covered(spread):
    """Two looks, as the meter takes them: the interval for the maximum holds the true maximum 95 times of 100.

    Šidák 1967: of k independent intervals each at 0.95^(1/k), all hold together with 95 %.
    """
    rng, trials, patches = np.random.default_rng(8), 300, 400
    truth = 1.0 + spread * rng.random(patches)
    covered = 0
    for _ in range(trials):
        chosen = np.sort(contenders(noisy(truth, 0.3, rng), 24))
        _, stops = brightest(noisy(truth[chosen], 0.3, rng), patches, 1.0)
        covered += stops.low <= math.log2(truth.max()) <= stops.high
    print(f"{covered} of {trials} cover, at least {fewest(trials)}")
    assert covered >= fewest(trials)


def test_brightest_names_its_patch():
    cells = np.random.default_rng(9).normal(1.0, 0.01, (REPLICATES, 50))
    cells[:, 17] += 1.0
    best, stops = brightest(cells, 50, 0.5)
    assert best == 17
    assert stops.value == pytest.approx(2.0, abs=0.02)
    assert stops.low < 2.0 < stops.high
