"""Slabs between two heads, and what the tracer reads there, by layer and band.

Reciprocity (Helmholtz) turns luminances into reflectance and transmittance: before an even hemisphere of luminance L0 a
slab shows R·L0 along its normal, and T·L0 when the hemisphere is behind it, with R and T for a pencil along the normal.
The illuminance just before the slab is π·L0 times R and T for light from the whole hemisphere. Two discs of luminance
1, so near and so wide that they fill both hemispheres but for 1e-8, give R and T from the same paths.
"""

from __future__ import annotations

import math

import numpy as np

from stages import Bench, measure
from throughlight.stage.frames import facing
from throughlight.trace.driver import Target
from throughlight.trace.expose import FILM, FRONT
from throughlight.trace.tables import ShapeKind

REPLICATES = 64
ONE_CELL = np.zeros(1, np.int64)
EVERYTHING = 15
PENCIL = {"half_width": 1e-9, "half_height": 1e-9}
"""A picture angle so small that the film sees along one ray, and that nothing on the front element is within it."""


def endless_slab(n, g, scatter, absorb, d=1.0, alpha=0.0):
    """Return a bench with a slab of thickness d across z, a thousand times as wide as it is thick to every side."""
    bench = Bench()
    medium = bench.medium(scatter, absorb, g, n, alpha)
    bench.body(ShapeKind.BOX, (0, 0, 0), facing((0, 0, 0), (0, 0, 1)), (1000 * d, 1000 * d, d / 2), medium)
    return bench


def between_hemispheres(n, g, scatter, absorb, d=1.0, alpha=0.0):
    """Return a stage with an even hemisphere before (layer 0) and behind (layer 1) an endless slab."""
    bench = endless_slab(n, g, scatter, absorb, d, alpha)
    bench.head(ShapeKind.DISC, (0, 0, 0.52 * d), (0, 0, 0), (100 * d, 0, 0))
    bench.head(ShapeKind.DISC, (0, 0, -0.51 * d), (0, 0, 0), (100 * d, 0, 0))
    return bench.stage((0, 0, 0.51 * d), (0, 0, 0), front=1e-6 * d, **PENCIL)


def layers(stage, mode, paths, seed=1):
    """Return means and standard errors, each (layers, bands): luminance on the film, or illuminance on the front."""
    tally = measure(
        stage, Target(mode, 1, 1, ONE_CELL, EVERYTHING), math.ceil(paths / REPLICATES), seed=seed, replicates=REPLICATES
    )
    assert tally.status == (0, 0, 0)
    replicates = tally.cells[:, 0] / tally.rays
    return replicates.mean(axis=0), replicates.std(axis=0, ddof=1) / math.sqrt(REPLICATES)


def collimated(stage, paths, seed=1):
    """Return ((R, T) by band, standard errors) for a pencil along the normal, from a stage between hemispheres."""
    mean, error = layers(stage, FILM, paths, seed)
    return mean[:2], error[:2]


def diffuse(stage, paths, seed=1):
    """Return ((R, T) by band, standard errors) for light from the whole hemisphere."""
    mean, error = layers(stage, FRONT, paths, seed)
    return mean[:2] / math.pi, error[:2] / math.pi


def agree(name, mean, error, expected, slack, sigmas=4.0, power=0.01):
    """Check |mean − expected| ≤ sigmas·error + slack, and that the standard error is small enough to tell anything.

    `mean`, `error` and `expected` are of one shape; `slack` is the uncertainty of the expected values.
    """
    mean, error, expected = np.asarray(mean), np.asarray(error), np.asarray(expected, float)
    assert np.all(error <= power * expected), f"{name}: no power: {error / expected}"
    off = np.abs(mean - expected)
    said = f"{name}: got {mean}, expected {expected}, standard error {error}, sigmas {(mean - expected) / error}"
    assert np.all(off <= sigmas * error + slack), said
