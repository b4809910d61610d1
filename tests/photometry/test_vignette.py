"""What several discs share, against shapely's polygons of many corners and against the two-circle formula."""

from __future__ import annotations

import math

import pytest
from shapely.geometry import Point

from throughlight.photometry.vignette import common_area, passing


def polygons(discs):
    first, *others = (Point(centre, 0).buffer(radius, quad_segs=20_000) for centre, radius in discs)
    for other in others:
        first = first.intersection(other)
    return first.area


@pytest.mark.parametrize(
    "discs",
    [
        [(0.0, 1.0)],
        [(0.0, 1.0), (0.3, 1.0)],
        [(0.0, 1.0), (0.9, 0.4)],
        [(0.0, 1.0), (0.2, 0.4)],
        [(0.0, 1.0), (0.0, 1.5), (1.4, 1.2)],
        [(0.0, 1.0), (0.8, 1.2), (1.5, 2.0)],
        [(0.0, 1.0), (-0.7, 1.1), (0.6, 0.9)],
    ],
)
def test_common_area_against_shapely(discs):
    assert common_area(discs) == pytest.approx(polygons(discs), rel=1e-7)


def test_discs_apart_share_nothing():
    assert common_area([(0.0, 1.0), (2.5, 1.0)]) == 0.0


@pytest.mark.parametrize("x", [0.1, 0.5, 0.95])
def test_two_equal_circles(x):
    """(2/π)·(arccos x − x·√(1 − x²)) of the disc, x = d/2r (any geometry text)."""
    shared = 2.0 / math.pi * (math.acos(x) - x * math.sqrt(1.0 - x * x))
    assert common_area([(0.0, 0.02), (0.04 * x, 0.02)]) / (math.pi * 0.02**2) == pytest.approx(shared, rel=1e-12)


def test_far_light_sees_the_rings_shifted():
    """Focused at infinity (a = f) nothing shrinks: circles X·tan θ apart."""
    shared = passing(0.02, 0.5, 0.1, 0.1, [(0.03, 0.02)])
    x = 0.03 * 0.5 / 0.04
    assert shared == pytest.approx(2.0 / math.pi * (math.acos(x) - x * math.sqrt(1.0 - x * x)), rel=1e-12)
    assert passing(0.02, 0.5, 0.1, 0.1, [(0.03, 0.04)]) == pytest.approx(1.0, rel=1e-12)


def test_near_light_runs_through_a_narrower_ring():
    """At 1:1 a cone is half as wide half way to the subject: a ring of half the pupil's size is just full."""
    assert passing(0.02, 0.0, 0.2, 0.1, [(0.1, 0.01)]) == pytest.approx(1.0, rel=1e-12)
    assert passing(0.02, 0.0, 0.2, 0.1, [(0.1, 0.005)]) == pytest.approx(0.25, rel=1e-12)
