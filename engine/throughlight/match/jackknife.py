"""What the prediction's own noise does to a fit, taken out of it and put into its intervals.

The prediction's own noise looks like light and shade by which changes could be told apart. Three things keep it from
deceiving: weights know the noise of each cell; the last step, and the intervals, go by slopes and residuals from
opposite halves of the replicates, whose noise drops out of their product in the mean (instrumental variables, e.g.
W. A. Fuller, "Measurement Error Models", 1987); and what it does to the end to leave out one replicate after another is
added to the intervals (the jackknife, M. H. Quenouille, "Notes on bias in estimation", Biometrika 43, 1956).
"""

from __future__ import annotations

from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from throughlight.match.fit import LEVEL, Data, Fit, Weights, covariance_of, solve
from throughlight.match.model import Model
from throughlight.readings.intervals import student_t

Array = NDArray[np.float64]


def unbiased(model: Model, data: Data, weights: Weights, fit: Fit) -> Fit:
    """Return a fit led on from its end by a step that the prediction's own noise doesn't bend."""
    x = np.clip(_led_on(model, data, weights, fit), *model.bounds)
    return fit._replace(x=x, covariance=covariance_of(model, weights, x, list(fit.free)))


def _led_on(model: Model, data: Data, weights: Weights, fit: Fit) -> Array:
    """Return where that step leads, beyond bounds too."""
    places = list(fit.free)
    used, w = weights.used, weights.variance[weights.used]
    (one, a), (other, b) = (
        ((data.y[used] - half.exposure(fit.x)[used]) / w, half.slopes(fit.x, places)[used]) for half in model.halves
    )
    gradient = 0.5 * (a.T @ other + b.T @ one) - (fit.x - model.usual)[places] * model.sigmas[places] ** -2.0
    x = fit.x.copy()
    x[places] += fit.covariance @ gradient
    return x


def with_prediction_noise(model: Model, data: Data, weights: Weights, fit: Fit) -> Fit:
    """Return a fit without what the prediction's own noise bends, and with its part in the covariance.

    That part takes the place of the noise in each cell, of which weights know. From few replicates it is itself
    uncertain, and taken wider by Student's t.
    """
    used, w, places = weights.used, weights.variance[weights.used], list(fit.free)
    end = unbiased(model, data, weights, fit)
    # Ends are not cut off at bounds: one that all of them run into would seem to be free of noise.
    ends = np.stack(
        [_led_on(one, data, weights, solve(one, data, weights, places, fit.x))[places] for one in model.without_one]
    )
    many = len(ends)
    wider = (student_t(many - 1) / NormalDist().inv_cdf(0.5 + 0.5 * LEVEL)) ** 2
    away = ends - ends.mean(axis=0)
    scatter = wider * (many - 1) / many * away.T @ away
    gain = end.covariance @ (model.slopes(end.x, places)[used] / w[:, None]).T
    traced = (gain * (weights.crowding * data.traced[used])) @ gain.T
    sizes, axes = np.linalg.eigh(end.covariance - traced)
    return end._replace(covariance=(axes * np.maximum(sizes, 0.0)) @ axes.T + scatter)
