from __future__ import annotations

import math

import numpy as np
import pytest

from chi2 import agrees
from throughlight.optics import circle, emission


def test_turn_against_numpy():
    u = np.concatenate([np.linspace(-1.0, 1.0, 20_001), [0.125, 0.375, 0.625, 0.875, 1.0 - 2.0**-53]])
    exact = u.astype(np.longdouble) * 2 * np.arccos(np.longdouble(-1))
    found = np.array([circle.turn(x) for x in u])
    assert np.abs(found[:, 0] - np.cos(exact)).max() < 4e-16
    assert np.abs(found[:, 1] - np.sin(exact)).max() < 4e-16


def rings_and_sectors(points, radius):
    """Count points in cells of equal area, 16 rings by 24 sectors."""
    ring = np.minimum((np.hypot(*points.T) / radius) ** 2 * 16, 15).astype(int)
    sector = np.minimum((np.arctan2(points[:, 1], points[:, 0]) / (2.0 * math.pi) % 1.0) * 24, 23).astype(int)
    return np.bincount(ring * 24 + sector, minlength=384)


def test_disc_is_covered_evenly():
    points = np.array([emission.sample_disc(0.3, *u) for u in np.random.default_rng(3).random((100_000, 2))])
    assert (np.hypot(*points.T) <= 0.3 * (1.0 + 1e-15)).all()
    agrees(rings_and_sectors(points, 0.3), np.full(384, len(points) / 384))


def test_middle_and_corners_of_the_square():
    assert circle.disc(0.5, 0.5) == (0.0, 0.0)
    for u, degrees in (((1.0, 1.0), 45), ((0.0, 1.0), 135), ((0.0, 0.0), 225), ((1.0, 0.0), 315), ((1.0, 0.5), 0)):
        a = math.radians(degrees)
        np.testing.assert_allclose(circle.disc(*u), (math.cos(a), math.sin(a)), atol=1e-15)


def test_profile_of_a_face():
    # Half the axial intensity at half the beam angle: cos^(k−1) times the foreshortening cos.
    half = math.radians(30.0)
    k = math.log(0.5) / math.log(math.cos(half))
    assert emission.profile(math.cos(half), k) * math.cos(half) == pytest.approx(0.5, rel=1e-14)
    assert emission.profile(0.3, 1.0) == 1.0
    assert emission.profile(1.0, 7.0) == 1.0
    assert emission.profile(0.0, 1.0) == emission.profile(-0.2, 3.0) == 0.0
