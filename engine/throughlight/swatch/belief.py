"""What a few readings tell of a piece's matter, and what they leave open: Bayes' rule on a grid.

The unknowns are ln µs′ and ln µa. A kind of matter says beforehand where they lie (normal in the logarithms); the
readings, each in stops with an error, narrow that down. One reading fixes a curve in the plane of the two; how far the
answer runs along it is the kind's word alone. Each row of the grid is one µs′; its columns stand close together where
that row agrees with a reading. Rows are narrowed to where the weight is.

Readings against one bare reading share half of their variance, since each is a difference of two readings. An unsure
thickness counts as an error in stops, by the slope of stops against thickness. With these, C = diag(v) + q·qᵀ, and

    aᵀC⁻¹b = Σ ab/v − (Σ qa/v)·(Σ qb/v)/(1 + Σ q²/v),   ln det C = Σ ln v + ln(1 + Σ q²/v)

(Sherman and Morrison 1950, Ann. Math. Stat. 21:124). What the kind only says within a range, g, n and the roughness of
the faces, moves all readings together: z standard deviations of the three lower residuals r by G·z, G being the leans
of the slabs. With z normal beforehand, the readings leave it normal about P⁻¹GᵀC⁻¹r with covariance P⁻¹, and

    χ² = rᵀC⁻¹r − (GᵀC⁻¹r)ᵀP⁻¹(GᵀC⁻¹r),   P = 1 + GᵀC⁻¹G,   ln det(C + GGᵀ) = ln det C + ln det P.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from throughlight.swatch.slabs import Seen, Slabs

Array = NDArray[np.float64]

NORMAL_95 = 1.959964
"""Half width of a 95 % interval in standard deviations (normal distribution)."""

TOLD = 0.25
"""Share of the width beforehand to which readings must narrow a coefficient for it to count as told by them."""

DRAWS = 400
_FINE, _COARSE = (61, 41, 31), (46, 21, 11)
"""Rows, columns over the kind's range, and columns at each reading; coarse until it is known where the weight is."""
_REACH = 5.0  # standard deviations on either side
_MOST_LEAN = 3.0  # stops; a reading that g, n and roughness move by more tells nothing
_STARTS = 96  # nodes on which stops are turned into absorption
_SOFTER = (6.0, 2.0, 1.0)  # errors are this many times as wide in each pass, so that a narrow peak is not missed
_NOTHING = 14.0  # natural logarithm under the best row's weight that counts as none


class Measured(NamedTuple):
    """One reading of the piece.

    Attributes
    ----------
    look
        How it was taken.
    thickness
        m.
    stops
        Stops less than without the piece; with a card, stops under a perfect white.
    error, thickness_error
        Standard deviations, stops and m.
    """

    look: Seen
    thickness: float
    stops: float
    error: float
    thickness_error: float


class Prior(NamedTuple):
    """Where a kind of matter has its coefficients: middles and standard deviations of ln(µ·1 m).

    `scatter` is None for matter that is taken as clear.
    """

    scatter: tuple[float, float] | None
    absorb: tuple[float, float]


class Span(NamedTuple):
    """A coefficient, 1/m: its middle (median) and 95 % interval, and whether readings told it."""

    value: float
    low: float
    high: float
    told: bool


class Belief(NamedTuple):
    """What is known of one band of the piece.

    Attributes
    ----------
    scatter, absorb
        µs′ and µa.
    best
        µs′ and µa, 1/m, that go together, and with the g, n and roughness that the slabs were solved for: the middle
        µs′, and the middle µa of matter with that µs′.
    draws
        (m, 2) pairs of µs′ and µa, 1/m, equally likely.
    moves
        (m, k) by how many standard deviations the unsure optics of each are off those of the slabs.
    misfit, allowed
        χ² of the nearest matter, and the most that 1 in 2000 sets of readings would have.
    strange
        How many standard deviations the best matter lies from the kind's middle, the farther coefficient.
    """

    scatter: Span
    absorb: Span
    best: tuple[float, float]
    draws: Array
    moves: Array
    misfit: float
    allowed: float
    strange: float


def believe(slabs: Slabs, readings: Sequence[Measured], prior: Prior) -> Belief:
    """Return what readings of one band tell of the matter.

    Parameters
    ----------
    slabs
        Solved slabs of the matter's g, n and roughness, and how others lean.
    readings
        At least one that is no card.
    prior
        What its kind says beforehand.

    Raises
    ------
    ValueError
        If no reading went through the piece.
    """
    if all(one.look == "card" for one in readings):
        raise ValueError("no reading went through the piece")
    rows = np.array([-np.inf]) if prior.scatter is None else _spread(prior.scatter, _COARSE[0])
    for softer in _SOFTER:
        softened = [one._replace(error=softer * one.error) for one in readings]
        columns = _columns(slabs, softened, rows, prior, _FINE if softer == 1.0 else _COARSE)
        weighed = _weighed(slabs, softened, rows, columns, prior)
        if softer > 1.0 and len(rows) > 1:
            rows = _narrowed(rows, weighed.log, (_COARSE if softer == _SOFTER[0] else _FINE)[0])
    return _told(rows, columns, weighed, len(readings), prior)


def _spread(normal: tuple[float, float], count: int) -> Array:
    middle, deviation = normal
    return middle + deviation * np.linspace(-_REACH, _REACH, count)


def _columns(
    slabs: Slabs, readings: Sequence[Measured], rows: Array, prior: Prior, counts: tuple[int, int, int]
) -> Array:
    """Return ln µa of each row's columns (rows, columns): over the kind's range, and close together at each reading."""
    every = np.broadcast_to(_spread(prior.absorb, counts[1]), (len(rows), counts[1]))
    starts = _spread(prior.absorb, _STARTS)
    aside = np.linspace(-_REACH, _REACH, counts[2])
    found, close = [every], []
    for one in readings:
        x, y = np.exp(rows)[:, None] * one.thickness, np.exp(starts) * one.thickness
        stops = np.maximum.accumulate(_stops(slabs, one, np.exp(rows)[:, None], np.exp(starts)), axis=1)
        leans = np.minimum(np.linalg.norm(slabs.lean(one.look, x, y), axis=0), _MOST_LEAN)
        error = one.error + abs(one.stops) * one.thickness_error / one.thickness
        for row, lean in zip(stops, leans, strict=True):
            unsure = math.hypot(error, float(np.interp(one.stops, row, lean)))
            close.append(np.interp(one.stops + unsure * aside, row, starts))
        found.append(np.stack(close[-len(rows) :]))
    return np.sort(np.concatenate(found, axis=1), axis=1)


def _stops(slabs: Slabs, one: Measured, scatter: Array, absorb: Array, thicker: float = 1.0) -> Array:
    d = one.thickness * thicker
    return np.minimum(slabs.stops_less(one.look, scatter * d, absorb * d), 60.0)


class _Weighed(NamedTuple):
    """log: of each node's weight (rows, columns). central: alike, with g, n and roughness as the slabs have them.

    misfit: χ². pull, precision: GᵀC⁻¹r (rows, columns, k) and P (rows, columns, k, k).
    """

    log: Array
    central: Array
    misfit: Array
    pull: Array
    precision: Array


def _weighed(slabs: Slabs, readings: Sequence[Measured], rows: Array, columns: Array, prior: Prior) -> _Weighed:
    """Return how likely each node is."""
    scatter, absorb = np.exp(rows)[:, None], np.exp(columns)
    many = 1 + len(slabs.unsure)
    products, across = np.zeros((*columns.shape, many, many)), np.zeros((*columns.shape, many))
    determinant, common = np.zeros(columns.shape), np.zeros(columns.shape)
    for one in readings:
        d = one.thickness
        stops = _stops(slabs, one, scatter, absorb)
        slope = (_stops(slabs, one, scatter, absorb, 1.02) - stops) / np.log(1.02) / d
        shared = 0.0 if one.look == "card" else one.error / np.sqrt(2.0)
        v = one.error**2 - shared**2 + (slope * one.thickness_error) ** 2
        moved = np.stack([one.stops - stops, *slabs.lean(one.look, scatter * d, absorb * d)], axis=-1)
        products += moved[..., :, None] * moved[..., None, :] / v[..., None, None]
        across += shared * moved / v[..., None]
        determinant += np.log(v)
        common += shared**2 / v
    products -= across[..., :, None] * across[..., None, :] / (1.0 + common)[..., None, None]
    determinant += np.log1p(common)
    pull, precision = products[..., 1:, 0], np.eye(many - 1) + products[..., 1:, 1:]
    misfit = products[..., 0, 0] - np.sum(pull * np.linalg.solve(precision, pull[..., None])[..., 0], axis=-1)
    width = np.gradient(columns, axis=1)
    before = -0.5 * ((columns - prior.absorb[0]) / prior.absorb[1]) ** 2
    if prior.scatter is not None:
        before = before - 0.5 * ((rows - prior.scatter[0]) / prior.scatter[1])[:, None] ** 2
    with np.errstate(divide="ignore"):
        before = before - 0.5 * determinant + np.log(width)
    return _Weighed(
        before - 0.5 * (misfit + np.linalg.slogdet(precision)[1]), before - 0.5 * products[..., 0, 0], misfit, pull,
        precision,
    )  # fmt: skip


def _narrowed(rows: Array, weight: Array, count: int) -> Array:
    """Return so many rows where there is weight, one more on either side."""
    mass = weight.max(axis=1)
    kept = np.flatnonzero(mass > mass.max() - _NOTHING)
    first, last = max(kept[0] - 1, 0), min(kept[-1] + 1, len(rows) - 1)
    return np.linspace(rows[first], rows[last], count)


def _told(rows: Array, columns: Array, weighed: _Weighed, count: int, prior: Prior) -> Belief:
    share = _shares(weighed.log)
    absorb = quantiles(columns.ravel(), share.ravel())
    scatter = Span(0.0, 0.0, 0.0, False)
    if prior.scatter is not None:
        scatter = _span(quantiles(rows, share.sum(axis=1)), prior.scatter)
    best, strange = _best(rows, columns, _shares(weighed.central), prior)
    picked = np.searchsorted(np.cumsum(share), (np.arange(DRAWS) + 0.5) / DRAWS).clip(0, share.size - 1)
    i, j = np.unravel_index(picked, share.shape)
    return Belief(
        scatter=scatter,
        absorb=_span(absorb, prior.absorb),
        best=best,
        draws=np.exp(np.column_stack([rows[i], columns[i, j]])),
        moves=_moves(weighed.pull[i, j], weighed.precision[i, j]),
        misfit=float(weighed.misfit.min()),
        allowed=float(count + 3.5 * np.sqrt(2.0 * count) + 3.0),
        strange=strange,
    )


def _shares(logs: Array) -> Array:
    shares = np.exp(logs - logs.max())
    return np.asarray(shares / shares.sum())


def _best(rows: Array, columns: Array, share: Array, prior: Prior) -> tuple[tuple[float, float], float]:
    """Return the coefficients that go together, and how many standard deviations they lie off the kind's middle."""
    by_row, row, strange = share.sum(axis=1), 0, 0.0
    if prior.scatter is not None:
        middle = quantiles(rows, by_row)[1]
        row = int(np.abs(rows - middle).argmin())
        strange = abs(middle - prior.scatter[0]) / prior.scatter[1]
    within = quantiles(columns[row], share[row] / max(by_row[row], 1e-300))[1]
    return (float(np.exp(rows[row])), float(np.exp(within))), float(
        max(strange, abs(within - prior.absorb[0]) / prior.absorb[1])
    )


def _moves(pull: Array, precision: Array) -> Array:
    """Return one draw of z for each of some nodes, (m, k)."""
    middle = np.linalg.solve(precision, pull[..., None])[..., 0]
    drawn = np.random.default_rng(1).standard_normal(pull.shape)
    back = np.swapaxes(np.linalg.cholesky(precision), -1, -2)  # P = L·Lᵀ, so L⁻ᵀ·(normal) has covariance P⁻¹
    return np.asarray(middle + np.linalg.solve(back, drawn[..., None])[..., 0])


def _span(logs: Array, before: tuple[float, float]) -> Span:
    low, middle, high = np.exp(logs)
    narrowed = (logs[2] - logs[0]) / (2.0 * NORMAL_95 * before[1])
    return Span(float(middle), float(low), float(high), bool(narrowed < TOLD))


def quantiles(values: Array, weight: Array, shares: Sequence[float] = (0.025, 0.5, 0.975)) -> Array:
    """Return the values below which those shares of the weight lie.

    Parameters
    ----------
    values, weight
        (n,) in any order; weights sum to 1.
    shares
        0 to 1.
    """
    order = np.argsort(values, kind="stable")
    below = np.cumsum(weight[order])
    middle = below - 0.5 * weight[order]
    return np.interp(shares, middle, values[order])
