"""How far a loss may be off: figures moved together, as their replicates say, and the loss worked out anew.

A loss bends where a goal is just met, so its error cannot be read off at one point, nor at one distance. Figures are
therefore moved by each of `REACHES` standard errors, in n − 1 balanced ways and back (balanced half-samples: McCarthy
1969, Review of the International Statistical Institute 37, from memory; here of the jackknife's pseudo-values), along
the columns h of a Hadamard matrix:

    θ ± REACH · (1/n) Σᵢ hᵢ uᵢ,      uᵢ = (n − 1)·(θ̄ − θ₋ᵢ).

Their mean square is REACH² · se². All candidates are moved in the same ways, so differences of losses move as
differences of figures that share their random numbers do. Of the errors that the distances show the greatest counts.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
from numpy.typing import NDArray

from throughlight.readings.intervals import Stops, student_t
from throughlight.readings.patches import hadamard
from throughlight.study.figures import DARKEST, Told, in_log2

Array = NDArray[np.float64]

REACHES = (1.0, 2.0, 4.0)
"""Standard errors by which figures are moved; the last is about as far as the comparisons of a study reach."""
Loss = Callable[[Mapping[str, Array]], Array]
"""From readings by name, arrays of one shape, to weighted stops missed; smaller is better."""
_LOGARITHMIC = ("stray_light",)
_SHARES = ("clipped",)


def moved(told: Told) -> dict[str, Array]:
    """Return each reading as it is and moved in all ways, (1 + 2·(n − 1)·reaches,)."""
    return {name: _moved(name, told.figures[name], left) for name, left in told.left_out.items()}


def _moved(name: str, figure: Stops, left: Array) -> Array:
    n = len(left)
    if name in _LOGARITHMIC:
        left, value = in_log2(left, 1.0), float(in_log2(np.array(figure.value), 1.0))
    else:
        value = figure.value if np.isfinite(figure.value) else np.copysign(-DARKEST, figure.value)
    away = (n - 1) / n * (hadamard(n)[1:] @ (left.mean() - left))
    values = np.concatenate([[value], *(value + side * reach * away for reach in REACHES for side in (1.0, -1.0))])
    if name in _LOGARITHMIC:
        amounts: Array = np.exp2(values)
        return amounts
    limited: Array = np.clip(values, 0.0, 1.0) if name in _SHARES else values
    return limited


def freedom_of(values: Array) -> int:
    """Return n − 1 of something worked out from moved figures, (…, 1 + 2·(n − 1)·reaches)."""
    return (int(values.shape[-1]) - 1) // (2 * len(REACHES))


def _away(values: Array) -> Array:
    """Return how far values lie from where they are unmoved, by reach: (…, reaches, 2·(n − 1))."""
    away: Array = (values[..., 1:] - values[..., :1]).reshape(*values.shape[:-1], len(REACHES), 2 * freedom_of(values))
    return away


def error_of(values: Array) -> Array:
    """Return the standard error of what was worked out from moved figures, (…, 1 + 2·(n − 1)·reaches) → (…)."""
    return _worst_reach(_mean_square(_away(values)))


def difference(losses: Array, one: Array) -> tuple[Array, Array]:
    """Return how much greater losses are than one of them, and the standard errors of that toward nought.

    Parameters
    ----------
    losses
        (k, 1 + 2·(n − 1)·reaches) of candidates.
    one
        (1 + 2·(n − 1)·reaches,) of the one they are held against.
    """
    apart = losses - one
    delta = apart[:, 0]
    toward = np.maximum(-np.sign(delta)[:, None, None] * _away(apart), 0.0)
    nearer = _worst_reach(2.0 * _mean_square(toward))
    return delta, np.where(delta == 0.0, error_of(apart), nearer) if (delta == 0.0).any() else nearer


def _mean_square(values: Array) -> Array:
    """Return the mean square over the last axis; `np.mean` takes longer than all the rest for a few candidates."""
    total: Array = np.add.reduce(values * values, axis=-1) / values.shape[-1]
    return total


def _worst_reach(squares: Array) -> Array:
    """Return the greatest of the errors that the reaches show, from their mean squares, (…, reaches) → (…)."""
    worst: Array = np.maximum.reduce(np.sqrt(squares) / np.array(REACHES), axis=-1)
    return worst


def loss_figure(losses: Array) -> Stops:
    """Return a loss with its 95 % interval, from its values with figures moved."""
    value, half = float(losses[0]), student_t(freedom_of(losses)) * float(error_of(losses))
    return Stops(value, max(0.0, value - half), value + half)


def left_out_of(values: Array) -> Array:
    """Return what stands for values with one replicate left out, (n,), of something worked out from moved figures.

    Where it bends, the slope is the mean one over a standard error to either side.
    """
    n = freedom_of(values) + 1
    nearest = _away(values)[0]
    away = (nearest[: n - 1] - nearest[n - 1 :]) / (2.0 * REACHES[0])
    left: Array = values[0] - hadamard(n)[1:].T @ away / (n - 1)
    return left


def losses_of(told: Told, loss: Loss) -> Array:
    """Return a candidate's loss as it is and with its figures moved, (1 + 2·(n − 1)·reaches,)."""
    return np.asarray(loss(moved(told)), np.float64)
