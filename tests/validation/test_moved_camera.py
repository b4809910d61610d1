"""Tilt, swing, shift and vignetting on film: traced rays against thin-lens optics and overlapping circles.

Scheimpflug 1904 for the plane that is sharp, the cone of light for what is not, plane geometry for shifts, cos⁴-like
falloff of a small flat lens, and circles that overlap (see tests/photometry/test_vignette.py for the areas). Standard
errors and sigmas: see agreement.py.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from agreement import REPLICATES, agrees
from closed_forms import coaxial_discs
from stages import LUMINANCE, Bench, mean_and_error, measure
from throughlight.photometry import movements, veil, vignette
from throughlight.readings.lens import darkest_corner
from throughlight.readings.meter import meter
from throughlight.setup import loads
from throughlight.stage.build import build
from throughlight.stage.lens import lens_row
from throughlight.stage.rows import table
from throughlight.trace.driver import Target
from throughlight.trace.expose import FILM, FRONT, PICTURE, camera_ray, in_frame
from throughlight.trace.tables import LENS, ShapeKind

CAMERA = """\
[camera]
sensor = "36x24 mm"
focal = "{focal}"
f_number = {f_number}
shutter = "1/100 s"
iso = 100
at = ["0 cm", "0 cm", "50 cm"]
{more}
"""
EYE, AHEAD = (0.0, 0.0, 0.5), (0.0, 0.0, 0.0)
ROOM = '[ambient]\nilluminance = "{lux} lx"\n'


def camera(more="", focal="100 mm", f_number=8):
    return CAMERA.format(**locals())


def through(text, bench, room=0.0):
    """Return a bench's stage seen through the camera of a setup file."""
    return bench.stage(EYE, AHEAD, room=room)._replace(lens=table([lens_row(loads(text))], LENS))


def film_of(text):
    it = loads(text).camera
    return movements.film(it.focal, it.focus, it.movements)


TILTED = ['tilt = "8 deg"', 'swing = "6 deg"\ntilt = "-4 deg"', 'back_tilt = "-10 deg"\nshift = ["2 mm", "5 mm"]']
CELL = 1e-5  # m on the film


def image_of(text, point, size=2e-5, cells=96, paths=1 << 15):
    """Return what a small bright disc draws: its expected middle, and the light around it on cells of 10 µm.

    `point` is right, up and ahead of the lens in the film's axes, m. The disc faces the lens.
    """
    film = film_of(text)
    axes = np.diag([1.0, 1.0, -1.0]) @ film.film_axes
    place = np.array(EYE) + axes @ point
    bench = Bench()
    bench.head(ShapeKind.DISC, tuple(place), EYE, (size, 0, 0))
    middle = point / point[2] * film.distance
    right, up = middle[0] - film.centre[0], middle[1] - film.centre[1]
    column, row = round((0.018 + right) / CELL), round((0.012 - up) / CELL)
    columns, rows = np.meshgrid(*(middle + np.arange(cells) - cells // 2 for middle in (column, row)))
    chosen = (rows * 3600 + columns).ravel().astype(np.int64)
    tally = measure(through(text, bench), Target(FILM, 3600, 2400, chosen, 15), paths, replicates=REPLICATES)
    x, y = ((columns + 0.5) * CELL - 0.018 - right).ravel(), (0.012 - (rows + 0.5) * CELL - up).ravel()
    return film, x, y, tally.cells.sum(axis=2) @ LUMINANCE


@pytest.mark.parametrize("more", TILTED)
@pytest.mark.parametrize("place", [(0.0, 0.0), (0.010, -0.007)])
def test_points_of_the_tilted_plane_are_sharp(more, place):
    """The thin-lens image of a film point is drawn no wider than the bright disc itself and one cell."""
    film = film_of(camera(more, f_number=4))
    on_film = np.array([film.centre[0] + place[0], film.centre[1] + place[1], film.distance])
    ahead = float(on_film @ film.axis)
    scale = film.focal / (ahead - film.focal)
    _, x, y, light = image_of(camera(more, f_number=4), on_film * scale, cells=32, paths=1 << 13)
    lit = light.sum(axis=0) > 0.0
    assert lit.any()
    assert np.abs(x[lit]).max() <= 1.05 * 2e-5 / scale + CELL
    assert np.abs(y[lit]).max() <= 1.05 * 2e-5 / scale + CELL


@pytest.mark.parametrize("more", TILTED[::2])
@pytest.mark.parametrize("offset", [0.04, -0.03])
def test_points_off_the_tilted_plane_blur_by_the_cone_of_light(more, offset):
    """A disc d·|D/D_p − 1| wide where the cone is cut square to the lens's axis, which leans up or down: told across.

    With 1/f = 1/a + 1/o along the lens's axis, D_p = a·(film's depth over the axis's). An even disc of diameter b has
    ⟨x²⟩ = b²/16; the bright disc adds (r₀·scale)²/4, cells their width²/12; second order in b/a stays under 1e-3.
    """
    film = film_of(camera(more))
    point = np.array([0.0, film.centre[1] / film.distance, 1.0]) * (0.5 + offset)
    ahead = float(point @ film.axis)
    image = 1.0 / (1.0 / 0.1 - 1.0 / ahead) * point[2] / ahead
    blur = 0.1 / 8 * abs(film.distance / image - 1.0)
    size = 1e-4
    _, x, _, light = image_of(camera(more), point, size, cells=72)
    moment, error = mean_and_error(light @ x**2 / light.sum(axis=1))
    own = (size * film.distance / point[2]) ** 2 / 4 + CELL**2 / 12
    width = 4.0 * math.sqrt(moment - own)
    agrees((width, width * error / (2.0 * (moment - own))), blur, reference_error=1e-3 * blur)
    assert movements.blur(film, 0.1 / 8, point) == pytest.approx(blur, rel=1e-9)


def rays(text, places, pupil=(0.3, 0.8)):
    """Return start and direction in the world, and the falloff, of rays from film places (across, down)."""
    lens = build(loads(text))[0].lens[0]
    return [camera_ray(lens, across, down, *pupil) for across, down in places]


PLACES = [(0.5, 0.5), (0.0, 0.0), (0.9, 0.2), (0.3, 1.0)]


def test_shift_moves_the_frame_by_just_so_much():
    """4 mm right and 10 mm up of 36 × 24 mm: the same rays, 4/36 and 10/24 of the frame farther off the axis."""
    shifted = rays(camera('shift = ["4 mm", "10 mm"]'), PLACES)
    plain = rays(camera(), [(across + 4 / 36, down - 10 / 24) for across, down in PLACES])
    for one, other in zip(shifted, plain, strict=True):
        np.testing.assert_allclose(one[0], other[0], atol=1e-15)
        np.testing.assert_allclose(one[1], other[1], atol=1e-14)
        assert one[2] == pytest.approx(other[2], rel=1e-12)


def test_lens_and_sensor_leaning_alike_are_a_camera_turned_and_shifted():
    """Tilt and back tilt of α: looking α down with the lens shifted i·sin α up; i from the focus along the new axis.

    The turned camera focuses at s·cos α, its image distance i·cos α; falloffs are over different unmoved distances.
    """
    alpha = math.radians(7.0)
    both = rays(camera('tilt = "7 deg"\nback_tilt = "7 deg"'), PLACES)
    image = 0.1 * 0.5 / (0.5 * math.cos(alpha) - 0.1)
    down = -0.5 * math.tan(alpha)
    turned = camera(
        f'aim = ["0 m", "{down!r} m", "0 m"]\nfocus = "{0.5 * math.cos(alpha)!r} m"\n'
        f'shift = ["0 m", "{image * math.sin(alpha)!r} m"]'
    )
    ratio = (0.1 * 0.5 / 0.4) ** 2 / (image * math.cos(alpha)) ** 2
    for one, other in zip(both, rays(turned, PLACES), strict=True):
        np.testing.assert_allclose(one[0], other[0], atol=1e-15)
        np.testing.assert_allclose(one[1], other[1], atol=1e-12)
        assert one[2] == pytest.approx(other[2] * ratio, rel=1e-12)


def test_the_way_of_a_moved_film_leads_to_the_plain_camera():
    """A shift of a trillionth of a millimetre goes the general way and must give the plain camera's rays."""
    for one, other in zip(rays(camera('shift = ["1e-12 mm", "0 mm"]'), PLACES), rays(camera(), PLACES), strict=True):
        np.testing.assert_allclose(one[0], other[0], atol=1e-15)
        np.testing.assert_allclose(one[1], other[1], atol=1e-13)
        assert one[2] == pytest.approx(other[2], rel=1e-12)


def test_perspective_is_the_films_alone():
    """Tilting the lens moves no chief ray: through the pupil's middle all film places look the same way.

    The film is nearer or farther to keep the focus, so places scale with it: i = f·s/(s·cos α − f).
    """
    alpha = math.radians(8.0)
    grown = (0.5 * math.cos(alpha) - 0.1) / 0.4
    tilted = rays(camera('tilt = "8 deg"'), PLACES, pupil=(0.5, 0.5))
    places = [(0.5 + (across - 0.5) * grown, 0.5 + (down - 0.5) * grown) for across, down in PLACES]
    for one, other in zip(tilted, rays(camera(), places, pupil=(0.5, 0.5)), strict=True):
        np.testing.assert_allclose(one[1], other[1], atol=1e-13)


@pytest.mark.parametrize("tilt", [0.0, 5.0, 20.0])
@pytest.mark.parametrize("back", [0.0, 15.0])
def test_falloff_in_the_middle_of_a_tilted_film(tilt, back):
    """A small pupil seen aslant, light aslant on the film, and the film's distance: cos α·cos β·(i₀/i)²."""
    alpha, beta = math.radians(tilt), math.radians(back)
    ((_, _, weight),) = rays(camera(f'tilt = "{tilt} deg"\nback_tilt = "{back} deg"'), [(0.5, 0.5)])
    ratio = (0.1 * 0.5 / 0.4) / (0.1 * 0.5 / (0.5 * math.cos(alpha) - 0.1))
    assert weight == pytest.approx(math.cos(alpha) * math.cos(beta) * ratio**2, rel=1e-12)


@pytest.mark.parametrize("more", ["", *TILTED, 'shift = ["9 mm", "-8 mm"]', 'tilt = "5 deg"\npupil_depth = "30 mm"'])
def test_light_of_the_frame_is_known_on_the_front_element(more):
    """A ray that would end inside the film comes from the frame, one just beside it does not, in every movement."""
    lens = build(loads(camera(more, f_number=4)))[0].lens[0]
    depth = float(lens["depth"])
    backward = np.array([lens["nx"], lens["ny"], lens["nz"]])
    for across, down, inside in ((0.01, 0.01, True), (0.99, 0.4, True), (-0.01, 0.5, False), (0.5, 1.01, False)):
        for u, v in ((0.5, 0.5), (0.1, 0.9)):
            place, direction, _ = camera_ray(lens, across, down, u, v)
            on_front = np.array(place) - np.array(direction) * depth / (np.array(direction) @ backward)
            assert in_frame(lens, tuple(on_front), direction) == inside


@pytest.mark.parametrize("more", ['tilt = "6 deg"\nshift = ["5 mm", "8 mm"]', 'back_swing = "20 deg"', TILTED[1]])
def test_room_light_falls_on_a_moved_lens_once(more):
    """Uniform surround: what comes from inside and from outside the frame is together E = π·L, 1000 lx for 1/100 s."""
    setup = loads(camera(more, focal="35 mm") + ROOM.format(lux=1000))
    stray = meter(setup, tolerance=0.01, threads=2).stray
    half = 0.5 * (stray.outside_interval[1] - stray.outside_interval[0])
    assert half < 0.05
    assert stray.inside + stray.outside == pytest.approx(10.0, abs=2 * half + 0.01)


LENSES = {
    "hood": 'hood = "40 mm"\nfront_element = "40 mm"',
    "wide hood": 'hood = "40 mm"\nfront_element = "40 mm"\nhood_diameter = "46 mm"',
    "front element": 'pupil_depth = "30 mm"\nfront_element = "38 mm"',
    "both": 'pupil_depth = "25 mm"\nfront_element = "38 mm"\nhood = "30 mm"\nhood_diameter = "46 mm"',
    "both, shifted": 'pupil_depth = "15 mm"\nfront_element = "38 mm"\nhood = "20 mm"\nshift = ["4 mm", "3 mm"]',
    "both, tilted": 'pupil_depth = "15 mm"\nfront_element = "38 mm"\nhood = "20 mm"\ntilt = "-5 deg"',
}


@pytest.mark.parametrize("mode", [FILM, PICTURE])
@pytest.mark.parametrize("lens", LENSES)
def test_vignetting_is_the_overlap_of_circles(lens, mode):
    """A film place's light is what pupil, rim and mouth share, discs along one line (areas checked with shapely)."""
    text = camera(LENSES[lens], focal="50 mm", f_number=1.8)
    corner = darkest_corner(loads(text).camera)
    column, row = (0 if "left" in corner.name else 359_999), (0 if "top" in corner.name else 239_999)
    stage = through(text, Bench(), room=1.0)
    cell = np.array([row * 360_000 + column], np.int64)
    tally = measure(stage, Target(mode, 360_000, 240_000, cell, 15), 4096, replicates=REPLICATES)
    measured = mean_and_error(tally.cells[:, 0].sum(axis=1) @ LUMINANCE / tally.rays)
    expected = corner.rings * 2.0**corner.falloff
    assert 0.05 < corner.rings < 0.95
    print(f"{lens}: {corner.rings:.4f}")
    agrees(measured, expected, reference_error=2e-5 * expected)  # the cell's middle lies 0.05 µm inside
    assert tally.counts.sum() == REPLICATES * tally.rays


def test_a_pupil_at_the_front_element_without_a_hood_is_not_cut():
    stage = through(camera(f_number=2.5), Bench(), room=1.0)
    tally = measure(stage, Target(FILM, 3601, 2401, np.array([1200 * 3601 + 1800]), 15), 64)
    assert (tally.cells.sum(axis=(1, 2)) @ LUMINANCE / tally.rays) == pytest.approx(1.0, rel=1e-6)


@pytest.mark.parametrize("angle", [0.0, 20.0, 35.0])
def test_hood_with_a_wide_mouth_before_a_far_head(angle):
    """Discs of 25 and 32 mm radius, 50 mm apart: E = I·w·cos θ/d², w from the area the two circles share."""
    radius, mouth, depth, distance, a = 0.025, 0.032, 0.05, 1000.0, math.radians(angle)
    bench = Bench()
    bench.head(ShapeKind.DISC, (0, distance * math.sin(a), -distance * math.cos(a)), (0, 0, 0), (0.1, 0, 0))
    stage = bench.stage((0, 0, 0), (0, 0, -1), half_width=1e-9, half_height=1e-9, front=radius, hood=depth, mouth=mouth)
    tally = measure(stage, Target(FRONT, 1, 1, np.zeros(1, np.int64), 15), 1024, replicates=REPLICATES)
    share = vignette.common_area([(0.0, radius), (depth * math.tan(a), mouth)]) / (math.pi * radius**2)
    assert veil.hood_acceptance(a, radius, depth, mouth) == pytest.approx(min(1.0, share), rel=1e-12)
    expected = math.pi * 0.1**2 / distance**2 * math.cos(a) * share
    measured = mean_and_error(tally.cells[:, 0].sum(axis=1) @ LUMINANCE / tally.rays)
    agrees(measured, expected, reference_error=1e-6 * expected)


def test_hood_with_a_wide_mouth_in_a_uniform_surround_howell_c41():
    """A surround of luminance 1 gives π times the configuration factor from element to mouth, two coaxial discs."""
    radius, mouth, depth = 0.025, 0.035, 0.06
    stage = Bench().stage(
        (0, 0, 0), (0, 0, -1), 1.0, half_width=1e-9, half_height=1e-9, front=radius, hood=depth, mouth=mouth
    )
    tally = measure(stage, Target(FRONT, 1, 1, np.zeros(1, np.int64), 15), 8192, replicates=REPLICATES)
    factor = coaxial_discs(radius, mouth, depth)
    assert veil.uniform_surround_acceptance(radius, depth, mouth) == pytest.approx(factor, rel=1e-9)
    agrees(mean_and_error(tally.cells[:, 0].sum(axis=1) @ LUMINANCE / tally.rays), math.pi * factor)
