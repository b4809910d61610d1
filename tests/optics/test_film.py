"""The clear film against closed forms, against Fresnel's law with its own round trips, and against an energy sum."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad

from throughlight.optics import film

ANGLES = (0, 30, 45, 60, 75, 80)

# T at the angles above and 2∫T·µ dµ: ½·Σ (1 − r)/(1 + r) over both polarisations, closed form and quadrature in double
# precision by a program of their own, to six digits (Stokes 1862).
PLATE = {
    1.33: ((0.960670, 0.958813, 0.947565, 0.893414, 0.662447, 0.494531), 0.891534),
    1.50: ((0.923077, 0.920734, 0.907344, 0.848128, 0.618149, 0.458473), 0.850938),
    1.52: ((0.918318, 0.915957, 0.902528, 0.843471, 0.614805, 0.456043), 0.846423),
    1.70: ((0.874036, 0.871792, 0.859403, 0.806003, 0.594701, 0.443544), 0.807693),
}


def cosine(degrees):
    return math.cos(math.radians(degrees))


@pytest.mark.parametrize("n", PLATE)
def test_transmittance_of_a_clear_plate_by_angle(n):
    found = [film.transmittance(cosine(degrees), n) for degrees in ANGLES]
    assert found == pytest.approx(PLATE[n][0], abs=6e-7)


@pytest.mark.parametrize("n", PLATE)
def test_transmittance_of_a_clear_plate_in_diffuse_light(n):
    found = quad(lambda mu: 2.0 * mu * film.transmittance(mu, n), 0.0, 1.0, epsabs=1e-9, limit=200)[0]
    assert found == pytest.approx(PLATE[n][1], abs=6e-7)


def reflected_once(degrees, n):
    """Return (R_s, R_p) of one face by the sines and tangents of the angles (Born and Wolf 1999, §1.5.2, eq. 21)."""
    i = math.radians(degrees)
    t = math.asin(math.sin(i) / n)
    return (math.sin(i - t) / math.sin(i + t)) ** 2, (math.tan(i - t) / math.tan(i + t)) ** 2


@pytest.mark.parametrize("n", [1.2, 1.5, 2.4])
@pytest.mark.parametrize("degrees", [5, 40, 56, 70, 85])
def test_light_to_and_fro_between_both_faces_adds_up(n, degrees):
    """(1 − r)²·(1 + r² + r⁴ + …), one term a round trip, each polarisation for itself."""
    parts = []
    for r in reflected_once(degrees, n):
        trips = (1.0 - r) ** 2 * r ** (2.0 * np.arange(2000))
        parts.append(trips.sum())
    assert film.transmittance(cosine(degrees), n) == pytest.approx(sum(parts) / 2.0, rel=1e-9)
    assert film.shade(cosine(degrees), n) == pytest.approx(sum(parts) / 2.0 * (n * n + 1.0) / (2.0 * n), rel=1e-9)


def test_polarisations_are_averaged_after_the_round_trips():
    """n = 1.5 at 60°: averaged before, (1 − R)/(1 + R) with R = .089187 would be .8362."""
    assert film.transmittance(0.5, 1.5) - (1.0 - 0.089187) / (1.0 + 0.089187) > 0.01


def test_no_film_and_grazing_light():
    assert film.transmittance(0.3, 1.0) == film.shade(0.3, 1.0) == 1.0
    for n in (1.0001, 1.5, 4.0):
        assert film.shade(1.0, n) == pytest.approx(1.0, abs=1e-15)
        assert film.transmittance(0.0, n) == pytest.approx(0.0, abs=1e-15)
        assert film.shade(0.0, n) == pytest.approx(0.0, abs=3e-15)
        mus = np.geomspace(1e-12, 1.0, 200)
        passed = [film.transmittance(mu, n) for mu in mus]
        assert all(-1e-15 <= one <= 1.0 for one in passed)
    # Of glass, less passes the steeper it is met: the parallel part's gain at Brewster's angle never makes up for it.
    below = [film.transmittance(cosine(degrees), 1.5) for degrees in range(0, 90, 5)]
    assert below == sorted(below, reverse=True)
