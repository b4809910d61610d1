from __future__ import annotations

import math

import numpy as np
import pytest

from chi2 import Sphere
from doors import loop
from quadrature import panels
from throughlight.optics import fresnel, gloss
from throughlight.stage import losses

# A matte ground under a polished skin of n = 1.5: reflectance for a pencil along the normal and for diffuse light
# (Saunderson 1942, with k1 = F and k2 = R_int; closed form, six decimals).
SAUNDERSON = {
    0.04: (0.055879, 0.106801),
    0.18: (0.118139, 0.165703),
    0.5: (0.316071, 0.352959),
    0.9: (0.792786, 0.803962),
    1.0: (1.0, 1.0),
}

GREY = (0.5, 0.3, 0.1)
NONE = (0.0, 0.0, 0.0)
BARE = (np.zeros(1), 0)


@loop
def _sample(wi, reflectance, n, alpha, curves, lost, u):
    wo, weight, density = np.empty((len(u), 3)), np.empty((len(u), 3)), np.empty(len(u))
    for i in range(len(u)):
        wo[i], weight[i], density[i] = gloss.sample(wi, reflectance, n, alpha, curves, lost, u[i, 0], u[i, 1], u[i, 2])
    return wo, weight, density


@loop
def _both(wi, reflectance, n, alpha, curves, lost, wo):
    value, density = np.empty((len(wo), 3)), np.empty(len(wo))
    for i in range(len(wo)):
        o = (wo[i, 0], wo[i, 1], wo[i, 2])
        value[i] = gloss.evaluate(wi, o, reflectance, n, alpha, curves, lost)
        density[i] = gloss.pdf(wi, o, reflectance, n, alpha, curves, lost)
    return value, density


def direction(mu, phi=0.0):
    sine = math.sqrt(1.0 - mu * mu)
    return (sine * math.cos(phi), sine * math.sin(phi), mu)


def table(n, alpha):
    return np.concatenate([[0.0], losses.gloss_curve(n, alpha)])


def white(rho):
    return (rho, rho, rho)


def spread_of_polished(mu, rho, n):
    """Integrate the diffuse term over the hemisphere, nodes crowded where Fresnel's root is."""
    s, w = panels(0.0, 1.0, 12)
    z = s * s * (3.0 - 2.0 * s)
    wo = np.stack([np.sqrt(1.0 - z * z), np.zeros_like(z), z], axis=1)
    value, _ = _both(direction(mu), white(rho), n, 0.0, *BARE, wo)
    return 2.0 * math.pi * np.sum(value[:, 0] * 6.0 * s * (1.0 - s) * w)


# Reflectance for diffuse light from outside and from inside by index: closed forms; n = 1.5 gives .092 and .596 in Judd
# 1942 (from memory).
DIFFUSE = {
    1.33: (0.065931, 0.471949),
    1.40: (0.076812, 0.528985),
    1.50: (0.091778, 0.596346),
    1.52: (0.094707, 0.608166),
    1.70: (0.120320, 0.695612),
}


@pytest.mark.parametrize("n", DIFFUSE)
def test_closed_form_of_the_diffuse_reflectance_walsh_1926(n):
    outside, inside = DIFFUSE[n]
    assert fresnel.diffuse(n) == pytest.approx(outside, abs=6e-7)
    assert 1.0 - (1.0 - fresnel.diffuse(n)) / n**2 == pytest.approx(inside, abs=6e-7)


@pytest.mark.parametrize("n", [1.0002, 1.01, 1.1, 2.0, 4.0])
def test_closed_form_of_the_diffuse_reflectance_against_quadrature(n):
    s, w = panels(0.0, 1.0, 40)
    mu, step = s**3, 3.0 * s * s * w
    by_angle = [2.0 * m * fresnel.dielectric(m, 1.0, n) for m in mu]
    assert fresnel.diffuse(n) == pytest.approx(float(np.sum(by_angle * step)), abs=1e-8)
    assert fresnel.diffuse(1.0) == 0.0


@pytest.mark.parametrize("rho", SAUNDERSON)
def test_saunderson_1942(rho):
    pencil, diffuse = SAUNDERSON[rho]
    total = fresnel.dielectric(1.0, 1.0, 1.5) + spread_of_polished(1.0, rho, 1.5)
    assert total == pytest.approx(pencil, abs=6e-7)
    x, w = panels(0.0, 1.0, 3)
    mu, step = x**3, 3.0 * x * x * w
    over = [2.0 * m * (fresnel.dielectric(m, 1.0, 1.5) + spread_of_polished(m, rho, 1.5)) for m in mu]
    assert float(np.sum(over * step)) == pytest.approx(diffuse, abs=6e-7)


@pytest.mark.parametrize("n", [1.33, 1.5, 2.0])
@pytest.mark.parametrize("mu", [1.0, 0.5, 0.05])
def test_white_ground_under_a_polished_skin_returns_everything(n, mu):
    assert fresnel.dielectric(mu, 1.0, n) + spread_of_polished(mu, 1.0, n) == pytest.approx(1.0, abs=1e-7)


@pytest.mark.parametrize("n", [1.33, 1.5, 2.0])
@pytest.mark.parametrize("alpha", [0.05, 0.1, 0.3, 0.5, 1.0])
def test_white_ground_under_a_rough_skin_returns_everything(n, alpha):
    """Mean weight 1 within four standard errors and the table's 1e-3; by quadrature where f is wide."""
    curves = table(n, alpha)
    for mu in (1.0, 0.5, 0.1):
        wi = direction(mu, 0.2)
        u = np.random.default_rng(3).random((40_000, 3))
        _, weight, _ = _sample(wi, white(1.0), n, alpha, curves, 1, u)
        error = weight[:, 0].std() / math.sqrt(len(weight))
        print(f"measured {weight[:, 0].mean():.5f} ± {error:.1g}, expected 1; largest weight {weight.max():.3g}")
        assert error < 0.01
        assert abs(weight[:, 0].mean() - 1.0) < 4.0 * error + 1e-3
        if alpha >= 0.3:
            sphere = Sphere(120, 48)
            value, _ = _both(wi, white(1.0), n, alpha, curves, 1, sphere.nodes)
            assert sphere.integrate(value[:, 0]).sum() == pytest.approx(1.0, abs=1e-3)


@pytest.mark.parametrize("rho", [0.04, 0.18, 0.9])
def test_nearly_polished_skin_is_saundersons(rho):
    """α → 0 at normal incidence, within four standard errors and 1e-3."""
    u = np.random.default_rng(3).random((40_000, 3))
    _, weight, _ = _sample(direction(1.0), white(rho), 1.5, 0.01, table(1.5, 0.01), 1, u)
    error = weight[:, 0].std() / math.sqrt(len(weight))
    assert abs(weight[:, 0].mean() - SAUNDERSON[rho][0]) < 4.0 * error + 1e-3
    _, weight, _ = _sample(direction(1.0), white(rho), 1.5, 0.0, *BARE, u)
    error = weight[:, 0].std() / math.sqrt(len(weight))
    assert abs(weight[:, 0].mean() - SAUNDERSON[rho][0]) < 4.0 * error + 1e-6


def test_sides_of_a_rough_skin_are_bound_by_etendue():
    """R_int from what enters from outside, against single scattering and lobe computed from inside."""
    n, alpha = 1.5, 0.4
    inside = losses.skin_curve(n, 1.0, alpha)
    reflected, _ = losses.scattered_once(losses.nodes(), n, 1.0, alpha)
    under = losses.mean(reflected + inside[2] * inside[3 : 3 + losses.NODES])
    assert losses.gloss_curve(n, alpha)[0] == pytest.approx(under, abs=3e-4)


CASES = [(alpha, mu, rho) for alpha in (0.0, 0.1, 0.5, 1.0) for mu in (1.0, 0.3, 0.05) for rho in (0.0, 0.8)]


@pytest.mark.parametrize(("alpha", "mu", "rho"), CASES)
def test_directions_are_spread_as_their_density(alpha, mu, rho):
    wi, curves = direction(mu, 0.7), table(1.5, alpha)
    lost = 1 if alpha > 0.0 else 0
    colour = (rho, 0.5 * rho, 0.0)
    wo, weight, density = _sample(wi, colour, 1.5, alpha, curves, lost, np.random.default_rng(4).random((100_000, 3)))
    kept = density > 0.0
    if lost == 0:  # the rest is mirrored
        assert (wo[~kept] == [-wi[0], -wi[1], wi[2]]).all()
        if not kept.any():
            return
    sphere = Sphere(144, 144)
    _, spread = _both(wi, colour, 1.5, alpha, curves, lost, sphere.nodes)
    sphere.test(wo[kept], spread, rejected=int((~kept).sum()), tests=len(CASES))
    value, again = _both(wi, colour, 1.5, alpha, curves, lost, wo[kept])
    np.testing.assert_allclose(again, density[kept], rtol=1e-12)
    np.testing.assert_allclose(value, weight[kept] * density[kept, None], rtol=1e-12)
    assert weight.max() < 40.0


@pytest.mark.parametrize("alpha", [0.0, 0.4])
def test_reciprocal(alpha):
    rng = np.random.default_rng(8)
    curves, lost = table(1.5, alpha), 1 if alpha > 0.0 else 0
    for _ in range(300):
        a, b = rng.normal(size=(2, 3))
        a, b = a / np.linalg.norm(a), b / np.linalg.norm(b)
        a[2], b[2] = abs(a[2]), abs(b[2])
        there = np.array(gloss.evaluate(tuple(a), tuple(b), GREY, 1.5, alpha, curves, lost)) / b[2]
        back = np.array(gloss.evaluate(tuple(b), tuple(a), GREY, 1.5, alpha, curves, lost)) / a[2]
        assert there == pytest.approx(back, rel=1e-12)


def test_no_skin_is_matte():
    """An index of 1 mirrors nothing: ρ/π."""
    wi, wo = direction(0.4), direction(0.7, 2.0)
    assert gloss.evaluate(wi, wo, GREY, 1.0, 0.0, *BARE) == pytest.approx([r * 0.7 / math.pi for r in GREY])
    assert gloss.pdf(wi, wo, GREY, 1.0, 0.0, *BARE) == pytest.approx(0.7 / math.pi)


def test_black_and_below_the_horizon():
    below = (0.6, 0.0, -0.8)
    assert gloss.evaluate(below, direction(0.4), GREY, 1.5, 0.0, *BARE) == NONE
    assert gloss.evaluate(direction(0.4), below, GREY, 1.5, 0.0, *BARE) == NONE
    assert gloss.pdf(direction(0.4), below, GREY, 1.5, 0.0, *BARE) == 0.0
    assert gloss.sample(below, GREY, 1.5, 0.0, *BARE, 0.5, 0.5, 0.5)[1] == NONE
    # A black ground still mirrors, always and by Fresnel's share.
    wo, weight, density = gloss.sample(direction(0.4), NONE, 1.5, 0.0, *BARE, 0.99, 0.5, 0.5)
    assert density == 0.0
    assert wo[2] == 0.4
    assert weight[0] == pytest.approx(fresnel.dielectric(0.4, 1.0, 1.5))
