"""Rays of a moved film against the thin-lens equation: 1/f = 1/a + 1/o for depths along the lens's own axis."""

from __future__ import annotations

import math

import numpy as np
import pytest

from throughlight.optics import movements

FOCAL = 0.1
MIDDLE, WIDE, HIGH = (0.002, 0.01, -0.125), (0.018, 0.001, 0.002), (-0.001, 0.012, 0.004)


def film_point(across, up):
    return np.array(movements.film_point(MIDDLE, WIDE, HIGH, across, up))


@pytest.mark.parametrize("place", [(0.0, 0.0), (1.0, -1.0), (-0.3, 0.8)])
def test_rays_of_a_film_point_meet_in_its_image(place):
    """The image lies on the line through the lens's middle, o = a·f/(a − f) ahead."""
    point = film_point(*place)
    ahead = -point[2]
    image = point / ahead * (ahead * FOCAL / (ahead - FOCAL))
    for px, py in ((0.0, 0.0), (0.02, 0.0), (-0.005, 0.015)):
        along = np.array(movements.ray(tuple(point), px, py, FOCAL))
        to_image = image - (px, py, 0.0)
        np.testing.assert_allclose(np.cross(along, to_image), 0.0, atol=1e-15)
        assert along @ to_image > 0.0


def test_film_in_the_focal_plane_sends_out_parallel_light():
    """a = f: the image is infinitely far away, whatever the place in the pupil."""
    one = movements.ray((0.01, -0.02, -FOCAL), 0.0, 0.0, FOCAL)
    assert movements.ray((0.01, -0.02, -FOCAL), 0.02, 0.01, FOCAL) == pytest.approx(one, abs=1e-17)


@pytest.mark.parametrize("place", [(0.0, 0.0), (1.0, -1.0), (-0.3, 0.8), (1.7, 0.2)])
@pytest.mark.parametrize("pupil", [(0.0, 0.0), (0.02, -0.01)])
def test_light_comes_back_to_the_film_point_it_was_meant_for(place, pupil):
    dx, dy, dz = movements.ray(tuple(film_point(*place)), *pupil, FOCAL)
    across, up, ahead = movements.film_place(MIDDLE, WIDE, HIGH, FOCAL, *pupil, dx / -dz, dy / -dz)
    assert (across, up) == pytest.approx(place, abs=1e-12)
    assert ahead == pytest.approx(-film_point(*place)[2], rel=1e-12)


@pytest.mark.parametrize("degrees", [0.0, 10.0, 30.0])
def test_falloff_without_movements_is_cos_to_the_fourth(degrees):
    """With D = i, the film square to the lens: cos⁴θ (exact for a small flat lens)."""
    image = 0.125
    point = (image * math.tan(math.radians(degrees)), 0.0, -image)
    factor = movements.falloff(point, image**3)
    assert factor == pytest.approx(math.cos(math.radians(degrees)) ** 4, rel=1e-14)
