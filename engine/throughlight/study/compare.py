"""Differences between candidates, which are sharper than the figures they are differences of.

All candidates are traced with the same random numbers, so most of the noise of two neighbours is the same and falls out
of their difference. With θ₍ᵢ₎ the difference when replicate i is left out, its standard error is the jackknife's

    s² = (r − 1)/r · Σ (θ₍ᵢ₎ − θ̄₍·₎)²,    r − 1 degrees of freedom

(Efron and Stein 1981, "The jackknife estimate of variance", eq. 1.2; from memory). Where the replicates of two rows are
not at hand their intervals are taken as independent.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from throughlight.readings.intervals import LEVEL, student_t
from throughlight.study.results import Figure, Row

Array = NDArray[np.float64]


def jackknife_error(left_out: Array) -> Array:
    """Return the standard error of figures, (...), from their values with one replicate left out, (..., r)."""
    r = left_out.shape[-1]
    off = left_out - left_out.mean(axis=-1, keepdims=True)
    error: Array = np.sqrt((r - 1) / r * np.sum(off**2, axis=-1))
    return error


def one_sided(freedom: int, among: int = 1) -> float:
    """Return how many standard errors a figure must lie below another to be below it at 95 %.

    `among` is the number of such comparisons of which none may be wrong at 95 % (Šidák 1967; from memory).
    """
    wrong = -math.expm1(math.log(LEVEL) / among)  # 1 − level^(1/among), also where that is tiny
    return student_t(freedom, level=1.0 - 2.0 * wrong)


def difference(a: Row, b: Row, name: str) -> Figure | None:
    """Return figure `name` of `a` less that of `b`, with its 95 % interval; None where one of them has none.

    Parameters
    ----------
    a, b
        Two good rows.
    name
        A reading's name, "loss" or "energy".
    """
    here, there = a.figure(name), b.figure(name)
    if here is None or there is None:
        return None
    value = here.value - there.value
    if not math.isfinite(value):
        return None
    pairs = _pairs(a, b, name)
    if pairs is not None:
        half = student_t(pairs.size - 1) * float(jackknife_error(pairs))
        return Figure(value, value - half, value + half)
    below = math.hypot(here.value - here.low, there.high - there.value)
    above = math.hypot(here.high - here.value, there.value - there.low)
    return Figure(value, value - below, value + above)


def _pairs(a: Row, b: Row, name: str) -> Array | None:
    """Return the differences with one replicate left out, (r,), or None when there are no such pairs."""
    here, there = a.left_out.get(name, ()), b.left_out.get(name, ())
    if len(here) != len(there) or len(here) < 2:
        return None
    pairs = np.asarray(here, dtype=np.float64) - np.asarray(there, dtype=np.float64)
    return pairs if bool(np.all(np.isfinite(pairs))) else None
