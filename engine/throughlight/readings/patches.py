"""Figures that are chosen among many places: percentiles over the subject, the clipped part, the worst patch.

A percentile or a maximum of noisy cells is biased, since noise spreads them. The jackknife over replicates (Quenouille
1956, Tukey 1958) takes out the first order of that bias and gives the standard error. The worst patch is looked for in
two steps: a first look at all patches names the contenders, a second look of its own at these alone gives the figures,
and the interval allows for the choice among all patches (Šidák 1967).
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from throughlight.readings.intervals import Estimate, Stops, in_stops, student_t

Array = NDArray[np.float64]


def jackknife(cells: Array, figure: Callable[[Array], float]) -> Estimate:
    """Return a figure of the cells' mean over replicates, with its bias taken out and its standard error.

    Parameters
    ----------
    cells
        (r, cells) independent estimates of each cell; not-a-number where a replicate has no ray.
    figure
        What is told about (cells,) values.
    """
    r = len(cells)
    held = np.isfinite(cells)
    sums, numbers = np.where(held, cells, 0.0).sum(axis=0), held.sum(axis=0)
    usable = numbers > 1
    sums, numbers, parts = sums[usable], numbers[usable], np.where(held, cells, 0.0)[:, usable]
    whole = figure(sums / numbers)
    here = zip(parts, held[:, usable], strict=True)
    without = np.array([figure((sums - part) / (numbers - counted)) for part, counted in here])
    value = r * whole - (r - 1) * float(without.mean())
    error = math.sqrt((r - 1) / r * float(np.sum((without - without.mean()) ** 2)))
    return Estimate(max(value, 0.0), error, r - 1)


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
