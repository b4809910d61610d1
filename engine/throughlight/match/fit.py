"""Changes that bring prediction and photo together: weighted least squares with what is usual as prior.

Minimised is, over the cells that can be compared and the changes that may move,

    Σ_c (y_c − H_c(x))² / w_c + Σ_j ((x_j − µ_j)/σ_j)²,
    w_c = f·(noise of the photo + noise of the prediction + κ²·H_c²).

κ stands for what no change explains, as a share of the exposure: it is raised until the residuals are as large as they
should be (J. Mandel and R. C. Paule, "Interlaboratory evaluation of a material with unequal numbers of replicates",
Anal. Chem. 42, 1970), and is 0 where noise alone is enough. f is how many times more the residuals of neighbours
scatter together than independent ones would, so that a shadow in the wrong place counts as one thing.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from statistics import NormalDist
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from throughlight.match.model import Model
from throughlight.match.neighbours import sums_about

Array = NDArray[np.float64]

_ROUNDS, _CLOSE = 60, 1e-5
_OUTLIER, _MOST_OUTLIERS = 4.5, 0.1
_EVENED = 1.25  # at most; an edge isn't evened out
_BRIGHTER = 0.75  # of the cells: those above are looked at by themselves too
_BLOCKS, _LEAST_BLOCKS = (3, 6), 12
_LEAST_VARIANCE = 1e-18  # over mid-grey: a made-up picture has none
_FINEST = 0.01  # one sigma, stops or shares: as finely as shutters, flash tubes and aligned frames repeat at best
_FINEST_BEAM = 0.02  # log2 of its angle, in which the model is a parabola


LEVEL = 0.95
"""Of intervals."""


class Data(NamedTuple):
    """y: (cells,) the photo over mid-grey. noise: its variance and the prediction's together. traced: the latter.

    used: cells that are compared.
    """

    y: Array
    noise: Array
    traced: Array
    used: NDArray[np.bool_]
    columns: int


class Weights(NamedTuple):
    """kappa, crowding: κ and f. variance: (cells,) w. used: cells left after what is unlike everything is left out."""

    kappa: float
    crowding: float
    variance: Array
    used: NDArray[np.bool_]


class Fit(NamedTuple):
    """x: the changes, all places. misfit: of the cells. prior: of the changes. covariance: of the free ones."""

    x: Array
    free: tuple[int, ...]
    misfit: float
    prior: float
    covariance: Array

    @property
    def cost(self) -> float:
        """Return misfit and prior together."""
        return self.misfit + self.prior

    def sigma(self, place: int) -> float:
        """Return the standard error of one change; that of nothing known where it was not free."""
        return math.sqrt(self.covariance[self.free.index(place), self.free.index(place)])


class Interval(NamedTuple):
    """A change with its 95 % interval."""

    value: float
    low: float
    high: float


def solve(model: Model, data: Data, weights: Weights, free: Sequence[int], start: Array | None = None) -> Fit:
    """Return the changes at the given places that fit best, all others left at what they are at the start.

    Steps are Levenberg and Marquardt's; a change that runs into its bound stays there.
    """
    x = np.zeros(model.count) if start is None else start.copy()
    places, (lows, highs) = list(free), model.bounds
    low, high, sigma = lows[places], highs[places], model.sigmas[places]
    damping, cost = 1e-3, _cost(model, data, weights, x, places)
    for _ in range(_ROUNDS):
        gradient, curvature = _steepness(model, data, weights, x, places)
        moved = False
        while damping < 1e8:
            step = np.linalg.solve(curvature + damping * np.diag(np.diag(curvature)), gradient)
            trial = x.copy()
            trial[places] = np.clip(x[places] + step, low, high)
            tried = _cost(model, data, weights, trial, places)
            if tried <= cost:
                moved, change = True, cost - tried
                x, cost, damping = trial, tried, max(damping * 0.2, 1e-9)
                break
            damping *= 6.0
        if not moved or change < _CLOSE:
            break
    prior = float(np.sum(((x - model.usual)[places] / sigma) ** 2))
    return Fit(x, tuple(places), cost - prior, prior, covariance_of(model, weights, x, places))


def _cost(model: Model, data: Data, weights: Weights, x: Array, places: list[int]) -> float:
    used = weights.used
    misfit = float(np.sum((data.y[used] - model.exposure(x)[used]) ** 2 / weights.variance[used]))
    return misfit + float(np.sum(((x - model.usual)[places] / model.sigmas[places]) ** 2))


def _steepness(model: Model, data: Data, weights: Weights, x: Array, places: list[int]) -> tuple[Array, Array]:
    """Return the downhill gradient of half the cost, and its curvature."""
    used, w, precision = weights.used, weights.variance[weights.used], model.sigmas[places] ** -2.0
    slopes = model.slopes(x, places)[used]
    gradient = slopes.T @ ((data.y[used] - model.exposure(x)[used]) / w) - (x - model.usual)[places] * precision
    return gradient, slopes.T @ (slopes / w[:, None]) + np.diag(precision)


def covariance_of(model: Model, weights: Weights, x: Array, places: list[int]) -> Array:
    """Return the covariance of changes by the curvature that is left when the prediction's noise is taken out of it."""
    used, w, sigma = weights.used, weights.variance[weights.used], model.sigmas[places]
    a, b = (half.slopes(x, places)[used] * sigma for half in model.halves)
    crossed = a.T @ (b / w[:, None])
    sizes, axes = np.linalg.eigh(0.5 * (crossed + crossed.T))
    return np.asarray((axes / (np.maximum(sizes, 0.0) + 1.0)) @ axes.T * np.outer(sigma, sigma))


def weigh(model: Model, data: Data) -> tuple[Weights, Fit]:
    """Return the weights with which all changes together leave residuals as large as they should be, and that fit."""
    free = model.joint
    weights = Weights(0.1, 1.0, data.noise + (0.1 * evened(data.y, data.columns)) ** 2, data.used)
    fit = solve(model, data, weights, free)
    for _ in range(4):
        predicted = model.exposure(fit.x)
        residual = data.y - predicted
        used = _without_outliers(data, residual, weights.variance)
        even = evened(predicted, data.columns)
        bright = used & (even > float(np.quantile(even[used], _BRIGHTER)))
        # A large dark backdrop that is as even as it should be must not hide that the subject is not.
        kappa = max(_kappa(residual[one], data.noise[one], even[one], len(free)) for one in (used, bright))
        variance = data.noise + (kappa * even) ** 2
        crowding = _crowding(residual / np.sqrt(np.maximum(variance, 1e-30)), used, data.columns)
        weights = Weights(kappa, crowding, crowding * variance, used)
        fit = solve(model, data, weights, free, fit.x)
    return weights, fit


def evened(exposure: Array, columns: int) -> Array:
    """Return exposures evened out a little, so that weights don't favour what noise happens to put low."""
    own = np.maximum(exposure, 0.0)
    return np.clip(_spread(own.reshape(-1, columns)).ravel(), own / _EVENED, own * _EVENED)


def _without_outliers(data: Data, residual: Array, variance: Array) -> NDArray[np.bool_]:
    """Return the cells without the few that are unlike everything: dust, a label, an edge."""
    size = np.abs(residual) / np.sqrt(np.maximum(variance, 1e-30))
    usual = 1.4826 * float(np.median(size[data.used]))
    # Cells of which little is known have small residuals; by theirs the others must not be judged.
    limit = max(_OUTLIER * max(usual, 1.0), float(np.quantile(size[data.used], 1.0 - _MOST_OUTLIERS)))
    return data.used & (size <= limit)


def _kappa(residual: Array, noise: Array, predicted: Array, free: int) -> float:
    """Return the share of the exposure that makes residuals as large as they should be; 0 where noise is enough."""
    wanted = max(1, len(residual) - free)

    def excess(kappa: float) -> float:
        return float(np.sum(residual**2 / (noise + (kappa * predicted) ** 2))) - wanted

    if excess(0.0) <= 0.0:
        return 0.0
    low, high = 0.0, 1.0
    while excess(high) > 0.0 and high < 1e3:
        high *= 2.0
    for _ in range(50):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if excess(middle) > 0.0 else (low, middle)
    return high


def _crowding(z: Array, used: NDArray[np.bool_], columns: int) -> float:
    """Return how many times more the means of blocks of cells scatter than those of independent ones; at least 1."""
    field, kept = z.reshape(-1, columns), used.reshape(-1, columns)
    found = 1.0
    for side in _BLOCKS:
        rows, across = field.shape[0] // side, columns // side
        cut = (slice(0, rows * side), slice(0, across * side))
        shape = (rows, side, across, side)
        many = kept[cut].reshape(shape).sum(axis=(1, 3))
        sums = np.where(kept, field, 0.0)[cut].reshape(shape).sum(axis=(1, 3))
        full = many >= 0.5 * side * side
        if np.count_nonzero(full) >= _LEAST_BLOCKS:
            together = float(np.mean(sums[full] ** 2 / many[full]))
            alone = float(np.mean(field[kept] ** 2))
            found = max(found, together / alone if alone > 0.0 else 1.0)
    return found


def interval(model: Model, fit: Fit, place: int, level: float = LEVEL) -> Interval:
    """Return a change with its interval, normal and cut off at its bounds: what may be nothing reaches nothing.

    No interval is finer than such things repeat (common practice, no source).
    """
    beam = place < model.level and model.templates.changes[place].kind == "beam"
    sigma = math.hypot(fit.sigma(place), _FINEST_BEAM if beam else _FINEST)
    value, half = float(fit.x[place]), NormalDist().inv_cdf(0.5 + 0.5 * level) * sigma
    lows, highs = model.bounds
    return Interval(value, max(value - half, float(lows[place])), min(value + half, float(highs[place])))


def hypothetical_covariance(
    model: Model, fit: Fit, weights: Weights, layers: Collection[int], gain: float, noise: Array
) -> Array:
    """Return the covariance of a fit's changes after a second frame of some of the layers.

    Parameters
    ----------
    layers
        Those that shine in it.
    gain
        How much more exposure it is given than the first.
    noise
        (cells,) variance of such a frame at that exposure.
    """
    used, places = weights.used, list(fit.free)
    exposure = model.exposure(fit.x, layers)[used] * gain
    slopes = model.slopes(fit.x, places, layers)[used] * gain
    w = np.maximum(weights.crowding * (noise[used] + (weights.kappa * exposure) ** 2), _LEAST_VARIANCE)
    return np.asarray(np.linalg.inv(np.linalg.inv(fit.covariance) + slopes.T @ (slopes / w[:, None])))


def prediction_variance(image: Array, veil: Array, columns: int) -> Array:
    """Return the variance of a traced frame's mean, (cells,), from its replicates.

    A variance of eight replicates is itself uncertain by half, and weights that lean on it lie; so the relative
    variance is averaged over squares of cells.

    Parameters
    ----------
    image
        (replicates, cells) exposure of all layers together.
    veil
        (replicates,) of all layers together; the same for all cells, it is left to `with_prediction_noise`.
    columns
        Cells in a row.
    """
    own = image.var(axis=0, ddof=1) / image.shape[0]
    mean = image.mean(axis=0)
    relative = _spread((own / np.maximum(mean**2, 1e-30)).reshape(-1, columns))
    return np.asarray(relative.ravel() * mean**2)


def _spread(field: Array, reach: int = 2) -> Array:
    """Return the means over squares of 2·reach + 1 cells; at the edges over what there is."""
    return sums_about(field, reach) / sums_about(np.ones_like(field), reach)
