"""Matter from a picture: closed forms for straight light, and the even slab for scattered light.

Along a line through matter that only absorbs the transmittance is exp(−∫µa ds). A picture is linear between the middles
of its pixels, so a ramp between two of them has the integral (µ₀ + µ₁)/2·L. Standard errors and sigmas: agreement.py.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from slab_rows import row
from slab_stages import layers

from agreement import agrees
from stages import Bench, film_luminance
from throughlight.stage.frames import facing
from throughlight.trace.expose import FILM
from throughlight.trace.tables import ShapeKind

FRONTAL = facing((0.0, 0.0, 0.0), (0.0, 0.0, 1.0))
PENCIL = {"half_width": 1e-9, "half_height": 1e-9}


@pytest.mark.parametrize(("low", "high"), [(0.0, 30.0), (5.0, 40.0)])
def test_linear_ramp_along_the_ray(low, high):
    """A clear block, index-matched, from the middle of one pixel to the middle of the next along the ray."""
    bench = Bench()
    medium = bench.mapped([[low, high]], [[0.0, 0.0]], 0.0, 1.0, left=-0.1, top=0.5, width=0.2, height=1.0)
    bench.body(ShapeKind.BOX, (0, 0, 0), FRONTAL, (0.05, 0.3, 0.3), medium)
    stage = bench.stage((1.0, 0, 0), (0, 0, 0), room=1.0, **PENCIL)
    agrees(film_luminance(stage, 4096, replicates=64), math.exp(-(low + high) / 2 * 0.1))


@pytest.mark.parametrize("x", [-0.09, -0.03, 0.06])
def test_ramp_across_the_picture_angle(x):
    """Looked at along the thickness, each place of the ramp shows its own exp(−µ(x)·d)."""
    bench = Bench()
    medium = bench.mapped([[0.0, 40.0]], [[0.0, 0.0]], 0.0, 1.0, left=-0.2, top=0.5, width=0.4, height=1.0)
    bench.body(ShapeKind.BOX, (0, 0, 0), FRONTAL, (0.3, 0.3, 0.02), medium)
    stage = bench.stage((x, 0, 1.0), (x, 0, 0), room=1.0, **PENCIL)
    agrees(film_luminance(stage, 4096, replicates=64), math.exp(-(20.0 + 40.0 * x / 0.2) * 0.04))


@pytest.mark.parametrize(
    ("n", "g", "thickness", "albedo"), [(1.4, 0.5, 2, 0.95), (1.33, 0.0, 2, 0.8), (1, 0.8, 2, 0.9)]
)
def test_constant_map_reads_as_even_matter(n, g, thickness, albedo):
    """The slab by adding-doubling (slab_rows.py), its one value spread over a picture of 3 × 2 pixels.

    The largest extinction is said to be four times what it is, so that three of four candidates are null collisions.
    """
    expected = row(n, g, albedo, thickness)
    bench = Bench()
    absorb, scatter = np.full((2, 3), (1 - albedo) * thickness), np.full((2, 3), albedo * thickness)
    medium = bench.mapped(absorb, scatter, g, n, left=-1000.0, top=1000.0, width=2000.0, height=2000.0)
    bench.media[medium]["most"] *= 4.0
    bench.body(ShapeKind.BOX, (0, 0, 0), FRONTAL, (1000.0, 1000.0, 0.5), medium)
    bench.head(ShapeKind.DISC, (0, 0, 0.52), (0, 0, 0), (100.0, 0, 0))
    bench.head(ShapeKind.DISC, (0, 0, -0.51), (0, 0, 0), (100.0, 0, 0))
    mean, error = layers(bench.stage((0, 0, 0.51), (0, 0, 0), front=1e-6, **PENCIL), FILM, 100_000)
    agrees((mean[0, 1], error[0, 1]), expected.r_coll, 1e-4)
    agrees((mean[1, 1], error[1, 1]), expected.t_coll, 1e-4)


def _behind_a_small_lamp(mapped):
    bench = Bench()
    if mapped:
        absorb, scatter = np.full((2, 2), 20.0), np.full((2, 2), 300.0)
        medium = bench.mapped(absorb, scatter, 0.6, 1.4, left=-0.05, top=0.05, width=0.1, height=0.1)
        bench.media[medium]["most"] *= 2.5
    else:
        medium = bench.medium(300.0, 20.0, 0.6, 1.4)
    bench.body(ShapeKind.BOX, (0, 0, 0), FRONTAL, (0.05, 0.05, 0.004), medium)
    bench.head(ShapeKind.DISC, (0.1, 0.05, -0.3), (0, 0, 0), (0.02, 0, 0))
    stage = bench.stage((0, 0, 0.5), (0, 0, 0), half_width=0.02, half_height=0.02)
    return film_luminance(stage, 4096, replicates=64)


def test_aimed_legs_in_mapped_matter_bring_what_they_bring_in_even_matter():
    """A small lamp behind a polished slab: the even slab's aimed legs are checked against the plain walk elsewhere."""
    even, mapped = _behind_a_small_lamp(False), _behind_a_small_lamp(True)
    agrees((mapped[0] - even[0] + 1.0, math.hypot(even[1], mapped[1])), 1.0)
    agrees(mapped, even[0], 4.0 * even[1])
