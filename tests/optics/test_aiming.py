from __future__ import annotations

import math

import numpy as np
import pytest

from chi2 import Sphere
from doors import loop
from throughlight.optics import boundary

AIR, BODY = 1.0, 1.4


@loop
def _aim(d, n0, alpha, n_in, n_out, u):
    w, passed = np.empty((len(u), 3)), np.empty(len(u), np.bool_)
    for i in range(len(u)):
        passed[i], w[i] = boundary.aim(d, n0, alpha, n_in, n_out, u[i, 0], u[i, 1])
    return w, passed


@loop
def _density(w, d, n0, alpha, n_in, n_out):
    out = np.empty(len(w))
    for i in range(len(w)):
        out[i] = boundary.aim_density((w[i, 0], w[i, 1], w[i, 2]), d, n0, alpha, n_in, n_out)
    return out


def unit(v):
    v = np.asarray(v, float)
    return v / np.linalg.norm(v)


def tilted(n0, degrees):
    """Return a unit vector at an angle from n0."""
    side = unit(np.cross(n0, (0.3, -0.5, 0.8)))
    a = math.radians(degrees)
    return math.cos(a) * n0 + math.sin(a) * side


N0 = unit((0.2, -0.7, 0.4))
CASES = [(n, alpha, angle) for n in (1.1, 1.4, 2.4) for alpha in (0.1, 0.3, 0.8) for angle in (5, 50, 85)]


def spread_as_density(angle, alpha, n_in, n_out, tests):
    """χ² test in polar angles about the light's direction d, where legs end like a square root at a fixed angle.

    That is the deviation by a facet that d grazes. Facets on the horizon of n₀ end abruptly, which costs quadrature
    digits: a few 1e-5 of all samples.
    """
    d = tilted(N0, angle)
    side = unit(np.cross(d, (0.5, 0.1, 0.2)))
    frame = np.stack([side, np.cross(d, side), d])
    w, passed = _aim(tuple(d), tuple(N0), alpha, n_in, n_out, np.random.default_rng(21).random((200_000, 2)))
    widest = math.pi / 2.0 - math.asin(min(n_in, n_out) / max(n_in, n_out))
    sphere = Sphere(96, 96, 8, widest=widest, edge=True)
    densities = _density(sphere.nodes @ frame, tuple(d), tuple(N0), alpha, n_in, n_out)
    total = 1.0 if n_in > n_out else None
    sphere.test(w[passed] @ frame.T, densities, int((~passed).sum()), tests, total, slack=3e-4)
    return passed.mean(), sphere.integrate(densities).sum()


@pytest.mark.parametrize(("n", "alpha", "angle"), CASES)
def test_aimed_legs_are_spread_as_their_density(n, alpha, angle):
    entered, _ = spread_as_density(angle, alpha, n, AIR, tests=len(CASES))
    assert entered == 1.0  # light always enters a denser body


def test_rarer_body_loses_what_is_totally_reflected():
    entered, total = spread_as_density(60, 0.4, AIR, BODY, tests=1)
    assert 0.1 < entered < 0.9
    assert total <= 1.0


def test_aimed_leg_lets_light_through_its_facet():
    """Snell's law for each aimed leg, at the facet that `facet_for_refraction` names."""
    d = tilted(N0, 40)
    w, _ = _aim(tuple(d), tuple(N0), 0.3, BODY, AIR, np.random.default_rng(23).random((500, 2)))
    for leg in w:
        found, m = boundary.facet_for_refraction(tuple(d), tuple(-leg), AIR, BODY)
        assert found
        assert AIR * np.cross(d, m) == pytest.approx(BODY * np.cross(leg, m), abs=1e-12)
        assert np.dot(d, m) > 0 < np.dot(leg, m)


def test_refraction_and_its_inverse():
    rng = np.random.default_rng(24)
    for _ in range(300):
        n, d = unit(rng.normal(size=3)), unit(rng.normal(size=3))
        d = d if d @ n > 0 else -d
        passed, w, cos_out, cos_in = boundary.refract_through(tuple(d), tuple(n), AIR, BODY)
        assert passed
        assert np.array(w) @ n == pytest.approx(cos_in, abs=1e-14)
        assert d @ n == pytest.approx(cos_out, abs=1e-14)
        assert BODY * np.cross(w, n) == pytest.approx(AIR * np.cross(d, n), abs=1e-12)
        returned, out = boundary.refract_out(w, tuple(n), BODY, AIR)
        assert returned
        assert np.array(out) == pytest.approx(d, abs=1e-7 / max(cos_out, 1e-3))


def test_no_way_out_beyond_the_critical_angle_or_backward():
    critical = math.degrees(math.asin(AIR / BODY))
    assert boundary.refract_out(tuple(tilted(N0, critical - 1e-6)), tuple(N0), BODY, AIR)[0]
    assert not boundary.refract_out(tuple(tilted(N0, critical + 1e-6)), tuple(N0), BODY, AIR)[0]
    assert not boundary.refract_out(tuple(tilted(N0, 91)), tuple(N0), BODY, AIR)[0]
    assert not boundary.refract_through(tuple(tilted(N0, 91)), tuple(N0), AIR, BODY)[0]
    assert not boundary.aim(tuple(tilted(N0, 91)), tuple(N0), 0.3, BODY, AIR, 0.5, 0.5)[0]


def solid_angle(a, b, c):
    """Of a small triangle of unit vectors: half the vector product."""
    return 0.5 * np.linalg.norm(np.cross(b - a, c - a))


@pytest.mark.parametrize("angle", [0, 30, 60, 85])
def test_solid_angles_at_a_plane_boundary(angle):
    """The Jacobian against a small bundle of three rays; for the normal it is n² (étendue)."""
    d = tilted(N0, angle)
    side = unit(np.cross(d, (0.1, 0.2, 0.9)))
    bundle = [d, unit(d + 1e-5 * side), unit(d + 1e-5 * np.cross(d, side))]
    legs = [boundary.refract_through(tuple(ray), tuple(N0), AIR, BODY) for ray in bundle]
    ratio = solid_angle(*bundle) / solid_angle(*(np.array(leg[1]) for leg in legs))
    _, _, cos_out, cos_in = legs[0]
    assert boundary.aim_jacobian_smooth(cos_out, cos_in, AIR, BODY) == pytest.approx(ratio, rel=2e-4)
    if angle == 0:
        assert boundary.aim_jacobian_smooth(cos_out, cos_in, AIR, BODY) == pytest.approx(BODY**2, rel=1e-12)


def test_facets_per_direction():
    """Walter et al. 2007, eq. 17, against a small bundle of facet normals."""
    d, m = tilted(N0, 50), tilted(N0, 15)
    side = unit(np.cross(m, d))
    normals = [m, unit(m + 1e-5 * side), unit(m + 1e-5 * np.cross(m, side))]
    legs = [boundary.refract_through(tuple(d), tuple(facet), AIR, BODY) for facet in normals]
    ratio = solid_angle(*normals) / solid_angle(*(np.array(leg[1]) for leg in legs))
    _, _, cos_out, cos_in = legs[0]
    assert boundary.refraction_jacobian(cos_out, cos_in, AIR, BODY) == pytest.approx(ratio, rel=2e-4)


def test_polished_or_matched_has_no_density():
    d, n0 = tilted(N0, 30), tuple(N0)
    _, w, _, _ = boundary.refract_through(tuple(d), n0, AIR, BODY)
    assert boundary.aim_density(w, tuple(d), n0, 0.0, BODY, AIR) == 0.0
    assert boundary.aim(tuple(d), n0, 0.0, BODY, AIR, 0.2, 0.3) == (True, pytest.approx(w))
    assert boundary.aim_density(tuple(d), tuple(d), n0, 0.3, AIR, AIR) == 0.0
    assert boundary.aim(tuple(d), n0, 0.3, AIR, AIR, 0.2, 0.3)[1] == pytest.approx(tuple(d))
