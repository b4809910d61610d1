"""Pearson's χ² test of a sampler against its density, one policy for all of them.

The domain is cut into cells; the expected count of a cell is the density's integral over it by Gauss–Legendre
quadrature, and one more cell holds rejected samples, expected as often as the density falls short of one. Cells that
expect few samples are pooled. A family of tests has a joint level of one per cent: by Šidák each of n tests has
1 − 0.99^(1/n). Source: Šidák 1967, "Rectangular Confidence Regions for the Means of Multivariate Normal Distributions".
"""

from __future__ import annotations

import math

import numpy as np
from scipy import stats

LEVEL = 0.01
_LEAST = 10.0  # expected samples of a cell that stands alone


def level(tests):
    """Return the level of one of `tests` tests."""
    return 1.0 - (1.0 - LEVEL) ** (1.0 / tests)


def agrees(observed, expected, tests=1):
    """Assert that counts are as expected; `tests` is the size of the family that shares the level."""
    observed, expected = np.ravel(observed).astype(float), np.ravel(expected).astype(float)
    samples = observed.sum()
    assert abs(expected.sum() - samples) <= 1e-9 * samples
    rare = expected < _LEAST
    pool_seen, pool_wanted = observed[rare].sum(), expected[rare].sum()
    seen, wanted = observed[~rare], expected[~rare]
    if pool_wanted >= _LEAST:
        seen, wanted = np.append(seen, pool_seen), np.append(wanted, pool_wanted)
    else:  # too few for χ²: as many or more by chance?
        p = float(stats.poisson.sf(pool_seen - 1, pool_wanted))
        assert p > level(tests), f"{pool_seen:.0f} samples where {pool_wanted:.3g} are expected, p = {p:.3g}"
    freedom = len(wanted) - 1
    assert freedom > 0, "one cell alone tests nothing"
    statistic = float(np.sum((seen - wanted) ** 2 / wanted))
    p = float(stats.chi2.sf(statistic, freedom))
    said = f"χ² = {statistic:.1f} with {freedom} degrees of freedom, p = {p:.3g} against {level(tests):.3g}"
    print(said)
    assert p > level(tests), said


class Sphere:
    """Directions up to an angle from +z cut into cells, even in φ, with quadrature nodes in each.

    Rows are even in θ, or, when `edge` is set, in s with θ = widest·(1 − (1 − s)²): for a density that ends at `widest`
    like a square root.
    """

    def __init__(self, rows=24, columns=32, nodes=12, widest=math.pi, edge=False):
        self.rows, self.columns, self.widest, self.edge = rows, columns, widest, edge
        x, w = np.polynomial.legendre.leggauss(nodes)
        x, w = (x + 1.0) / 2.0, w / 2.0
        s = (np.arange(rows)[:, None] + x) / rows
        theta = widest * (1.0 - (1.0 - s) ** 2 if edge else s)
        stretch = widest * (2.0 * (1.0 - s) if edge else np.ones_like(s)) * w / rows
        phi = (np.arange(columns)[:, None] + x) * 2.0 * math.pi / columns
        z, r = np.cos(theta)[:, None, :, None], np.sin(theta)[:, None, :, None]
        self.nodes = np.stack(
            np.broadcast_arrays(r * np.cos(phi)[None, :, None, :], r * np.sin(phi)[None, :, None, :], z), axis=-1
        ).reshape(-1, 3)
        weights = r * stretch[:, None, :, None] * np.broadcast_to(w, (1, columns, 1, nodes)) * 2.0 * math.pi / columns
        self.weights = weights.reshape(rows * columns, -1)

    def count(self, directions):
        """Return how many unit vectors (n, 3) lie in each cell; those beyond `widest` count in the last row."""
        # The tangent of θ, since the cosine of a small angle has lost its digits.
        s = np.arctan2(np.hypot(directions[:, 0], directions[:, 1]), directions[:, 2]) / self.widest
        if self.edge:
            s = 1.0 - np.sqrt(np.maximum(0.0, 1.0 - s))
        row = np.clip((s * self.rows).astype(int), 0, self.rows - 1)
        turns = np.arctan2(directions[:, 1], directions[:, 0]) / (2.0 * math.pi) % 1.0
        column = np.clip((turns * self.columns).astype(int), 0, self.columns - 1)
        return np.bincount(row * self.columns + column, minlength=self.rows * self.columns)

    def integrate(self, densities):
        """Return each cell's integral of a density given at `nodes`, 1/sr."""
        return np.sum(densities.reshape(self.rows * self.columns, -1) * self.weights, axis=1)

    def test(self, directions, densities, rejected=0, tests=1, total=None, slack=1e-5):
        """Assert that directions are spread as their density, given at `nodes`.

        `rejected` samples gave no direction; `total`, where it is known, is the density's integral over the sphere, and
        `slack` how well quadrature can do.
        """
        share = self.integrate(densities)
        if total is not None:
            assert abs(share.sum() - total) < slack, f"the density adds up to {share.sum():.8f}, not {total}"
        samples = len(directions) + rejected
        lost = max(0.0, 1.0 - share.sum())
        expected = np.append(share, lost) * samples
        expected *= samples / expected.sum()
        return agrees(np.append(self.count(directions), rejected), expected, tests)
