from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.special import eval_legendre

from chi2 import Sphere
from doors import loop
from quadrature import panels
from throughlight.optics import phase


@loop
def _sample(w, g, u):
    out = np.empty((len(u), 3))
    for i in range(len(u)):
        out[i] = phase.sample(w, g, u[i, 0], u[i, 1])
    return out


@loop
def _evaluate(cosines, g):
    out = np.empty(len(cosines))
    for i in range(len(cosines)):
        out[i] = phase.evaluate(cosines[i], g)
    return out


ANISOTROPIES = (-0.7, -1e-4, 0.0, 1e-9, 1e-4, 0.3, 0.8, 0.97)
W = np.array([0.36, -0.48, -0.8])


@pytest.mark.parametrize("g", ANISOTROPIES)
def test_directions_are_spread_as_the_phase_function(g):
    wo = _sample(tuple(W), g, np.random.default_rng(4).random((200_000, 2)))
    np.testing.assert_allclose(np.linalg.norm(wo, axis=1), 1.0, atol=1e-12)
    side = np.cross(W, (0.0, 0.6, -0.8))
    side /= np.linalg.norm(side)
    frame = np.stack([side, np.cross(W, side), W])  # polar angles about W
    sphere = Sphere(48, 16, 16)
    sphere.test(wo @ frame.T, _evaluate(sphere.nodes[:, 2].copy(), g), tests=len(ANISOTROPIES), total=1.0)


@pytest.mark.parametrize("g", [-0.5, 0.0, 0.2, 0.8, 0.95])
def test_moments_are_powers_of_g(g):
    """The Legendre coefficients of Henyey and Greenstein's function are gⁿ; g itself is the mean cosine."""
    x, w = panels(-1.0, 1.0, 1000)
    values = _evaluate(x, g) * 2.0 * math.pi * w
    for order in range(6):
        assert values @ eval_legendre(order, x) == pytest.approx(g**order, abs=1e-10)


@pytest.mark.parametrize("g", [-0.9, 0.0, 1e-12, 1e-5, 0.5, 0.99])
def test_cosines_by_inverting_the_distribution(g):
    """Henyey and Greenstein's cumulative distribution, (1 − g²)/2g·(1/√(1 + g² − 2gμ) − 1/(1 + g)), in long double."""
    u = np.linspace(0.0, 1.0 - 2.0**-53, 101)
    cosines = np.array([phase.sample((0.0, 0.0, 1.0), g, x, 0.3)[2] for x in u]).astype(np.longdouble)
    if abs(g) < 1e-4:  # first order in g; the next is g²
        cumulative = (1.0 + cosines) / 2.0 - np.longdouble(1.5) * g * (1.0 - cosines**2) / 2.0
    else:
        long = np.longdouble(g)
        cumulative = (1 - long**2) / (2 * long) * (1 / np.sqrt(1 + long**2 - 2 * long * cosines) - 1 / (1 + long))
    np.testing.assert_allclose(cumulative.astype(float), u, atol=3e-10)


def test_ends_of_the_distribution():
    for g in ANISOTROPIES:
        assert phase.sample((0.0, 0.0, 1.0), g, 0.0, 0.0)[2] == pytest.approx(-1.0, abs=1e-15)
        assert phase.sample((0.0, 0.0, 1.0), g, 1.0 - 2.0**-53, 0.0)[2] == pytest.approx(1.0, abs=1e-12)
        assert all(math.isfinite(x) for x in phase.sample((0.0, 0.0, -1.0), g, 0.3, 0.9))
