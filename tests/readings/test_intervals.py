"""Intervals: Student's t against SciPy, the step to stops, and what is said when little is known."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import stats

from throughlight.readings.intervals import (
    Estimate,
    Stops,
    in_stops,
    mean_of,
    student_t,
    student_t_probability,
)


@pytest.mark.parametrize("freedom", [1, 2, 3, 4, 7, 15, 30, 63, 200])
def test_student_t_against_scipy(freedom):
    for level in (0.5, 0.9, 0.95, 0.99, 0.9999):
        assert student_t(freedom, level) == pytest.approx(stats.t.ppf((1 + level) / 2, freedom), rel=1e-8)
    for t in (0.1, 1.0, 2.5, 8.0):
        assert student_t_probability(t, freedom) == pytest.approx(1 - 2 * stats.t.sf(t, freedom), rel=1e-12)


@pytest.mark.parametrize("among", [1, 10, 864])
def test_sidak_against_scipy(among):
    """Each of k intervals is at 0.95^(1/k)."""
    level = 0.95 ** (1 / among)
    assert student_t(15, among=among) == pytest.approx(stats.t.isf((1 - level) / 2, 15), rel=1e-7)


def test_sixteen_replicates():
    """t(0.975, 15) = 2.131 in any printed table."""
    assert student_t(15) == pytest.approx(2.131, abs=5e-4)


def test_mean_and_its_error_against_scipy():
    replicates = np.random.default_rng(1).normal(3.0, 0.5, 16)
    estimate = mean_of(replicates)
    assert estimate.value == pytest.approx(replicates.mean())
    assert estimate.error == pytest.approx(stats.sem(replicates))
    low, high = stats.t.interval(0.95, 15, replicates.mean(), stats.sem(replicates))
    half = student_t(15) * estimate.error
    assert (estimate.value - half, estimate.value + half) == pytest.approx((low, high))


def test_narrow_interval_by_the_delta_method():
    """d log2 x = dx/(x·ln 2)."""
    stops = in_stops(Estimate(0.2, 0.001, 15), 0.1)
    assert stops.value == pytest.approx(1.0)
    half = stats.t.ppf(0.975, 15) * 0.001 / (0.2 * math.log(2))
    assert (stops.low, stops.high) == pytest.approx((1 - half, 1 + half))
    assert stops.half == pytest.approx(half)


def test_wide_interval_by_its_ends():
    stops = in_stops(Estimate(1.0, 0.2, 15))
    half = stats.t.ppf(0.975, 15) * 0.2
    assert (stops.low, stops.high) == pytest.approx((math.log2(1 - half), math.log2(1 + half)))


def test_darker_than_is_an_answer():
    """An interval that reaches zero has an upper end and no lower one."""
    stops = in_stops(Estimate(1e-4, 1e-4, 15), 0.1)
    assert stops.low == -math.inf
    assert stops.high == pytest.approx(math.log2((1e-4 + stats.t.ppf(0.975, 15) * 1e-4) / 0.1))
    assert stops.half == math.inf


def test_nothing_found_is_minus_infinity_on_all_sides():
    assert in_stops(Estimate(0.0, 0.0, 15)) == Stops(-math.inf, -math.inf, -math.inf)


def test_choice_among_many_widens():
    estimate = Estimate(1.0, 0.01, 15)
    assert in_stops(estimate, among=100).half > 1.5 * in_stops(estimate).half
