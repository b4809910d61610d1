"""How a traced figure is held against an outside value: expected value, standard error, number of sigmas.

The policy is one for all checks: a figure agrees when it lies within four standard errors of the expected value (plus
the error of the reference itself, where it has one), and the check only counts when the standard error is at most one
per cent of the expected value, 0.0144 stop. Errors come from 64 independent randomisations, for which Student's t gives
four sigmas a chance of 1.7 in 10 000.
"""

from __future__ import annotations

import numpy as np

from stages import LUMINANCE, mean_and_error, measure
from throughlight.trace.driver import Target
from throughlight.trace.expose import FILM, FRONT

REPLICATES = 64
SIGMAS = 4.0
POWER = 0.01
_EXACT = 1e-12  # rounding of a sum, relative


def agrees(measured, expected, reference_error=0.0, power=POWER):
    """Assert that (value, standard error) agrees with the expected value, and that the check has power."""
    value, error = measured
    off = abs(value - expected)
    sigmas = off / error if error > 0.0 else float("inf") if off > 0.0 else 0.0
    said = f"measured {value:.8g} ± {error:.2g}, expected {expected:.8g}: {sigmas:.2f} sigmas"
    print(said)
    assert error <= power * abs(expected), f"no power: {said}"
    assert off <= SIGMAS * error + reference_error + _EXACT * abs(expected), said


def illuminance(bench, at, toward, paths=1024, seed=1, room=0.0, radius=0.0):
    """Return the illuminance on a small receptor at `at` that faces `toward`, and its standard error.

    The receptor is the lens's front element, whose picture angle is made too small to take anything away.
    """
    stage = bench.stage(at, toward, room, half_width=1e-9, half_height=1e-9, front=radius)
    tally = measure(stage, Target(FRONT, 1, 1, np.zeros(1, np.int64), 15), paths, seed=seed, replicates=REPLICATES)
    return mean_and_error(tally.cells[:, 0].sum(axis=1) @ LUMINANCE / tally.rays)


def seen_luminance(stage, region, paths=1024, seed=1):
    """Return the mean luminance over the part of the frame that meets a region first, and its standard error."""
    target = Target(FILM, 1, 1, np.zeros(1, np.int64), 1 << region)
    tally = measure(stage, target, paths, seed=seed, replicates=REPLICATES)
    return mean_and_error(tally.cells.sum(axis=(1, 2)) @ LUMINANCE / tally.counts[:, 0, region])
