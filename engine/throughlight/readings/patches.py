"""Figures that are chosen among many places: percentiles over the subject, the clipped part, the worst patch.

Noise spreads the cells, so that the percentiles of noisy cells lie too far out. The spread that is noise is taken out
by drawing the cells toward their mean until their variance is that of the truth (constrained empirical Bayes: Louis
1984, JASA 79). The error of a figure that jumps from cell to cell comes from balanced half-samples (McCarthy 1969,
Review of the International Statistical Institute 37): the replicates are halved in r − 1 ways along the columns of a
Hadamard matrix, and the halves compared. The worst patch is looked for in two steps: a first look at all patches names
the contenders, a second look of its own at these alone gives the figures, and the interval allows for the choice among
all patches (Šidák 1967).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from throughlight.readings.intervals import Estimate, Stops, in_stops, student_t

Array = NDArray[np.float64]


SMOOTH = 2.0**0.25
"""A percentile of cells that overlap by their noise errs by the square root of it; halves with √2 times the noise are
then compared for 2^¼ too little. Where noise moves all cells alike this is that much on the safe side."""

TRUST = 0.5
"""The part of what is taken out as noise that goes into the error: noise need not be alike in all cells."""


def figure_of_cells(cells: Array, weights: Array, figure: Callable[[Array, Array], float]) -> Estimate:
    """Return a figure of the cells' true values, with its standard error.

    Parameters
    ----------
    cells
        (r, cells) independent estimates of each cell, r a power of two; not-a-number where a replicate has no ray.
    weights
        (cells,) what each counts.
    figure
        What is told about (cells,) values with their weights; of the mean's scale.

    Raises
    ------
    ValueError
        If r is no power of two.
    """
    r = len(cells)
    if r < 4 or r & (r - 1):
        raise ValueError("half-samples want a power of two of replicates")
    usable = np.isfinite(cells).sum(axis=0) > 1
    cells, weights = cells[:, usable], weights[usable]
    means, errors = means_and_errors(cells)
    value = figure(_without_noise(means, errors, weights), weights)
    apart = []
    for signs in hadamard(r)[1:]:
        halves = []
        for half in (signs > 0, signs < 0):
            half_means, half_errors = means_and_errors(cells[half])
            known = np.isfinite(half_errors)
            halves.append(figure(_without_noise(half_means[known], half_errors[known], weights[known]), weights[known]))
        apart.append(halves[0] - halves[1])
    sampling = SMOOTH * 0.5 * math.sqrt(float(np.mean(np.square(apart))))
    taken_out = TRUST * (figure(means, weights) - value)
    return Estimate(max(value, 0.0), math.hypot(sampling, taken_out), r - 1)


def figure_without_noise(cells: Array, weights: Array, figure: Callable[[Array, Array], float]) -> float:
    """Return the value alone of `figure_of_cells`, from any number of replicates."""
    means, errors = means_and_errors(cells)
    usable = np.isfinite(errors)
    return figure(_without_noise(means[usable], errors[usable], weights[usable]), weights[usable])


def _without_noise(means: Array, errors: Array, weights: Array) -> Array:
    """Return the cells drawn toward their mean until only the spread that is no noise is left."""
    middle = float(np.average(means, weights=weights))
    spread = float(np.average((means - middle) ** 2, weights=weights))
    noise = float(np.average(errors**2, weights=weights))
    kept = math.sqrt(max(0.0, 1.0 - noise / spread)) if spread > 0.0 else 1.0
    drawn: Array = middle + kept * (means - middle)
    return drawn


@lru_cache(maxsize=8)
def hadamard(order: int) -> Array:
    """Return a matrix of ±1 with orthogonal rows, the first of ones (Sylvester 1867); the order is a power of two."""
    matrix = np.ones((1, 1))
    while len(matrix) < order:
        matrix = np.block([[matrix, matrix], [matrix, -matrix]])
    matrix.flags.writeable = False  # it is kept for the next call
    return matrix


def weighted_percentile(values: Array, weights: Array, percent: float) -> float:
    """Return the value under which this percentage of the weight lies (steps at the middle of each weight)."""
    order = np.argsort(values)
    levels = np.cumsum(weights[order]) - weights[order] / 2.0
    return float(np.interp(percent / 100.0 * float(weights.sum()), levels, values[order]))


def means_and_errors(cells: Array) -> tuple[Array, Array]:
    """Return each cell's mean over replicates and its standard error, (cells,) each."""
    with np.errstate(invalid="ignore", divide="ignore"):
        number = np.isfinite(cells).sum(axis=0)
        means = np.nansum(cells, axis=0) / number
        spread = np.sqrt(np.nansum((cells - means) ** 2, axis=0) / (number - 1) / number)
    return np.nan_to_num(means), np.where(number > 1, spread, math.inf)


def contenders(cells: Array, most: int) -> NDArray[np.int64]:
    """Return the cells that could be the brightest, brightest first, at most so many.

    Those are the cells whose upper bound reaches the highest lower bound, all bounds holding together.
    """
    means, errors = means_and_errors(cells)
    t = student_t(len(cells) - 1, among=len(means))
    reach = np.where(np.isfinite(errors), means + t * errors, 0.0)
    floor = float(np.max(np.where(np.isfinite(errors), means - t * errors, -math.inf), initial=-math.inf))
    able = np.flatnonzero(reach >= floor)
    ordered: NDArray[np.int64] = able[np.argsort(-means[able])][:most]
    return ordered


def brightest(cells: Array, among: int, unit: float) -> tuple[int, Stops]:
    """Return the brightest of the contenders, and its exposure over `unit` with an interval for the maximum.

    Parameters
    ----------
    cells
        (r, contenders) exposures by replicate, lx·s.
    among
        How many patches they were chosen from.
    unit
        The exposure that zero stops stands for, lx·s.
    """
    means, errors = means_and_errors(cells)
    best = int(np.argmax(means))
    own = in_stops(Estimate(float(means[best]), float(errors[best]), len(cells) - 1), unit, among)
    # The darkest the maximum can be is the best patch's own low end; the brightest, the highest end of any contender.
    high = max(
        in_stops(Estimate(float(m), float(e), len(cells) - 1), unit, among).high
        for m, e in zip(means, errors, strict=True)
    )
    return best, Stops(own.value, own.low, high)
