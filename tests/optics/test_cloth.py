from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.special import exp1, expn

from chi2 import Sphere
from doors import loop
from quadrature import panels
from throughlight.optics import cloth, matte

GREY = (0.5, 0.3, 0.1)
NONE = (0.0, 0.0, 0.0)


@loop
def _sample(wi, u, reflectance, pile, sheen):
    out = np.empty((len(u), 3))
    for i in range(len(u)):
        out[i] = cloth.sample(wi, u[i, 0], u[i, 1], reflectance, pile, sheen)
    return out


@loop
def _pdf(wi, wo, reflectance, pile, sheen):
    out = np.empty(len(wo))
    for i in range(len(wo)):
        out[i] = cloth.pdf(wi, (wo[i, 0], wo[i, 1], wo[i, 2]), reflectance, pile, sheen)
    return out


@loop
def _evaluate(wi, wo, reflectance, pile, sheen):
    out = np.empty((len(wo), 3))
    for i in range(len(wo)):
        out[i] = cloth.evaluate(wi, (wo[i, 0], wo[i, 1], wo[i, 2]), reflectance, pile, sheen)
    return out


@loop
def _matte(u):
    out = np.empty((len(u), 3))
    for i in range(len(u)):
        out[i] = matte.sample((0.0, 0.0, 1.0), u[i, 0], u[i, 1])
    return out


def incidence(mu):
    return (math.sqrt(1.0 - mu * mu), 0.0, mu)


def albedo(mu, reflectance, pile, sheen):
    """Integrate f·cos over the hemisphere, nodes crowded toward the horizon, where exits change fast."""
    s, w = panels(0.0, 1.0, 12)
    z = s**3
    wo = np.stack([np.sqrt(1.0 - z * z), np.zeros_like(z), z], axis=1)
    values = _evaluate(incidence(mu), wo, reflectance, pile, sheen)
    return (values * (3.0 * s * s * w)[:, None]).sum(axis=0) * 2.0 * math.pi


CASES = [(mu, pile, sheen) for mu in (1.0, 0.5, 0.05) for pile in (0.05, 0.5, 5.0) for sheen in (0.1, 0.8)]


@pytest.mark.parametrize(("mu", "pile", "sheen"), CASES)
def test_directions_are_spread_as_their_density(mu, pile, sheen):
    wi, sheens = incidence(mu), (sheen, 0.5 * sheen, 0.0)
    wo = _sample(wi, np.random.default_rng(2).random((100_000, 2)), GREY, pile, sheens)
    sphere = Sphere(24, 16, 8)
    sphere.test(wo, _pdf(wi, sphere.nodes, GREY, pile, sheens), tests=len(CASES), total=1.0)
    weight = _evaluate(wi, wo, GREY, pile, sheens) / _pdf(wi, wo, GREY, pile, sheens)[:, None]
    # The weights' mean is the light returned: four standard errors.
    error = weight.std(axis=0) / math.sqrt(len(weight))
    assert (np.abs(weight.mean(axis=0) - albedo(mu, GREY, pile, sheens)) < 4.0 * error + 1e-7).all()


def test_matte_directions_are_spread_as_the_cosine():
    wo = _matte(np.random.default_rng(6).random((200_000, 2)))
    sphere = Sphere(24, 16, 8)
    sphere.test(wo, np.maximum(0.0, sphere.nodes[:, 2]) / math.pi, total=1.0)
    for w in wo[:50]:
        assert matte.pdf((0.0, 0.0, 1.0), tuple(w)) == pytest.approx(w[2] / math.pi)
        assert matte.evaluate((0.0, 0.0, 1.0), tuple(w), GREY) == pytest.approx([r * w[2] / math.pi for r in GREY])


@pytest.mark.parametrize("mu", [1.0, 0.6, 0.1])
@pytest.mark.parametrize("pile", [0.01, 0.3, 2.0])
def test_fibres_return_what_single_scattering_returns(mu, pile):
    """Depth by depth: light reaches depth t by e^(−t/μ) and leaves from there by E₂(t)/2 (DLMF 8.19; isotropic source).

    The albedo's share is ∫ e^(−t/μ)/μ·E₂(t)/2 dt over the layer, an integral over depth, not over angle.
    """
    expected = quad(lambda t: math.exp(-t / mu) / mu * expn(2, t) / 2.0, 0.0, pile, epsabs=1e-13)[0]
    assert albedo(mu, NONE, pile, (1.0, 0.5, 0.25)) == pytest.approx(np.array([1.0, 0.5, 0.25]) * expected, rel=1e-6)


@pytest.mark.parametrize("mu", [1.0, 0.6, 0.1])
def test_deep_fibres(mu):
    """τ → ∞ in closed form: ½·(1 − μ·ln(1 + 1/μ)) (Chandrasekhar 1950, §68, integrated over the exits)."""
    expected = 0.5 * (1.0 - mu * math.log(1.0 + 1.0 / mu))
    assert albedo(mu, NONE, 1e4, (1.0, 1.0, 1.0))[0] == pytest.approx(expected, rel=1e-6)


@pytest.mark.parametrize("mu", [1.0, 0.6, 0.1])
@pytest.mark.parametrize("pile", [0.01, 0.3, 2.0])
def test_ground_shows_through_the_fibres(mu, pile):
    """In by e^(−τ/μ), out from a matte ground by 2·E₃(τ) (DLMF 8.19.1), E₃ by E₁ with the recurrence 8.19.12."""
    e3 = 0.5 * (math.exp(-pile) - pile * (math.exp(-pile) - pile * exp1(pile)))
    assert e3 == pytest.approx(expn(3, pile), rel=1e-9)
    expected = np.array(GREY) * math.exp(-pile / mu) * 2.0 * e3
    assert albedo(mu, GREY, pile, NONE) == pytest.approx(expected, rel=1e-6)


def test_no_pile_is_matte():
    wo = (0.36, 0.48, 0.8)
    assert cloth.evaluate(incidence(0.3), wo, GREY, 0.0, GREY) == pytest.approx(
        matte.evaluate(incidence(0.3), wo, GREY)
    )
    assert cloth.pdf(incidence(0.3), wo, GREY, 0.0, GREY) == matte.pdf(incidence(0.3), wo)


def test_reciprocal_bright_at_the_edges_and_lossy():
    rng = np.random.default_rng(1)
    for a, b in rng.uniform(0.01, 1.0, size=(100, 2)):
        there = np.array(cloth.evaluate(incidence(a), incidence(b), GREY, 0.4, GREY)) / b
        back = np.array(cloth.evaluate(incidence(b), incidence(a), GREY, 0.4, GREY)) / a
        assert there == pytest.approx(back, rel=1e-12)
    for mu in (1.0, 0.3, 0.01):
        assert albedo(mu, (1.0, 1.0, 1.0), 0.7, (1.0, 1.0, 1.0))[0] < 1.0
    # Velvet's rim: the radiance of a black cloth with pale fibres rises toward grazing views (Lu, Koenderink and
    # Kappers 1998, "Optical Properties of Velvet", Applied Optics 37).
    dark, pale = (0.004, 0.004, 0.004), (0.1, 0.1, 0.1)
    radiance = [cloth.evaluate(incidence(0.7), incidence(mu), dark, 0.1, pale)[0] / mu for mu in (1.0, 0.5, 0.2, 0.05)]
    assert radiance == sorted(radiance)


def test_thin_pile_keeps_its_digits():
    """To first order fibres give s·τ/(4π·μ_i·μ_o)."""
    f = cloth.evaluate(incidence(0.3), incidence(0.6), NONE, 1e-13, (1.0, 0.5, 0.0))[0] / 0.6
    assert f == pytest.approx(1e-13 / (4.0 * math.pi * 0.3 * 0.6), rel=1e-10)


@pytest.mark.parametrize("mu", [1e-3, 1e-9, 1e-300])
def test_grazing_light_stays_finite(mu):
    wi = incidence(mu)
    for wo in (incidence(mu), incidence(0.5)):
        values = (*cloth.evaluate(wi, wo, GREY, 0.3, GREY), cloth.pdf(wi, wo, GREY, 0.3, GREY))
        assert all(math.isfinite(v) and v >= 0.0 for v in values)
    assert all(math.isfinite(x) for x in cloth.sample(wi, 0.3, 0.6, GREY, 0.3, GREY))


def test_below_the_horizon_and_black():
    below = (0.6, 0.0, -0.8)
    assert cloth.evaluate(incidence(0.3), below, GREY, 0.4, GREY) == NONE
    assert cloth.evaluate(below, incidence(0.3), GREY, 0.4, GREY) == NONE
    assert cloth.pdf(incidence(0.3), below, GREY, 0.4, GREY) == matte.pdf(incidence(0.3), below) == 0.0
    assert cloth.evaluate(incidence(0.3), incidence(0.4), NONE, 0.4, NONE) == NONE
    assert cloth.pdf(incidence(0.3), incidence(0.4), NONE, 0.4, NONE) == matte.pdf(NONE, incidence(0.4))
