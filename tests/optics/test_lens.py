from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from shapely.geometry import Polygon, box

from chi2 import agrees
from doors import loop
from throughlight.optics import lens

RADIUS = 0.02


@loop
def _pupil(u, radius, blades, turned=0.0):
    out = np.empty((len(u), 2))
    for i in range(len(u)):
        out[i] = lens.pupil_point(u[i, 0], u[i, 1], radius, blades, turned)
    return out


def outline(blades, turned=0.0):
    """Return the polygon of that many blades with the round pupil's area, a corner up; 0 has 20 000 corners."""
    corners = max(blades, 0) or 20_000
    a = 2.0 * math.pi * turned + math.pi / 2.0 + 2.0 * math.pi * np.arange(corners) / corners
    size = math.sqrt(math.pi * RADIUS**2 / (corners / 2.0 * math.sin(2.0 * math.pi / corners)))
    return Polygon(np.stack([size * np.cos(a), size * np.sin(a)], axis=1))


BLADES = (0, 3, 5, 6, 9)


@pytest.mark.parametrize("turned", [0.0, 10 / 360, -0.04])
@pytest.mark.parametrize("blades", BLADES)
def test_pupil_is_covered_evenly(blades, turned):
    """Counts in a square grid against areas of intersection by shapely; the area is the round pupil's π·r²."""
    whole = outline(blades, turned)
    assert whole.area == pytest.approx(math.pi * RADIUS**2, rel=1e-9)
    points = _pupil(np.random.default_rng(5).random((200_000, 2)), RADIUS, blades, turned)
    edges = np.linspace(-1.7 * RADIUS, 1.7 * RADIUS, 25)
    areas = [
        [whole.intersection(box(x0, y0, x1, y1)).area for y0, y1 in itertools.pairwise(edges)]
        for x0, x1 in itertools.pairwise(edges)
    ]
    observed = np.histogram2d(points[:, 0], points[:, 1], (edges, edges))[0]
    assert observed.sum() == len(points)
    agrees(observed, np.array(areas) / np.sum(areas) * len(points), tests=3 * len(BLADES))


@pytest.mark.parametrize("degrees", [0, 10, 25, 40])
def test_hood_passes_the_overlap_of_two_discs(degrees):
    """Parallel light through two circles d apart: (2/π)·(arccos x − x·√(1 − x²)), x = d/2r (any geometry text)."""
    depth = 0.03
    x = min(1.0, depth * math.tan(math.radians(degrees)) / (2.0 * RADIUS))
    expected = 2.0 / math.pi * (math.acos(x) - x * math.sqrt(1.0 - x * x))
    points = _pupil(np.random.default_rng(6).random((40_000, 2)), RADIUS, 0)
    d = (math.sin(math.radians(degrees)) * 0.6, math.sin(math.radians(degrees)) * 0.8, math.cos(math.radians(degrees)))
    passed = np.mean([lens.ring_passes(px, py, *d, RADIUS, depth) for px, py in points])
    assert abs(passed - expected) <= 4.0 * math.sqrt(expected * (1.0 - expected) / len(points))


def test_without_hood_or_backward():
    assert lens.ring_passes(0.019, 0.0, 1.0, 0.0, 1e-3, RADIUS, 0.0)
    assert not lens.ring_passes(0.0, 0.0, 0.0, 0.0, -1.0, RADIUS, 0.03)
