"""Balls of translucent matter against Mitsuba 3, run live: polished and rough, lit from behind and from all round.

A check passes within four standard errors of the difference; both standard errors are at most 1 % of the value.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from mitsuba_peer import body, lamp, mean_radiance, peer, scene

from stages import Bench, film_luminance
from throughlight.trace.tables import ShapeKind

_DISTANCE, _HALF = 0.4, 0.01  # of the lens; half of the frame at the ball's middle, m
_RADIUS = 0.02  # m
_PIXELS = 32


def _ours(scatter, absorb, g, n, alpha, lit, paths):
    """Return the mean luminance over the frame and its standard error; coefficients in 1/mm."""
    bench = Bench()
    medium = bench.medium(1000 * scatter, 1000 * absorb, g, n, alpha)
    bench.body(ShapeKind.SPHERE, (0, 0, 0), np.eye(3), (_RADIUS, 0, 0), medium)
    if lit == "behind":
        bench.head(ShapeKind.RECTANGLE, (0, 0, -0.5), (0, 0, 0), (0.5, 0.5, 0))
    stage = bench.stage((0, 0, _DISTANCE), room=float(lit == "all round"), half_width=_HALF, half_height=_HALF)
    mean, error = film_luminance(stage, paths // 64, replicates=64)
    # The film's cos⁴, averaged over the frame: 1 − 2·(x² + y²)/f² + 3·(x² + y²)²/f⁴, the last part at most 5e-6.
    falloff = 1.0 - 4.0 / 3.0 * (_HALF / _DISTANCE) ** 2
    return mean / falloff, error / falloff


def _theirs(scatter, absorb, g, n, alpha, lit, samples):
    mi = peer()
    things = {"ball": body(mi, "sphere", 1000 * _RADIUS, scatter, absorb, g, n, alpha)}
    if lit == "behind":
        things["lamp"] = lamp(mi, "rectangle", [0, 0, -500], [0, 0, 0], 500)
    else:
        things["room"] = {"type": "constant", "radiance": {"type": "rgb", "value": [1.0] * 3}}
    described = scene(mi, 1000 * _DISTANCE, 1000 * _HALF, _PIXELS, _PIXELS, **things)
    return mean_radiance(mi, described, (0, _PIXELS), (0, _PIXELS), samples)


@pytest.mark.parametrize(
    ("matter", "lit", "paths", "samples"),
    [
        ((0.2, 0.01, 0.6, 1.33, 0.0), "behind", 1 << 18, 16),
        ((0.2, 0.01, 0.6, 1.33, 0.2), "behind", 1 << 18, 16),
        ((0.2, 0.0, 0.6, 1.4, 0.3), "all round", 1 << 15, 4),
    ],
    ids=["polished", "rough", "furnace"],
)
def test_ball_like_mitsuba(matter, lit, paths, samples):
    expected, error_theirs = _theirs(*matter, lit, samples)
    mean, error = _ours(*matter, lit, paths)
    assert max(error, error_theirs) <= 0.01 * expected, (mean, error, expected, error_theirs)
    sigmas = (mean - expected) / math.hypot(error, error_theirs)
    assert abs(sigmas) <= 4.0, f"{mean} ± {error} against {expected} ± {error_theirs}: {sigmas:+.1f} standard errors"
    if lit == "all round":
        # Lossless inside; light that would need a second facet on its way is lost at each meeting with the boundary.
        assert mean < 1.0
