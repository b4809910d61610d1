"""Profiles as tables: flux, light close by, and the honeycomb, against closed forms and scipy's quadrature."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import dblquad, quad

from closed_forms import centred_rectangle, coaxial_disc, coaxial_discs
from throughlight.photometry import flash
from throughlight.photometry.profiles import Profile, from_pairs, from_planes, honeycomb, overlap_of_circles

EIGHTHS = np.radians(np.linspace(0, 90, 721))
LAMBERTIAN = from_pairs(EIGHTHS, np.cos(EIGHTHS))
KINKED = ((0.0, 30.0, 90.0), (1.0, 0.6, 0.0))


def kinked():
    return from_pairs(np.radians(KINKED[0]), KINKED[1])


def kink(theta):
    return float(np.interp(math.degrees(theta), *KINKED))


def test_table_of_a_cosine_is_lambert_1760():
    """π, and a power of one; straight lines between eighths of a degree lose (π/720)²/12 of it or less."""
    assert LAMBERTIAN.flux == pytest.approx(math.pi, rel=2e-6)
    assert LAMBERTIAN.exponent == pytest.approx(1.0, abs=1e-5)
    assert Profile(1.0).flux == pytest.approx(math.pi, rel=1e-15)


def test_flux_of_straight_lines():
    expected, _ = quad(lambda t: 2 * math.pi * kink(t) * math.sin(t), 0, math.pi / 2, points=[math.pi / 6])
    assert kinked().flux == pytest.approx(expected, rel=1e-9)


def test_sum_from_the_axis_outward():
    expected, _ = quad(lambda t: kink(t) * math.sin(t), 0, 0.7, points=[math.pi / 6])
    assert kinked().within(0.7, 2.0) == pytest.approx(expected, rel=1e-9)
    assert kinked().within(math.pi / 2, 0.0) == pytest.approx(kinked().flux / (2 * math.pi), rel=1e-12)


@pytest.mark.parametrize("distance", [0.05, 0.5, 4.0])
def test_tabled_cosine_close_by_howell_b4_b12(distance):
    """The share of the hemisphere that a Lambertian face fills, of luminance 1: E = π·F."""
    panel = flash.face_of("rectangle", 0.6, 0.9, LAMBERTIAN).illuminance(distance)
    assert panel == pytest.approx(math.pi * centred_rectangle(0.6, 0.9, distance), rel=3e-6)
    disc = flash.face_of("disc", 0.3, 0, LAMBERTIAN).illuminance(distance)
    assert disc == pytest.approx(math.pi * coaxial_disc(0.15, distance), rel=3e-6)


def test_panel_close_by_is_no_far_field():
    """0.6 × 0.9 m, 10⁴ cd/m², 0.5 m: 12375.930838 lx (B-4); intensity over distance squared is 0.803 stop more."""
    face = flash.face_of("rectangle", 0.6, 0.9, LAMBERTIAN)
    assert 1e4 * face.illuminance(0.5) == pytest.approx(12375.930838, rel=3e-6)
    assert math.log2(face.intensity / 0.25 / face.illuminance(0.5)) == pytest.approx(0.803, abs=5e-4)


def test_kinked_profile_close_by():
    """E = ∫ L·R(θ)/cosθ·cosθ·cosθ/s² dA by scipy's dblquad."""
    d = 0.4

    def patch(y, x):
        s = math.sqrt(x * x + y * y + d * d)
        return 4 * kink(math.acos(d / s)) * (d / s) / (s * s)

    expected, _ = dblquad(patch, 0, 0.3, 0, 0.1, epsabs=1e-10, epsrel=1e-8)
    face = flash.face_of("rectangle", 0.6, 0.2, kinked())
    assert face.illuminance(d) == pytest.approx(expected, rel=1e-6)


def test_profile_of_planes_close_by():
    """R(θ, φ) = cosθ·(1 + ½·cos 2φ) favours the long way of a panel; dblquad again (φ told every 5°: 1e-3)."""
    turns = np.radians(np.arange(0, 361, 5))
    table = np.cos(EIGHTHS)[None, :] * (1 + 0.5 * np.cos(2 * turns))[:, None]
    profile = from_planes(EIGHTHS, turns, table)
    assert profile.flux == pytest.approx(math.pi / 1.5, rel=1e-5)
    d = 0.3

    def patch(y, x):
        s2 = x * x + y * y + d * d
        lobe = 1 + 0.5 * math.cos(2 * math.atan2(y, x))
        return 4 / 1.5 * lobe * d * d / (s2 * s2)

    expected, _ = dblquad(patch, 0, 0.3, 0, 0.1, epsabs=1e-10, epsrel=1e-8)
    assert flash.face_of("rectangle", 0.6, 0.2, profile).illuminance(d) == pytest.approx(expected, rel=1e-3)
    across = flash.face_of("rectangle", 0.2, 0.6, profile).illuminance(d)
    assert across < 0.8 * expected


@pytest.mark.parametrize("x", [0.0, 0.2, 0.5, 0.9, 1.0, 2.0])
def test_common_part_of_two_circles(x):
    """By areas of polygons (shapely) of 4096 sides, which are 4e-7 too small."""
    from shapely.geometry import Point

    one, other = Point(0, 0).buffer(0.5, quad_segs=1024), Point(x, 0).buffer(0.5, quad_segs=1024)
    share = one.intersection(other).area / one.area
    assert overlap_of_circles(x) == pytest.approx(share, abs=2e-6)


@pytest.mark.parametrize("degrees", [10, 30, 60, 120])
def test_honeycomb_passes_what_a_tube_passes_howell_c41(degrees):
    """Of a Lambertian face's light a round cell passes the share that its one end sends straight to its other end.

    Cut off at θ_c, a cell of radius 1 is 2/tanθ_c long. The table's straight lines cost up to 1e-3 at the narrowest.
    """
    cut_off = math.radians(degrees / 2)
    passed = honeycomb(Profile(1.0), cut_off).flux / math.pi
    assert passed == pytest.approx(coaxial_discs(1.0, 1.0, 2.0 / math.tan(cut_off)), rel=1e-3)


def test_honeycomb_leaves_the_axis_and_cuts_off():
    profile = honeycomb(kinked(), math.radians(20))
    assert profile.axial == 1.0
    assert profile.table[160:].max() == 0.0
    assert profile.table[80, 0] > 0.0


def test_energy_is_before_the_grid_and_a_reading_behind_it():
    """The axis keeps its light behind a grid; all the rest loses."""
    bare = flash.face_of("disc", 0.18, 0, Profile(3.0))
    gridded = flash.face_of("disc", 0.18, 0, honeycomb(Profile(3.0), math.radians(15)))
    plain = flash.output(bare, bare, flash.Given(energy=100.0))
    behind = flash.output(bare, gridded, flash.Given(energy=100.0))
    assert behind.axial_intensity == pytest.approx(plain.axial_intensity, rel=1e-12)
    assert behind.luminous_energy == pytest.approx(3500 * gridded.energy / bare.energy, rel=1e-12)
    read = flash.output(bare, gridded, flash.Given(meter=(behind.meter_f_number_at_1m, 1.0, 100.0)))
    assert read == pytest.approx(behind, rel=1e-9)


def test_nothing_is_read_where_no_light_goes():
    ring = flash.face_of("disc", 0.2, 0, from_pairs(np.radians([0, 30, 60]), [0.0, 1.0, 0.0]))
    assert flash.output(ring, ring, flash.Given(energy=10.0)).luminous_energy == pytest.approx(350)
    with pytest.raises(ValueError, match="along the axis"):
        flash.output(ring, ring, flash.Given(guide_number=20.0))
    with pytest.raises(ValueError, match="disc or a rectangle"):
        flash.face_of("tube", 0.2, 0.1, LAMBERTIAN)
