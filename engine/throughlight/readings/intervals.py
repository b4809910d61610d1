"""95 % intervals in stops from independent replicates.

A figure's replicates are independent randomisations of the same estimate, so Student's t
gives the interval. It is taken in log2 by the delta method while it is narrow, and from the bounds of the linear
interval when it is wide, so that "darker than −12 stops" is an answer and minus infinity is not.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

LEVEL = 0.95
"""The confidence of every interval."""

NARROW = 0.25  # half width over value, under which the delta method in log2 holds


def student_t_probability(t: float, freedom: int) -> float:
    """Return P(|T| ≤ t) of Student's t with whole degrees of freedom.

    Source: Abramowitz and Stegun 1964, 26.7.3 (odd) and 26.7.4 (even).
    """
    theta = math.atan2(t, math.sqrt(freedom))
    c, s = math.cos(theta) ** 2, math.sin(theta)
    if freedom % 2:
        total, term = 0.0, math.cos(theta)
        for i in range(1, (freedom - 1) // 2 + 1):
            total += term
            term *= c * 2 * i / (2 * i + 1)
        return 2.0 / math.pi * (theta + s * total)
    total, term = 0.0, 1.0
    for i in range(1, freedom // 2 + 1):
        total += term
        term *= c * (2 * i - 1) / (2 * i)
    return s * total


@lru_cache(maxsize=1024)
def student_t(freedom: int, level: float = LEVEL, among: int = 1) -> float:
    """Return the half width, in standard errors, of a two-sided interval.

    Parameters
    ----------
    freedom
        Degrees of freedom: replicates − 1.
    level
        Confidence of the interval, or of all of them together.
    among
        How many intervals are to hold together (Šidák 1967).
    """
    wanted = level ** (1.0 / among)
    low, high = 0.0, 2.0
    while student_t_probability(high, freedom) < wanted and high < 1e9:
        high *= 2.0
    for _ in range(100):
        middle = (low + high) / 2.0
        if student_t_probability(middle, freedom) < wanted:
            low = middle
        else:
            high = middle
    return high


class Estimate(NamedTuple):
    """A linear figure and its standard error, with the degrees of freedom behind it."""

    value: float
    error: float
    freedom: int


class Stops(NamedTuple):
    """A figure in stops with its 95 % interval; `low` is −inf when only an upper bound is known."""

    value: float
    low: float
    high: float

    @property
    def half(self) -> float:
        """Return half the interval's width, stops."""
        return (self.high - self.low) / 2.0


def mean_of(replicates: Array) -> Estimate:
    """Return the mean over replicates and its standard error.

    Parameters
    ----------
    replicates
        (r,) independent estimates.
    """
    n = len(replicates)
    return Estimate(float(np.mean(replicates)), float(np.std(replicates, ddof=1) / math.sqrt(n)), n - 1)


def in_stops(estimate: Estimate, unit: float = 1.0, among: int = 1) -> Stops:
    """Return log2(value / unit) with its 95 % interval.

    Parameters
    ----------
    estimate
        A figure that is not negative.
    unit
        What zero stops stands for.
    among
        Among how many figures this one was chosen.
    """
    half = student_t(estimate.freedom, among=among) * estimate.error
    value = estimate.value
    if value <= 0.0:
        return Stops(-math.inf, -math.inf, _log2(half / unit))
    middle = math.log2(value / unit)
    if half < NARROW * value:
        width = half / (value * math.log(2.0))
        return Stops(middle, middle - width, middle + width)
    return Stops(middle, _log2((value - half) / unit), _log2((value + half) / unit))


def _log2(value: float) -> float:
    return math.log2(value) if value > 0.0 else -math.inf
