"""The skin of a rough boundary: what single scattering loses is given back, no more and no less, to both sides."""

from __future__ import annotations

import math

import numpy as np
import pytest

from chi2 import Sphere
from doors import loop
from quadrature import panels
from throughlight.optics import boundary, fresnel
from throughlight.optics.losses import NODES, lookup
from throughlight.stage import losses

ALPHAS = (0.05, 0.1, 0.3, 0.5, 0.8, 1.0)
INDICES = (1.1, 1.33, 1.5, 2.0)
BOTH = [pair for n in INDICES for pair in ((1.0, n), (n, 1.0))]


@loop
def _sample(wi, n_i, n_t, alpha, curves, u):
    wo, weight, density = np.empty((len(u), 3)), np.empty(len(u)), np.empty(len(u))
    for i in range(len(u)):
        wo[i], weight[i], density[i], _ = boundary.sample(wi, n_i, n_t, alpha, curves, 1, u[i, 0], u[i, 1], u[i, 2])
    return wo, weight, density


@loop
def _both(wi, n_i, n_t, alpha, curves, wo):
    value, density = np.empty(len(wo)), np.empty(len(wo))
    for i in range(len(wo)):
        o = (wo[i, 0], wo[i, 1], wo[i, 2])
        value[i], density[i] = boundary.evaluate_with_pdf(wi, o, n_i, n_t, alpha, curves, 1)
    return value, density


@loop
def _lookup(curves, first, mu):
    out = np.empty(len(mu))
    for i in range(len(mu)):
        out[i] = lookup(curves, first, mu[i])
    return out


def skin(n, alpha):
    """Return the curves of a stage whose one table begins at place 1."""
    return np.concatenate([[0.0], losses.skin_curve(*n, alpha)])


def direction(mu, phi=0.0):
    sine = math.sqrt(1.0 - mu * mu)
    return (sine * math.cos(phi), sine * math.sin(phi), mu)


# Light that facets with F = 1 return after one bounce, by the cosine of incidence; separable masking. Computed by
# quadrature of 4000 × 800 over outgoing directions, converged to 2e-5 (an independent program; five decimals).
RETURNED = {
    0.1: (0.98830, 0.98141, 0.95667),
    0.3: (0.87736, 0.84352, 0.80878),
    0.5: (0.68785, 0.67845, 0.69689),
    1.0: (0.30685, 0.36100, 0.43836),
}


@pytest.mark.parametrize("alpha", RETURNED)
def test_light_that_mirror_facets_return(alpha):
    returned = losses.mirrored_once(np.array([1.0, 0.7, 0.4]), alpha)
    assert returned == pytest.approx(RETURNED[alpha], abs=5e-5)


@pytest.mark.parametrize("n", BOTH)
def test_shares_of_nearly_polished_facets_are_fresnels(n):
    mu = np.array([1.0, 0.8, 0.5, 0.3])
    reflected, passed = losses.scattered_once(mu, *n, 1e-3)
    expected = [fresnel.dielectric(m, *n) for m in mu]
    assert reflected == pytest.approx(expected, abs=2e-4)
    assert reflected + passed == pytest.approx(1.0, abs=2e-4)


@pytest.mark.parametrize("alpha", [0.3, 0.5, 0.8, 1.0])
@pytest.mark.parametrize("pair", [(1.5, 1.0), (1.0, 1.5)])
def test_shares_agree_with_the_function_that_is_traced(alpha, pair):
    """∫ f·|cos| by quadrature over outgoing directions (to 2e-4) against the mean over facets (to 1e-4).

    Smoother boundaries are too peaked for even cells.
    """
    sphere = Sphere(240, 60)
    for mu in (1.0, 0.7, 0.4, 0.15):
        value, _ = _both(direction(mu), *pair, alpha, np.zeros(2 * NODES + 4), sphere.nodes)
        total = sphere.integrate(value).sum()
        assert sum(losses.scattered_once(np.array([mu]), *pair, alpha))[0] == pytest.approx(total, abs=3e-4)


def test_mean_of_a_curve_is_exact():
    """4∫l·s³ ds over a straight curve l = a + b·s: a + 4b/5; and over a bent one by Gauss–Legendre panel by panel."""
    s = np.linspace(0.0, 1.0, NODES)
    assert losses.mean(0.3 + 0.2 * s) == pytest.approx(0.3 + 0.16, rel=1e-13)
    curve = np.abs(np.sin(7.0 * s))
    x, w = panels(0.0, 1.0, NODES - 1)
    assert losses.mean(curve) == pytest.approx(np.sum(4.0 * _lookup(curve, 0, x * x) * x**3 * w), rel=1e-12)


@pytest.mark.parametrize("alpha", ALPHAS)
@pytest.mark.parametrize("n", BOTH)
def test_what_is_lost_is_given_back(n, alpha):
    """The furnace by quadrature: single scattering (over facets, finer than the table) and the lobe add up to 1.

    Between the nodes of the table the sum may be off by 1e-3, on the average over diffuse light by 2e-4.
    """
    curves = skin(n, alpha)
    mu, w = panels(0.0, 1.0, 5, 8)
    kept = np.add(*losses.scattered_once(mu, *n, alpha))
    x, wx = panels(0.0, 1.0, NODES - 1)
    lobe = 0.0
    for side, c in ((0, curves[1]), (1, curves[2])):  # 2∫ c·l·μ dμ, μ = x²
        lobe += c * np.sum(4.0 * _lookup(curves, 4 + side * NODES, x * x) * x**3 * wx)
    assert lobe == pytest.approx(1.0, rel=1e-12)
    total = kept + _lookup(curves, 4, mu) * lobe
    assert np.abs(total - 1.0).max() < 1e-3
    assert np.sum(2.0 * mu * total * w) == pytest.approx(1.0, abs=2e-4)


CASES = [(n, alpha, mu) for n in BOTH for alpha in ALPHAS for mu in (1.0, 0.5, 0.1)]


@pytest.mark.parametrize(("n", "alpha", "mu"), CASES)
def test_drawn_directions_carry_all_the_light(n, alpha, mu):
    """The furnace by sampling: mean weight 1 within four standard errors, and what the table allows."""
    u = np.random.default_rng(13).random((40_000, 3))
    wo, weight, density = _sample(direction(mu, 0.4), *n, alpha, skin(n, alpha), u)
    error = weight.std() / math.sqrt(len(weight))
    print(f"measured {weight.mean():.5f} ± {error:.1g}, expected 1; largest weight {weight.max():.3g}")
    assert error < 0.01
    assert abs(weight.mean() - 1.0) < 4.0 * error + 1e-3
    value, again = _both(direction(mu, 0.4), *n, alpha, skin(n, alpha), wo[weight > 0.0])
    np.testing.assert_allclose(again, density[weight > 0.0], rtol=1e-5)
    np.testing.assert_allclose(value, (weight * density)[weight > 0.0], rtol=1e-5)


PAIRS = ((1.0, 1.5), (1.5, 1.0), (1.1, 1.0))
SPREAD = [(n, alpha, mu) for n in PAIRS for alpha in (0.1, 0.5, 1.0) for mu in (0.9, 0.2)]


@pytest.mark.parametrize(("n", "alpha", "mu"), SPREAD)
def test_directions_are_spread_as_their_density(n, alpha, mu):
    wi, curves = direction(mu, 0.7), skin(n, alpha)
    wo, weight, _ = _sample(wi, *n, alpha, curves, np.random.default_rng(11).random((200_000, 3)))
    kept = weight > 0.0
    sphere = Sphere(72, 48)
    _, density = _both(wi, *n, alpha, curves, sphere.nodes)
    sphere.test(wo[kept], density, rejected=int((~kept).sum()), tests=len(SPREAD))


@pytest.mark.parametrize("alpha", [0.1, 0.5, 1.0])
def test_reversed_paths_carry_the_same_but_for_the_indices_squared(alpha):
    """f(i, o)/n_o² = f(o, i)/n_i² for energy per solid angle (Veach 1997, Robust Monte Carlo Methods, §5.2)."""
    rng = np.random.default_rng(5)
    there, back = skin((1.0, 1.5), alpha), skin((1.5, 1.0), alpha)
    bare = np.zeros(1)
    for _ in range(500):
        wi, wo = rng.normal(size=(2, 3))
        wi, wo = wi / np.linalg.norm(wi), wo / np.linalg.norm(wo)
        wi[2] = abs(wi[2])
        through = wo[2] < 0.0
        pair = (1.5, 1.0) if through else (1.0, 1.5)
        i, o = (tuple(-wo), tuple(-wi)) if through else (tuple(wo), tuple(wi))

        def lobe(a, b, indices, curves):  # single scattering apart: it has its own test, to fewer digits
            whole = boundary.evaluate(a, b, *indices, alpha, curves, 1)
            return (whole - boundary.evaluate(a, b, *indices, alpha, bare, 0)) / abs(b[2])

        first = lobe(tuple(wi), tuple(wo), (1.0, 1.5), there)
        second = lobe(i, o, pair, back if through else there)
        assert first / (2.25 if through else 1.0) == pytest.approx(second, rel=1e-12, abs=1e-14)
        whole = boundary.evaluate(tuple(wi), tuple(wo), 1.0, 1.5, alpha, there, 1) / abs(wo[2])
        reverse = boundary.evaluate(i, o, *pair, alpha, back if through else there, 1) / abs(o[2])
        assert whole / (2.25 if through else 1.0) == pytest.approx(reverse, rel=1e-9)


def test_smoother_boundaries_lose_less_down_to_nothing():
    for n in BOTH:
        whole = [losses.mean(losses.skin_curve(*n, alpha)[3 : 3 + NODES]) for alpha in ALPHAS]
        assert whole == sorted(whole)
    assert losses.mean(losses.skin_curve(1.5, 1.0, 1e-3)[3 : 3 + NODES]) < 1e-4
    assert losses.skin_curve(1.0, 1.5, 1e-9).size == 0


def test_places_of_skins():
    """Three media: a polished one, a rough one, and one like air; the higher row's roughness wins."""
    curves, skins = losses.skin_tables([(1.33, 0.0), (1.5, 0.3), (1.0, 0.5)])
    assert curves[0] == 0.0
    assert curves.dtype == np.float64
    assert skins.dtype == np.int64
    assert skins.shape == (4, 4)
    zeros = [(0, 0), (0, 1), (1, 0), (1, 1), (2, 2), (3, 3), (0, 3), (3, 0)]
    assert all(skins[pair] == 0 for pair in zeros)

    def table(pair):
        return curves[skins[pair] : skins[pair] + 3 + 2 * NODES]

    np.testing.assert_array_equal(table((0, 2)), losses.skin_curve(1.0, 1.5, 0.3))
    np.testing.assert_array_equal(table((2, 0)), losses.skin_curve(1.5, 1.0, 0.3))
    np.testing.assert_array_equal(table((1, 2)), losses.skin_curve(1.33, 1.5, 0.3))
    np.testing.assert_array_equal(table((3, 2)), losses.skin_curve(1.0, 1.5, 0.5))
    assert skins.max() + 3 + 2 * NODES == len(curves)


def test_equal_media_share_their_tables():
    few, _ = losses.skin_tables([(1.5, 0.3)])
    many, skins = losses.skin_tables([(1.5, 0.3)] * 4)
    assert len(few) == len(many)
    assert len(set(skins[0, 1:])) == 1


def test_only_media_that_meet():
    skins = losses.add_skins(losses.Curves(), [(1.33, 0.3), (1.5, 0.3), (1.4, 0.3)], {(0, 1)})
    assert skins[1, 2] > 0
    assert skins[2, 1] > 0
    assert skins[1, 3] == skins[2, 3] == 0
    assert skins[0, 3] > 0
    with pytest.raises(ValueError, match="40 media"):
        losses.skin_tables([(1.5, 0.1)] * 40)
