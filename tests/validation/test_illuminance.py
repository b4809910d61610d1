"""Illuminance under faces of every kind, against configuration factors.

The receptor is the front element of the lens, made a point (or a disc, for coaxial discs), or a matte patch seen by a
pinhole camera. A Lambertian face of luminance 1 gives the receptor E = π·F. Catalogue numbers such as B-4 are those of
J. R. Howell, A Catalog of Radiation Heat Transfer Configuration Factors; F to ten digits was computed from the closed
forms and checked against double quadrature.
Standard errors and sigmas: see agreement.py.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import integrate

import closed_forms
from agreement import REPLICATES, agrees, illuminance, seen_luminance
from stages import LUMINANCE, Bench, mean_and_error, measure
from throughlight.stage.frames import facing
from throughlight.trace.driver import Target
from throughlight.trace.expose import FRONT
from throughlight.trace.tables import Region, ShapeKind, SurfaceKind

DISC, RECTANGLE, TUBE = ShapeKind.DISC, ShapeKind.RECTANGLE, ShapeKind.TUBE
HERE, UP = (0.0, 0.0, 0.0), (0.0, 0.0, 1.0)


def panel(centre, width, height, luminance=1.0, aim=None, exponent=1.0):
    """Return a bench with one rectangle, its width along x; it shines down unless it is aimed."""
    bench = Bench()
    x, y, z = centre
    aim = (x, y, z - 1) if aim is None else aim
    bench.head(RECTANGLE, centre, aim, (width / 2, height / 2, 0), luminance, exponent)
    return bench


def disc(radius, height, offset=0.0, luminance=1.0, exponent=1.0):
    """Return a bench with one disc that shines down from `height`, `offset` along x."""
    bench = Bench()
    bench.head(DISC, (offset, 0, height), (offset, 0, 0), (radius, 0, 0), luminance, exponent)
    return bench


@pytest.mark.parametrize(
    ("a", "b", "c", "factor"),
    [(1, 1, 1, 0.1385316060), (2, 1, 1, 0.1673750099), (1, 2, 3, 0.0522678088), (0.5, 0.5, 1, 0.0598641176)],
)
def test_rectangle_over_its_corner_howell_b4(a, b, c, factor):
    agrees(illuminance(panel((a / 2, b / 2, c), a, b), HERE, UP), math.pi * factor)


@pytest.mark.parametrize(
    ("width", "height", "distance", "factor"),
    [
        (0.6, 0.9, 0.5, 0.3939381136),
        (0.6, 0.6, 0.3, 0.5541264240),
        (0.3, 1.2, 0.4, 0.3214514147),
        (1.0, 1.0, 2.0, 0.0734776348),
    ],
)
def test_rectangle_over_its_middle_howell_b4(width, height, distance, factor):
    agrees(illuminance(panel((0, 0, distance), width, height), HERE, UP), math.pi * factor)


@pytest.mark.parametrize(
    ("width", "height", "distance", "luminance", "lux"),
    [(0.6, 0.9, 0.5, 1e4, 12375.930838), (0.3, 1.2, 0.4, 5000.0, 5049.347015)],
)
def test_softboxes_close_by_are_no_points_howell_b4(width, height, distance, luminance, lux):
    """By the inverse square they would give 21 600 lx and 11 250 lx."""
    agrees(illuminance(panel((0, 0, distance), width, height, luminance), HERE, UP), lux)


@pytest.mark.parametrize(
    ("radius", "height", "luminance", "lux"), [(0.15, 0.5, 1e4, 2593.975586), (0.6, 0.3, 1e3, 2513.274123)]
)
def test_disc_over_its_middle_howell_b12(radius, height, luminance, lux):
    agrees(illuminance(disc(radius, height, luminance=luminance), HERE, UP), lux)


@pytest.mark.parametrize(
    ("radius", "height", "offset", "factor"),
    [(1, 1, 1, 0.2763932023), (0.5, 1, 0.5, 0.1464466094), (1, 0.5, 2, 0.0221104956)],
)
def test_disc_aside_howell_b13(radius, height, offset, factor):
    agrees(illuminance(disc(radius, height, offset), HERE, UP), math.pi * factor)


@pytest.mark.parametrize(("radius", "height", "offset", "factor"), [(1, 1, 2, 0.0854101966), (0.5, 1, 1, 0.0581563057)])
def test_disc_seen_by_an_upright_receptor(radius, height, offset, factor):
    agrees(illuminance(disc(radius, height, offset), HERE, (1, 0, 0)), math.pi * factor)


@pytest.mark.parametrize(
    ("a", "b", "c", "factor"), [(1, 1, 1, 0.0557341970), (2, 1, 1, 0.0686972989), (0.5, 1, 0.5, 0.0950679412)]
)
def test_upright_rectangle_howell_b5(a, b, c, factor):
    bench = Bench()
    bench.head(RECTANGLE, (a / 2, c, b / 2), (a / 2, 0, b / 2), _across_up(a, b), 1.0)
    agrees(illuminance(bench, HERE, UP), math.pi * factor)


def _across_up(along_x, along_z):
    """Return the half sizes of a rectangle that faces −y; its frame's x runs along the world's z there."""
    from throughlight.stage.frames import facing

    frame = facing((0.0, 1.0, 0.0), (0.0, 0.0, 0.0))
    sizes = (along_x / 2, along_z / 2) if abs(frame[0, 0]) > 0.5 else (along_z / 2, along_x / 2)
    return (*sizes, 0.0)


@pytest.mark.parametrize(("r1", "r2", "h", "factor"), [
    (1, 1, 1, 0.3819660113), (1, 1, 2, 0.1715728753), (0.5, 1, 1, 0.4688711259), (1, 0.5, 1, 0.1172177815),
])  # fmt: skip
def test_mean_over_a_coaxial_disc_howell_c41(r1, r2, h, factor):
    """Disc 1 sends π·A₁ lumens, the share F₁₂ of them to the front element, disc 2."""
    agrees(illuminance(disc(r1, h), HERE, UP, radius=float(r2)), math.pi * factor * (r1 / r2) ** 2)


@pytest.mark.parametrize(("tilt", "factor"), [(0.0, 0.04), (60.0, 0.02)])
def test_black_ball_in_a_bright_room(tilt, factor):
    """A ball of radius 0.1 at 0.5 takes its configuration factor (r/s)²·cos θ out of the room's π."""
    bench = Bench()
    bench.shape(ShapeKind.SPHERE, (0.0, 0.0, 0.5), np.eye(3), (0.1, 0, 0), bench.part())
    toward = (math.sin(math.radians(tilt)), 0.0, math.cos(math.radians(tilt)))
    value, error = illuminance(bench, HERE, toward, paths=16384, room=1.0)
    agrees((math.pi - value, error), math.pi * factor)


@pytest.mark.parametrize(("toward", "factor"), [(UP, 0.1502295877), ((1.0, 0.0, 0.0), 0.1073068484)])
def test_tilted_panel_lambert_1760(toward, factor):
    """A panel 0.9 high and 0.6 across, its middle at (0.5, 0, 0.7), aimed at the receptor."""
    bench = panel((0.5, 0.0, 0.7), 0.6, 0.9, aim=HERE)
    assert closed_forms.polygon(
        closed_forms.rectangle_corners((0.5, 0, 0.7), 0.6, 0.9, HERE), HERE, toward
    ) == pytest.approx(factor, rel=1e-9)
    agrees(illuminance(bench, HERE, toward), math.pi * factor)


def test_panel_half_under_the_horizon_lambert_1760():
    """The receptor's own horizon hides what of a panel lies behind it."""
    middle = (0.1, 0.0, 0.5)
    expected = closed_forms.polygon(closed_forms.rectangle_corners(middle, 0.6, 0.9, HERE), HERE, (1, 0, 0))
    agrees(illuminance(panel(middle, 0.6, 0.9, aim=HERE), HERE, (1, 0, 0)), math.pi * expected)


def lens_and_panel():
    """Return a panel over a table, and where the lens stands that looks along +y."""
    return panel((0.0, 0.1, 0.6), 0.6, 0.6), (0.0, -0.6, 0.1), (0.0, 0.4, 0.1)


def test_panel_that_sees_the_lens():
    bench, lens, ahead = lens_and_panel()
    agrees(illuminance(bench, lens, ahead), math.pi * 0.0715874338)


def test_flag_that_hides_part_of_a_panel_from_the_lens():
    """A flag in the plane y = −0.3 down to z = 0.30 leaves the lens what lies beyond y = 0.15: 1.8829 stops less."""
    bench, lens, ahead = lens_and_panel()
    bench.rectangle((0.0, -0.3, 0.80), (0.0, 1.0, 0.80), 4.0, 1.0)
    agrees(illuminance(bench, lens, ahead, paths=4096), math.pi * 0.0194106921)


def test_flag_that_hides_a_panel_from_the_lens():
    """Down to z = 0.25 the same flag leaves nothing at all."""
    bench, lens, ahead = lens_and_panel()
    bench.rectangle((0.0, -0.3, 0.75), (0.0, 1.0, 0.75), 4.0, 1.0)
    assert illuminance(bench, lens, ahead) == (0.0, 0.0)


@pytest.mark.parametrize(
    ("x", "factor"), [(0.0, 0.5 * 0.3112771121), (0.1, 0.2283980170), (-0.1, 0.0713939315), (0.4, 0.1694051699)]
)
def test_penumbra_of_a_knife_edge(x, factor):
    """A flag half way up covers x < 0 under a panel 0.6 × 0.6 at 0.5."""
    bench = panel((0.0, 0.0, 0.5), 0.6, 0.6)
    bench.rectangle((-5.0, 0.0, 0.25), (-5.0, 0.0, 1.0), 10.0, 10.0)
    agrees(illuminance(bench, (x, 0.0, 0.0), (x, 0.0, 1.0)), math.pi * factor)


def test_white_card_as_a_second_source():
    """A card 0.3 × 0.3 of 90 % at 0.2 that receives 1000 lx from far behind the receptor: 371.565079 lx."""
    bench = Bench()
    far, radius = 1000.0, 0.1
    luminance = 1000.0 * far**2 / (math.pi * radius**2)
    bench.head(DISC, (0, 0, -far + 0.2), HERE, (radius, 0, 0), luminance)
    bench.rectangle((0, 0, 0.2), (0, 0, -1), 0.3, 0.3, reflectance=0.9)
    agrees(illuminance(bench, HERE, UP, paths=4096), 371.565079, reference_error=0.003)


@pytest.mark.parametrize("distance", [0.5, 1.0, 2.0, 8.0])
@pytest.mark.parametrize(("leaning", "turned"), [(0.0, 0.0), (50.0, 0.0), (0.0, 35.0), (70.0, 20.0)])
def test_small_head_obeys_inverse_square_and_cosine_laws(distance, leaning, turned):
    """E = L·A·cos θ·cos θ′/d²; a radius of 1 mm changes that by less than 1e-5 (B-12)."""
    bench = Bench()
    c, s = math.cos(math.radians(turned)), math.sin(math.radians(turned))
    bench.head(DISC, (0, 0, distance), (distance * s, 0, distance * (1 - c)), (0.001, 0, 0))
    leaning = math.radians(leaning)
    measured = illuminance(bench, HERE, (0.0, math.sin(leaning), math.cos(leaning)), paths=256)
    agrees(measured, 1e-6 * math.pi * math.cos(leaning) * c / distance**2, reference_error=1e-5 * measured[0])


def test_lambertian_face_of_ten_thousand_lumens():
    """Its axial intensity is Φ/π = 3183.0989 cd: 795.7747 lx at 2 m."""
    face = math.pi * 0.001**2
    agrees(illuminance(disc(0.001, 2.0, luminance=1e4 / (math.pi * face)), HERE, UP, 256), 795.7747, 0.001)


@pytest.mark.parametrize("exponent", [1.0, 2.5, 8.0, 40.0])
@pytest.mark.parametrize("angle", [0.0, 20.0, 45.0])
def test_beam_far_away(exponent, angle):
    """I = I₀·cosᵏθ, so E = I₀·cosᵏθ/d² on a receptor that faces the head."""
    bench = disc(0.0002, 3.0, exponent=exponent)
    a = math.radians(angle)
    place = (3 * math.sin(a), 0.0, 3 - 3 * math.cos(a))
    expected = math.pi * 0.0002**2 * math.cos(a) ** exponent / 9
    agrees(illuminance(bench, place, (0, 0, 3), paths=256), expected, reference_error=1e-5 * expected)


@pytest.mark.parametrize("exponent", [1.0, 2.5, 8.0, 40.0])
def test_beam_of_a_disc_close_by(exponent):
    """On the axis E = 2π·L·(1 − cosᵏ⁺¹ of the rim's angle)/(k + 1), the integral of L·cosᵏ⁻¹ over the disc."""
    rim = 0.5 / math.hypot(0.5, 0.3)
    expected = 2 * math.pi * (1 - rim ** (exponent + 1)) / (exponent + 1)
    agrees(illuminance(disc(0.3, 0.5, exponent=exponent), HERE, UP), expected)


@pytest.mark.parametrize(("exponent", "place"), [(4.0, (0.0, 0.0)), (4.0, (0.3, 0.2)), (20.0, (0.1, -0.3))])
def test_beam_of_a_panel_close_by(exponent, place):
    """Against scipy's quadrature of L·cosᵏ⁻¹θ·cosθ·cosθ/d² over the panel."""

    def from_point(y, x):
        squared = 0.25 + (x - place[0]) ** 2 + (y - place[1]) ** 2
        return (0.5 / math.sqrt(squared)) ** (exponent + 1) / squared

    expected, _ = integrate.dblquad(from_point, -0.3, 0.3, -0.45, 0.45, epsabs=1e-10)
    bench = panel((0.0, 0.0, 0.5), 0.6, 0.9, exponent=exponent)
    agrees(illuminance(bench, (*place, 0.0), (*place, 1.0)), expected)


@pytest.mark.parametrize(("radius", "length", "distance", "paths"), [
    (0.02, 0.3, 0.25, 4096), (0.02, 1.2, 0.5, 4096), (0.2, 0.3, 0.25, 32768),
])  # fmt: skip
def test_tube_before_its_middle_and_its_end_howell_b31(radius, length, distance, paths):
    bench = Bench()
    bench.head(TUBE, (0, 0, distance), (0, 1, distance), (radius, 0, length / 2))
    middle = 2 * closed_forms.side_of_cylinder(radius, distance, length / 2)
    agrees(illuminance(bench, HERE, UP, paths), math.pi * middle)
    end = closed_forms.side_of_cylinder(radius, distance, length)
    place = (0.0, length / 2, 0.0)
    agrees(illuminance(bench, place, (0.0, length / 2, 1.0), paths), math.pi * end)


@pytest.mark.parametrize(("reflectance", "width", "height", "distance", "factor"), [
    (0.18, 0.6, 0.9, 0.5, 0.3939381136), (0.9, 0.3, 1.2, 0.4, 0.3214514147),
])  # fmt: skip
def test_matte_patch_under_a_softbox(reflectance, width, height, distance, factor):
    """A pinhole camera sees L = ρ·E/π, E = π·F, from wherever it looks."""
    bench = panel((0.0, 0.0, distance), width, height)
    bench.rectangle(HERE, UP, 1e-4, 1e-4, region=Region.SUBJECT, reflectance=reflectance)
    for place in ((1.0, 0.0, 0.2), (0.0, -0.8, 0.3)):
        stage = bench.stage(place, HERE, half_width=2e-5, half_height=2e-6)
        agrees(seen_luminance(stage, Region.SUBJECT), reflectance * factor)


def plate_seen_from_afar(bench, centre, aim, width, height, place):
    """Return the mean luminance of a matte white plate as seen from a kilometre away, where all of it weighs alike."""
    bench.rectangle(centre, aim, width, height, region=Region.SUBJECT, reflectance=1.0)
    eye = 1000.0 * np.asarray(place) / np.linalg.norm(place)
    stage = bench.stage(tuple(eye), centre, half_width=max(width, height), half_height=max(width, height))
    return seen_luminance(stage, Region.SUBJECT, paths=4096)


@pytest.mark.parametrize(
    ("a", "b", "c", "factor"), [(1, 1, 1, 0.1998248957), (2, 1, 1, 0.2858753849), (0.6, 0.9, 0.5, 0.3078918542)]
)
def test_mean_over_an_opposite_rectangle_howell_c11(a, b, c, factor):
    bench = panel((0.0, 0.0, c), a, b)
    low = (0.0, 1.0, 0.35) if b <= a else (1.0, 0.0, 0.35)
    agrees(plate_seen_from_afar(bench, HERE, UP, a, b, low), factor)


@pytest.mark.parametrize(
    ("height", "width", "length", "factor"),
    [(1, 1, 1, 0.2000437761), (2, 1, 1, 0.2328526028), (0.5, 1, 1, 0.1461866791)],
)
def test_mean_over_a_perpendicular_rectangle_howell_c14(height, width, length, factor):
    """The plate is `width` from the common edge, the panel `height` above it."""
    bench = Bench()
    bench.head(RECTANGLE, (0, 0, height / 2), (0, 1, height / 2), _across_up(length, height))
    measured = plate_seen_from_afar(bench, (0.0, width / 2, 0.0), (0.0, width / 2, 1.0), length, width, (0.0, 1.0, 0.7))
    agrees(measured, factor)


def test_panel_and_its_image_in_a_mirror():
    """Silver mirror of reflectance .92 in the plane x = 1: the panel gives .1023717892 and its image .0047378738 more.

    Corner rectangles of B-4, with the mirrored panel at x from 1.7 to 2.3. A mirror is found by chance alone, so the
    image is checked by its route as well as in the sum.
    """
    bench = panel((0, 0, 1), 0.6, 0.6)
    mirror = bench.part(reflectance=0.92, surface=SurfaceKind.MIRROR)
    bench.shape(ShapeKind.RECTANGLE, (1, 0, 0), facing((1, 0, 0), (0, 0, 0)), (1e4, 1e4, 0), mirror)
    stage = bench.stage(HERE, UP, half_width=1e-9, half_height=1e-9)
    front = Target(FRONT, 1, 1, np.zeros(1, np.int64), 15)
    tally = measure(stage, front, 1 << 15, replicates=REPLICATES)
    agrees(mean_and_error(tally.cells[:, 0].sum(axis=1) @ LUMINANCE / tally.rays), math.pi * 0.1067306331)
    image = tally.routes[:, 0, mirror + 1] @ LUMINANCE / tally.rays
    agrees(mean_and_error(image), math.pi * 0.92 * 0.0047378738)
