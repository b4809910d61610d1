from __future__ import annotations

import math

import numba
import numpy as np
import pytest
from scipy import integrate
from scipy.special import expn

from chi2 import Sphere
from throughlight.optics import cloth, matte

BLACK = (0.004, 0.004, 0.004)
NOTHING = (0.0, 0.0, 0.0)


@numba.njit
def _sample(wi, u, reflectance, pile, sheen):
    out = np.empty((len(u), 3))
    for i in range(len(u)):
        out[i] = cloth.sample(wi, u[i, 0], u[i, 1], reflectance, pile, sheen)
    return out


@numba.njit
def _evaluate(wi, wo, reflectance, pile, sheen):
    """(n, 4): f·cos by band, and the density."""
    out = np.empty((len(wo), 4))
    for i in range(len(wo)):
        w = (wo[i, 0], wo[i, 1], wo[i, 2])
        out[i, :3] = cloth.evaluate(wi, w, reflectance, pile, sheen)
        out[i, 3] = cloth.pdf(wi, w, reflectance, pile, sheen)
    return out


def direction(cosine, phi=0.0):
    sine = math.sqrt(1.0 - cosine**2)
    return (sine * math.cos(phi), sine * math.sin(phi), cosine)


def albedo(mu, reflectance, pile, sheen):
    """Light returned of that coming in at the cosine mu, by exponential integrals E_n (DLMF 8.19; scipy.special.expn).

    Of what reaches the depth t, e^(−t/μ), fibres scatter dt/μ, half of it upward, and E₂(t) of that finds its way out:
    (s/2μ)·∫ e^(−t/μ)·E₂(t) dt. The ground sends back ρ·e^(−τ/μ), of which 2·E₃(τ) gets out.
    """
    inside, _ = integrate.quad(lambda t: math.exp(-t / mu) * expn(2, t), 0.0, pile, epsabs=1e-13, epsrel=1e-12)
    return 0.5 * sheen / mu * inside + reflectance * math.exp(-pile / mu) * 2.0 * expn(3, pile)


def returned(mu, reflectance, pile, sheen):
    """Integrate f·cos over the hemisphere, by nodes crowded toward the horizon."""
    x, w = np.polynomial.legendre.leggauss(400)
    s = (x + 1.0) / 2.0
    z, weights = s**3, 3.0 * s**2 * w / 2.0 * 2.0 * math.pi
    wo = np.stack([np.sqrt(1.0 - z * z), np.zeros_like(z), z], axis=1)
    return weights @ _evaluate(direction(mu), wo, (reflectance,) * 3, pile, (sheen,) * 3)


CASES = [(mu, pile) for mu in (1.0, 0.5, 0.1, 0.02) for pile in (0.01, 0.2, 2.0)]


@pytest.mark.parametrize(("mu", "pile"), CASES)
def test_light_returned_by_exponential_integrals(mu, pile):
    for reflectance, sheen in ((0.9, 0.0), (0.0, 0.7), (0.3, 0.5)):
        expected = albedo(mu, reflectance, pile, sheen)
        assert returned(mu, reflectance, pile, sheen)[0] == pytest.approx(expected, rel=1e-8)


@pytest.mark.parametrize("mu", [1.0, 0.5, 0.1])
def test_deep_pile_is_the_law_of_lommel_and_seeliger(mu):
    """Endless fibres alone: albedo s/2·(1 − μ·ln(1 + 1/μ)), the integral of s/(4π(μ + μ'))·μ' (Chandrasekhar 1950)."""
    expected = 0.5 * 0.6 * (1.0 - mu * math.log(1.0 + 1.0 / mu))
    assert returned(mu, 0.9, 60.0, 0.6)[0] == pytest.approx(expected, rel=1e-9)


def test_never_returns_more_than_arrives():
    for mu in np.linspace(0.005, 1.0, 20):
        for pile in (0.0, 0.05, 0.5, 5.0):
            assert returned(float(mu), 1.0, pile, 1.0)[0] <= 1.0 + 1e-12


def test_reciprocity():
    """Helmholtz: f is the same when both directions are swapped."""
    rng = np.random.default_rng(4)
    for a, b in rng.uniform(0.01, 1.0, (50, 2)):
        wi, wo = direction(a, 0.3), direction(b, 2.0)
        there = cloth.evaluate(wi, wo, (0.1, 0.2, 0.3), 0.4, (0.5, 0.6, 0.7))
        back = cloth.evaluate(wo, wi, (0.1, 0.2, 0.3), 0.4, (0.5, 0.6, 0.7))
        assert np.array(there) / b == pytest.approx(np.array(back) / a, rel=1e-12)


def test_without_pile_it_is_matte():
    wi, wo, sheen = direction(0.3), direction(0.6, 1.0), (0.8, 0.8, 0.8)
    assert cloth.evaluate(wi, wo, BLACK, 0.0, sheen) == pytest.approx(matte.evaluate(wi, wo, BLACK), rel=1e-14)
    assert cloth.pdf(wi, wo, BLACK, 0.0, sheen) == pytest.approx(matte.pdf(wi, wo), rel=1e-14)


def test_thin_pile_keeps_its_digits():
    """To first order fibres give s·τ/(4π·μ_i·μ_o)."""
    wi, wo, pile = direction(0.3), direction(0.6), 1e-13
    f = cloth.evaluate(wi, wo, NOTHING, pile, (1.0, 0.5, 0.0))[0] / 0.6
    assert f == pytest.approx(pile / (4.0 * math.pi * 0.3 * 0.6), rel=1e-10)


def test_grazing_and_below():
    for mu in (1e-3, 1e-9, 1e-300):
        value = cloth.evaluate(direction(mu), direction(mu, 2.0), BLACK, 0.3, (0.5, 0.5, 0.5))
        assert all(math.isfinite(v) and v >= 0.0 for v in value)
    up, down = direction(0.5), (0.6, 0.0, -0.8)
    assert cloth.evaluate(up, down, BLACK, 0.3, BLACK) == NOTHING
    assert cloth.evaluate(down, up, BLACK, 0.3, BLACK) == NOTHING
    assert cloth.pdf(up, down, BLACK, 0.3, BLACK) == 0.0


def test_bright_rim():
    """A pile shows at the rim: seen at grazing angles a black cloth with fibres is brighter than straight on."""
    light, sheen = direction(0.3), (0.1, 0.1, 0.1)
    straight, grazing = (cloth.evaluate(light, direction(c, 1.0), BLACK, 0.02, sheen)[0] / c for c in (1.0, 0.05))
    assert grazing > 2.0 * straight


@pytest.mark.parametrize(("mu", "pile"), CASES)
@pytest.mark.parametrize(("ground", "fibres"), [(0.004, 0.02), (0.6, 0.3)])
def test_directions_are_spread_as_their_density(mu, pile, ground, fibres):
    wi, reflectance, sheen = direction(mu, 0.4), (ground, ground / 2.0, 0.0), (fibres, 0.0, fibres)
    sphere = Sphere(24, 8, 6)
    directions = _sample(wi, np.random.default_rng(11).random((50_000, 2)), reflectance, pile, sheen)
    assert np.allclose(np.linalg.norm(directions, axis=1), 1.0, atol=1e-12)
    assert (directions[:, 2] > 0.0).all()
    densities = _evaluate(wi, sphere.nodes, reflectance, pile, sheen)[:, 3]
    sphere.test(directions, densities, tests=2 * len(CASES), total=1.0)
    # The weights f·cos/density average to the light returned: z-tests at 4.5 σ (24 of them).
    values = _evaluate(wi, directions, reflectance, pile, sheen)
    weights = values[:, 0] / values[:, 3]
    error = weights.std() / math.sqrt(len(weights))
    assert abs(weights.mean() - albedo(mu, ground, pile, fibres)) < 4.5 * error
    assert error < 0.01 * weights.mean()
