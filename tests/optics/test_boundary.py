from __future__ import annotations

import math

import numpy as np
import pytest

from chi2 import Sphere
from doors import loop
from throughlight.optics import boundary, fresnel

INTO, OUT = (1.0, 1.4), (1.4, 1.0)
BARE = (np.zeros(1), 0)  # no tables, no skin: one facet


def direction(degrees, phi=0.0):
    a = math.radians(degrees)
    return (math.sin(a) * math.cos(phi), math.sin(a) * math.sin(phi), math.cos(a))


@loop
def _sample(wi, n_i, n_t, alpha, u):
    wo, weight, density = np.empty((len(u), 3)), np.empty(len(u)), np.empty(len(u))
    through, curves = np.empty(len(u), np.bool_), np.zeros(1)
    for i in range(len(u)):
        wo[i], weight[i], density[i], through[i] = boundary.sample(
            wi, n_i, n_t, alpha, curves, 0, u[i, 0], u[i, 1], u[i, 2]
        )
    return wo, weight, density, through


@loop
def _pdf(wi, n_i, n_t, alpha, wo):
    out, curves = np.empty(len(wo)), np.zeros(1)
    for i in range(len(wo)):
        out[i] = boundary.pdf(wi, (wo[i, 0], wo[i, 1], wo[i, 2]), n_i, n_t, alpha, curves, 0)
    return out


@loop
def _evaluate(wi, n_i, n_t, alpha, wo):
    out, curves = np.empty(len(wo)), np.zeros(1)
    for i in range(len(wo)):
        out[i] = boundary.evaluate(wi, (wo[i, 0], wo[i, 1], wo[i, 2]), n_i, n_t, alpha, curves, 0)
    return out


def sampled(wi, n, alpha, count=200_000, seed=11):
    return _sample(wi, *n, alpha, np.random.default_rng(seed).random((count, 3)))


CASES = [(n, alpha, angle) for n in (INTO, OUT, (1.0, 2.4)) for alpha in (0.1, 0.3, 0.8) for angle in (0, 40, 80)]


@pytest.mark.parametrize(("n", "alpha", "angle"), CASES)
def test_directions_are_spread_as_their_density(n, alpha, angle):
    wi = direction(angle, 0.7)
    wo, weight, density, through = sampled(wi, n, alpha)
    kept = weight > 0.0
    sphere = Sphere(72, 48)
    sphere.test(wo[kept], _pdf(wi, *n, alpha, sphere.nodes), rejected=int((~kept).sum()), tests=len(CASES))
    assert ((wo[kept, 2] < 0.0) == through[kept]).all()
    np.testing.assert_allclose(np.linalg.norm(wo[kept], axis=1), 1.0, rtol=1e-9)
    # The density that comes with a sample and the one asked for afterwards are one and the same, and so the weight.
    np.testing.assert_allclose(_pdf(wi, *n, alpha, wo[kept]), density[kept], rtol=1e-5)
    np.testing.assert_allclose(_evaluate(wi, *n, alpha, wo[kept]), weight[kept] * density[kept], rtol=1e-5)


@pytest.mark.parametrize("n", [INTO, OUT])
@pytest.mark.parametrize("alpha", [0.1, 0.3, 0.8])
@pytest.mark.parametrize("angle", [0, 50, 85])
def test_no_more_light_leaves_than_comes(n, alpha, angle):
    sphere = Sphere(72, 48)
    wi = direction(angle)
    value = _evaluate(wi, *n, alpha, sphere.nodes)
    assert (value >= 0.0).all()
    total = sphere.integrate(value).sum()
    assert 0.0 < total <= 1.0
    # The same by the sampler's weights: 200 000 samples, four standard errors.
    weight = sampled(wi, n, alpha)[1]
    assert abs(weight.mean() - total) < 4.0 * weight.std() / math.sqrt(len(weight)) + 1e-5


@pytest.mark.parametrize("alpha", [0.15, 0.5])
def test_reversed_paths_carry_the_same_but_for_the_indices_squared(alpha):
    """f(i, o)/n_o² = f(o, i)/n_i² for energy per solid angle (Veach 1997, Robust Monte Carlo Methods, §5.2)."""
    rng = np.random.default_rng(5)
    checked = 0
    for _ in range(3000):
        wi, wo = rng.normal(size=(2, 3))
        wi, wo = wi / np.linalg.norm(wi), wo / np.linalg.norm(wo)
        wi[2] = abs(wi[2])
        through = wo[2] < 0.0
        n_i, n_t = INTO
        there = boundary.evaluate(tuple(wi), tuple(wo), n_i, n_t, alpha, *BARE) / abs(wo[2])
        if through:  # from the other side, where the frame stands on its head
            back = boundary.evaluate(tuple(-wo), tuple(-wi), n_t, n_i, alpha, *BARE) / wi[2]
            assert there / n_t**2 == pytest.approx(back / n_i**2, rel=1e-9)
        else:
            back = boundary.evaluate(tuple(wo), tuple(wi), n_i, n_t, alpha, *BARE) / wi[2]
            assert there == pytest.approx(back, rel=1e-9)
        checked += there > 0.0
    assert checked > 1000


@pytest.mark.parametrize("n", [INTO, OUT])
@pytest.mark.parametrize("angle", [0, 30, 44, 60, 80])
def test_polished_limit(n, angle):
    """At α = 0 and near it: Fresnel's share within four standard errors of the choice, mirrored or bent as by Snell."""
    wi = direction(angle, 0.3)
    reflectance = fresnel.dielectric(wi[2], *n)
    for alpha, slack in ((0.0, 0.0), (0.001, 0.002)):
        wo, weight, density, through = sampled(wi, n, alpha, 50_000)
        kept = weight > 0.0
        assert kept.mean() >= 1.0 - slack
        assert abs(weight[kept].mean() - 1.0) <= slack
        error = math.sqrt(reflectance * (1.0 - reflectance) / len(weight))
        assert abs((~through).mean() - reflectance) <= 4.0 * error + slack
        mirrored, passed = wo[kept & ~through], wo[kept & through]
        if len(mirrored):
            assert np.median(np.linalg.norm(mirrored - [-wi[0], -wi[1], wi[2]], axis=1)) <= 1e-12 + 10.0 * alpha
        if len(passed):
            sine = np.hypot(wi[0], wi[1]) * n[0] / n[1]
            assert abs(np.median(np.hypot(passed[:, 0], passed[:, 1])) - sine) <= 1e-12 + 10.0 * alpha
            assert (passed[:, :2].mean(axis=0) @ wi[:2]) <= 1e-9
        assert (density[kept] == 0.0).all() == (alpha == 0.0)


def test_polished_has_no_density():
    assert boundary.pdf(direction(30), direction(30, math.pi), *INTO, 0.0, *BARE) == 0.0
    assert boundary.evaluate(direction(30), direction(30, math.pi), *INTO, 0.0, *BARE) == 0.0


@pytest.mark.parametrize("alpha", [0.0, 0.3])
def test_matched_indices_pass_straight_on(alpha):
    wi = direction(70, 1.0)
    wo, weight, density, through = sampled(wi, (1.4, 1.4), alpha, 1000)
    assert through.all()
    assert (weight == 1.0).all()
    assert (density == 0.0).all()
    np.testing.assert_allclose(wo, np.broadcast_to(-np.array(wi), wo.shape), atol=1e-15)
    assert boundary.pdf(wi, tuple(-np.array(wi)), 1.4, 1.4, alpha, *BARE) == 0.0
    assert boundary.evaluate(wi, tuple(-np.array(wi)), 1.4, 1.4, alpha, *BARE) == 0.0


@pytest.mark.parametrize("n", [INTO, OUT])
def test_grazing_light_stays_finite(n):
    for alpha in (0.05, 0.3, 1.0):
        for cosine in (1e-3, 1e-8, 1e-14):
            wi = (math.sqrt(1.0 - cosine**2), 0.0, cosine)
            wo, weight, density, _ = sampled(wi, n, alpha, 5000)
            assert np.isfinite(wo).all()
            assert np.isfinite(density).all()
            assert ((weight >= 0.0) & (weight <= 1.0)).all()
            assert np.isfinite(_pdf(wi, *n, alpha, wo)).all()


def test_against_another_renderer():
    """Mitsuba 3's `roughdielectric` (GGX, separable Smith, visible normals), its importance mode: value and density.

    That program computes in single precision, hence 2e-3 where the value is not small.
    """
    mi = pytest.importorskip("mitsuba")
    mi.set_variant("scalar_rgb")
    context = mi.BSDFContext(mi.TransportMode.Importance)
    rng = np.random.default_rng(9)
    for alpha in (0.1, 0.3, 0.6):
        other = mi.load_dict(
            {"type": "roughdielectric", "distribution": "ggx", "alpha": alpha, "int_ior": 1.4, "ext_ior": 1.0}
        )
        compared = 0
        for _ in range(1500):
            wi, wo = rng.normal(size=(2, 3))
            wi, wo = wi / np.linalg.norm(wi), wo / np.linalg.norm(wo)
            met = mi.SurfaceInteraction3f()
            met.wi = mi.Vector3f(wi)
            value = other.eval(context, met, mi.Vector3f(wo))[0]
            density = other.pdf(context, met, mi.Vector3f(wo))
            # There +z is always the outside; here it is the side that light comes from.
            up = wi[2] > 0.0
            n = INTO if up else OUT
            i, o = (tuple(wi), tuple(wo)) if up else (tuple(-wi), tuple(-wo))
            if min(abs(i[2]), abs(o[2])) < 0.05:
                continue
            assert boundary.evaluate(i, o, *n, alpha, *BARE) == pytest.approx(value, rel=2e-3, abs=1e-4)
            assert boundary.pdf(i, o, *n, alpha, *BARE) == pytest.approx(density, rel=2e-3, abs=1e-4)
            compared += value > 1e-3
        assert compared > 300
