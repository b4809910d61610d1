"""The closed forms themselves: published-style worked values (computed once in double precision) and quadrature.

The listed ten-digit values were computed apart from this code, with the catalogue's formulas and with scipy's dblquad
agreeing to ten digits. Tolerance 1e-9 relative where ten digits are listed; small factors carry fewer digits.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import dblquad

from closed_forms import (
    centred_rectangle,
    coaxial_disc,
    coaxial_discs,
    corner_rectangle,
    facing_sphere,
    offset_disc,
    parallel_rectangles,
    perpendicular_disc,
    perpendicular_rectangle,
    perpendicular_rectangles,
    polygon,
    rectangle_corners,
    side_of_cylinder,
    solid_angle_of_rectangle,
    sphere_to_coaxial_disc,
)

HALF_DIGIT = 0.51e-10


def agrees(value, listed):
    return value == pytest.approx(listed, rel=1e-9, abs=HALF_DIGIT)


@pytest.mark.parametrize(
    ("sizes", "listed"),
    [((1, 1, 1), 0.1385316060), ((2, 1, 1), 0.1673750099), ((1, 2, 3), 0.0522678088), ((0.5, 0.5, 1), 0.0598641176)],
)
def test_corner_rectangle_howell_b4(sizes, listed):
    assert agrees(corner_rectangle(*sizes), listed)


@pytest.mark.parametrize(
    ("sizes", "listed"),
    [
        ((0.6, 0.9, 0.5), 0.3939381136),
        ((0.6, 0.6, 0.3), 0.5541264240),
        ((0.3, 1.2, 0.4), 0.3214514147),
        ((1, 1, 2), 0.0734776348),
    ],
)
def test_centred_rectangle_four_times_howell_b4(sizes, listed):
    assert agrees(centred_rectangle(*sizes), listed)


@pytest.mark.parametrize(
    ("sizes", "listed"), [((1, 1, 1), 0.2763932023), ((0.5, 1, 0.5), 0.1464466094), ((1, 0.5, 2), 0.0221104956)]
)
def test_offset_disc_howell_b13(sizes, listed):
    assert agrees(offset_disc(*sizes), listed)


def test_offset_disc_becomes_howell_b12_on_the_axis():
    assert offset_disc(0.15, 0.5, 1e-5) == pytest.approx(coaxial_disc(0.15, 0.5), rel=1e-6)


@pytest.mark.parametrize(("sizes", "listed"), [((1, 1, 2), 0.0854101966), ((0.5, 1, 1), 0.0581563057)])
def test_perpendicular_disc(sizes, listed):
    assert agrees(perpendicular_disc(*sizes), listed)


@pytest.mark.parametrize(
    ("sizes", "listed"), [((1, 1, 1), 0.0557341970), ((2, 1, 1), 0.0686972989), ((0.5, 1, 0.5), 0.0950679412)]
)
def test_perpendicular_rectangle_howell_b5(sizes, listed):
    assert agrees(perpendicular_rectangle(*sizes), listed)


@pytest.mark.parametrize(
    ("sizes", "listed"),
    [((1, 1, 1), 0.3819660113), ((1, 1, 2), 0.1715728753), ((0.5, 1, 1), 0.4688711259), ((1, 0.5, 1), 0.1172177815)],
)
def test_coaxial_discs_howell_c41(sizes, listed):
    assert agrees(coaxial_discs(*sizes), listed)


@pytest.mark.parametrize(
    ("sizes", "listed"), [((1, 1, 1), 0.1998248957), ((2, 1, 1), 0.2858753849), ((0.6, 0.9, 0.5), 0.3078918542)]
)
def test_parallel_rectangles_howell_c11(sizes, listed):
    assert agrees(parallel_rectangles(*sizes), listed)


@pytest.mark.parametrize(
    ("sizes", "listed"), [((1, 1, 1), 0.2000437761), ((2, 1, 1), 0.2328526028), ((0.5, 1, 1), 0.1461866791)]
)
def test_perpendicular_rectangles_howell_c14(sizes, listed):
    assert agrees(perpendicular_rectangles(*sizes), listed)


@pytest.mark.parametrize(
    ("sizes", "listed"),
    [((0.6, 0.9, 0.5), 1.4054590780), ((1, 1, 1), 0.8054316832), ((0.6, 0.6, 0.3), 2 * math.pi / 3)],
)
def test_solid_angle_of_rectangle(sizes, listed):
    assert agrees(solid_angle_of_rectangle(*sizes), listed)


def test_sphere():
    assert facing_sphere(0.1, 0.5) == pytest.approx(0.04, rel=1e-12)
    assert facing_sphere(0.1, 0.5, math.radians(60)) == pytest.approx(0.02, rel=1e-12)
    # Six faces of a cube round a sphere share its light evenly; a disc subtending the same cone as a 60° cap
    # takes (1 − cos60°)/2 of it.
    assert sphere_to_coaxial_disc(math.sqrt(3), 1.0) == pytest.approx(0.25, rel=1e-12)


@pytest.mark.parametrize(("normal", "listed"), [((0, 0, 1), 0.1502295877), ((1, 0, 0), 0.1073068484)])
def test_tilted_panel_lambert_polygon(normal, listed):
    panel = rectangle_corners((0.5, 0, 0.7), 0.6, 0.9, facing=(0, 0, 0))
    assert agrees(polygon(panel, (0, 0, 0), normal), listed)


def panel_over_lens(from_y):
    return [(-0.3, from_y, 0.6), (0.3, from_y, 0.6), (0.3, 0.4, 0.6), (-0.3, 0.4, 0.6)]


def test_panel_shining_into_a_lens():
    """Pupil at (0, −0.6, 0.1) looking along +y, panel above and ahead emitting down."""
    assert agrees(polygon(panel_over_lens(-0.2), (0, -0.6, 0.1), (0, 1, 0)), 0.0715874338)


def test_black_flag_between_panel_and_lens():
    """A flag in the plane y = −0.3 above z = 0.30 leaves the panel beyond y = 0.15 in view: −1.88 stop."""
    # The line of sight under the flag's edge: it rises 0.2 in 0.3, so meets z = 0.6 at −0.6 + 0.75 = 0.15.
    seen = polygon(panel_over_lens(0.15), (0, -0.6, 0.1), (0, 1, 0))
    assert agrees(seen, 0.0194106921)
    assert math.log2(seen / 0.0715874338) == pytest.approx(-1.8829, abs=5e-5)


def test_panel_in_a_silver_card():
    """Mirror of reflectance 0.92 in the plane x = 1; its image of the panel stands at x from 1.7 to 2.3."""

    def panel(left, right):
        return [(left, -0.3, 1), (right, -0.3, 1), (right, 0.3, 1), (left, 0.3, 1)]

    direct = polygon(panel(-0.3, 0.3), (0, 0, 0), (0, 0, 1))
    image = polygon(panel(1.7, 2.3), (0, 0, 0), (0, 0, 1))
    assert agrees(direct, 0.1023717892)
    assert agrees(image, 0.0047378738)
    assert agrees(direct + 0.92 * image, 0.1067306331)


@pytest.mark.parametrize(
    ("place", "visible_to", "listed"),
    [(0.0, (0.0, 0.3), 0.5 * 0.3112771121), (0.1, (-0.1, 0.3), 0.2283980170), (-0.1, (0.1, 0.3), 0.0713939315),
     (0.4, (-0.3, 0.3), 0.1694051699)],
)  # fmt: skip
def test_knife_edge_flag(place, visible_to, listed):
    """Flag half way up over x < 0: a receptor at x sees the panel (z = 0.5) from −x on."""
    left, right = visible_to
    panel = [(left, -0.3, 0.5), (right, -0.3, 0.5), (right, 0.3, 0.5), (left, 0.3, 0.5)]
    assert agrees(polygon(panel, (place, 0, 0), (0, 0, 1)), listed)


def test_white_card_throws_light_back():
    """0.3 × 0.3 m, reflectance 0.9, lit with 1000 lx, 0.2 m from the receptor.

    The listed value has six decimals and is 0.6 of the last one above the quadrature, which is asserted to 1e-9.
    """

    def part(y, x):
        return 0.2**2 / (math.pi * (x * x + y * y + 0.2**2) ** 2)

    factor, _ = dblquad(part, -0.15, 0.15, -0.15, 0.15, epsabs=0, epsrel=1e-12)
    thrown = 1000 * 0.9 * centred_rectangle(0.3, 0.3, 0.2)
    assert thrown == pytest.approx(900 * factor, rel=1e-9)
    assert thrown == pytest.approx(371.565079, abs=1e-6)


def test_gain_between_endless_planes():
    assert pytest.approx(1.1933174224, rel=1e-10) == 1 / (1 - 0.9 * 0.18)


def test_polygon_agrees_with_rectangle():
    corners = [(0, 0, 1), (2, 0, 1), (2, 1, 1), (0, 1, 1)]
    assert polygon(corners, (0, 0, 0), (0, 0, 1)) == pytest.approx(corner_rectangle(2, 1, 1), rel=1e-12)


@pytest.mark.parametrize(("radius", "distance", "half_length"), [(0.02, 1.0, 0.15), (0.05, 0.3, 0.6), (0.1, 0.5, 0.05)])
def test_side_of_cylinder_howell_b31_against_quadrature(radius, distance, half_length):
    def part(z, phi):
        s2 = distance**2 + radius**2 - 2 * distance * radius * math.cos(phi) + z**2
        return (distance * math.cos(phi) - radius) * (distance - radius * math.cos(phi)) * radius / (math.pi * s2**2)

    total, _ = dblquad(part, 0, math.acos(radius / distance), 0, half_length, epsabs=0, epsrel=1e-11)
    assert side_of_cylinder(radius, distance, half_length) == pytest.approx(2 * total, rel=1e-9)


def test_perpendicular_rectangle_against_polygon():
    corners = np.array([(0, 0.5, 0), (1, 0.5, 0), (1, 0.5, 1), (0, 0.5, 1)])
    assert polygon(corners, (0, 0, 0), (0, 0, 1)) == pytest.approx(perpendicular_rectangle(1, 1, 0.5), rel=1e-12)
