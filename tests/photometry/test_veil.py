"""Veil against the definition of the veiling-glare index (ISO 9358:1994), and the hood against Howell C-41."""

from __future__ import annotations

import math

import pytest
from scipy.integrate import quad

from closed_forms import coaxial_discs
from throughlight.photometry import veil


def test_uniform_surround_gives_back_the_index():
    """ISO 9358: black spot in a uniform field of luminance L, E = π·L on the element: the spot looks like g·L."""
    assert veil.veiling_luminance(0.02, math.pi * 500) == pytest.approx(0.02 * 500, rel=1e-12)


@pytest.mark.parametrize(
    ("percent", "factor", "stops"), [(0.5, 1.28125, 0.358), (1, 1.5625, 0.644), (2, 2.125, 1.087), (3, 2.6875, 1.426)]
)
def test_black_cloth_beside_a_white_card(percent, factor, stops):
    """1000 lx; cloth 0.4 %; a 90 % card fills a quarter of the lens's cosine-weighted view (card only counted)."""
    cloth, card = 0.004 * 1000 / math.pi, 0.90 * 1000 / math.pi
    seen = cloth + veil.veiling_luminance(percent / 100, math.pi * card * 0.25)
    assert seen / cloth == pytest.approx(factor, rel=1e-9)
    assert math.log2(seen / cloth) == pytest.approx(stops, abs=5e-4)


@pytest.mark.parametrize(("radius", "depth"), [(0.02, 0.01), (0.03, 0.06), (0.01, 0.2)])
def test_hood_in_a_uniform_surround_howell_c41(radius, depth):
    """∫ w·cosθ dω / π is the configuration factor between element and rim, two equal coaxial discs."""

    def ring(angle):
        return 2 * veil.hood_acceptance(angle, radius, depth) * math.cos(angle) * math.sin(angle)

    total, _ = quad(ring, 0, veil.hood_cut_off(radius, depth), epsabs=0, epsrel=1e-11, limit=200)
    expected = coaxial_discs(radius, radius, depth)
    assert total == pytest.approx(expected, rel=1e-9)
    assert veil.uniform_surround_acceptance(radius, depth) == pytest.approx(expected, rel=1e-9)


def test_hood_acceptance_at_its_ends():
    assert veil.hood_acceptance(0.0, 0.02, 0.05) == pytest.approx(1, rel=1e-12)
    assert veil.hood_acceptance(math.radians(80), 0.02, 0.0) == pytest.approx(1, rel=1e-12)
    cut = veil.hood_cut_off(0.02, 0.05)
    assert math.tan(cut) == pytest.approx(0.04 / 0.05, rel=1e-12)
    assert veil.hood_acceptance(cut * 1.0001, 0.02, 0.05) == 0
    assert veil.hood_acceptance(math.radians(91), 0.02, 0.0) == 0
    # Shifted by its radius, a disc keeps 2/3 − √3/(2π) of its area (lens of two circles through each other's centre).
    half = math.atan(0.02 / 0.05)
    assert veil.hood_acceptance(half, 0.02, 0.05) == pytest.approx(2 / 3 - math.sqrt(3) / (2 * math.pi), rel=1e-9)


def test_no_hood_lets_a_uniform_surround_in():
    assert veil.uniform_surround_acceptance(0.02, 0.0) == 1
