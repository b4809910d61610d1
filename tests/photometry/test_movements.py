"""Movements in closed form: Scheimpflug 1904, Merklinger 1996 (Focusing the View Camera), and plain perspective."""

from __future__ import annotations

import math

import numpy as np
import pytest

from throughlight.photometry import field, movements
from throughlight.photometry.movements import Movements

FOCAL, FOCUS = 0.1, 0.5
MOVES = [
    Movements(tilt=math.radians(5)),
    Movements(swing=math.radians(-8)),
    Movements(back_tilt=math.radians(12)),
    Movements(math.radians(6), math.radians(3), math.radians(-4), math.radians(7), (0.004, 0.01)),
]


def along(film, point):
    """Return a point's distances ahead of the lens, along its axis and square to the film."""
    return float(point @ film.axis), float(point[2])


def conjugate(film, point):
    """Return the image in the set of an upright film point, by the thin-lens equation along the lens's axis."""
    ahead, _ = along(film, point)
    return point / ahead * (ahead * film.focal / (ahead - film.focal))


@pytest.mark.parametrize("moved", MOVES)
def test_images_of_all_film_points_lie_in_the_sharp_plane(moved):
    film = movements.film(FOCAL, FOCUS, moved)
    normal, distance = movements.sharp_plane(film)
    for x, y in ((0.0, 0.0), (0.018, 0.012), (-0.02, 0.005)):
        point = np.array([film.centre[0] + x, film.centre[1] + y, film.distance])
        image = conjugate(film, point)
        assert image @ normal == pytest.approx(distance, rel=1e-12)
        assert movements.film_distances(film, image) == pytest.approx(film.distance, rel=1e-12)
        assert movements.blur(film, 0.0125, image) == pytest.approx(0.0, abs=1e-15)


@pytest.mark.parametrize("moved", MOVES)
def test_film_lens_and_sharp_plane_meet_in_one_line_scheimpflug_1904(moved):
    """The film itself stands behind the lens, in z = −D; the line is film ∩ lens plane, and must be sharp too."""
    film = movements.film(FOCAL, FOCUS, moved)
    normal, distance = movements.sharp_plane(film)
    line = np.cross(film.axis, [0.0, 0.0, 1.0])
    for step in (0.0, 0.7):
        start = np.linalg.solve(np.array([film.axis, [0.0, 0.0, 1.0], line]), [0.0, -film.distance, step])
        assert start @ film.axis == pytest.approx(0.0, abs=1e-12)
        assert start @ normal == pytest.approx(distance, rel=1e-9)


@pytest.mark.parametrize("moved", MOVES)
def test_the_cameras_axis_is_sharp_at_the_focus(moved):
    film = movements.film(FOCAL, FOCUS, moved)
    point = film.film_axes.T @ np.array([0.0, 0.0, FOCUS])
    assert movements.film_distances(film, point) == pytest.approx(film.distance, rel=1e-12)


@pytest.mark.parametrize("degrees", [2.0, 5.0, -8.0])
def test_hinge_line_merklinger_1996(degrees):
    """J = f/sin α (the hinge rule): 100 mm at 5 deg hinges 1.1474 m below the lens, and focusing leaves it there.

    The angle φ of the sharp plane to the film, by the triangle of hinge, lens and focus: tan φ = s/J; with the distance
    D between lens and film it is tan φ = D·sin α/(D·cos α − f).
    """
    alpha = math.radians(degrees)
    for focus in (0.3, 0.5, 5.0):
        film = movements.film(FOCAL, focus, Movements(tilt=alpha))
        right, up = movements.hinge(film)
        assert right == pytest.approx(0.0, abs=1e-15)
        assert up == pytest.approx(-FOCAL / math.sin(alpha), rel=1e-12)
        normal, distance = movements.sharp_plane(film)
        assert np.array([right, up, 0.0]) @ normal == pytest.approx(distance, rel=1e-12)
        lean = math.atan2(film.distance * abs(math.sin(alpha)), film.distance * math.cos(alpha) - FOCAL)
        assert movements.sharp_lean(film) == pytest.approx(lean, rel=1e-12)
        assert math.tan(movements.sharp_lean(film)) == pytest.approx(focus * abs(math.sin(alpha)) / FOCAL, rel=1e-12)
    assert abs(FOCAL / math.sin(math.radians(5))) == pytest.approx(1.1474, abs=5e-5)


def test_lens_and_film_leaning_together_have_no_hinge():
    assert movements.hinge(movements.film(FOCAL, FOCUS, Movements(tilt=0.2, back_tilt=0.2))) is None
    assert movements.hinge(movements.film(FOCAL, FOCUS, Movements(shift=(0.01, 0.0)))) is None


def test_both_standards_leaning_alike_are_a_shift():
    """A camera whose lens and film lean by α is a camera turned by α, its lens shifted by −i·sin α: known geometry."""
    alpha = math.radians(7)
    film = movements.film(FOCAL, FOCUS, Movements(tilt=alpha, back_tilt=alpha))
    image = movements.reach(FOCAL, FOCUS, Movements(tilt=alpha, back_tilt=alpha))
    assert film.axis == pytest.approx([0.0, 0.0, 1.0], abs=1e-15)
    assert film.distance == pytest.approx(image * math.cos(alpha), rel=1e-12)
    assert film.centre == pytest.approx((0.0, image * math.sin(alpha)), rel=1e-12)
    assert movements.sharp_lean(film) == pytest.approx(0.0, abs=1e-12)
    assert 1 / film.distance + 1 / (FOCUS * math.cos(alpha)) == pytest.approx(1 / FOCAL, rel=1e-12)


def test_without_movements_it_is_the_plain_camera():
    film = movements.film(FOCAL, FOCUS, Movements())
    assert (film.distance, film.centre) == (field.image_distance(FOCAL, FOCUS), (0.0, 0.0))
    assert not Movements().any
    point = np.array([0.01, 0.02, 0.52])
    assert movements.blur(film, 0.1 / 8, point) == pytest.approx(field.blur_disc(0.1, 8.0, 0.5, 0.52), rel=1e-9)
    corner = movements.places(film, 0.018, 0.012, np.array(1.0), np.array(1.0))
    cosine = film.distance / float(np.linalg.norm(corner))
    assert movements.falloff(film, corner, film.distance) == pytest.approx(cosine**4, rel=1e-12)


def test_no_image_forms_within_the_focal_length_of_a_turned_lens():
    assert movements.reach(0.1, 0.11, Movements(tilt=math.radians(30))) <= 0.0
    with pytest.raises(ValueError, match="no image forms"):
        movements.film(0.1, 0.11, Movements(tilt=math.radians(30)))
