from __future__ import annotations

import math

import numpy as np
import pytest

from chi2 import Sphere
from doors import loop
from quadrature import panels
from throughlight.optics import microfacet
from throughlight.optics.vectors import normalise

ALPHAS = (0.1, 0.3, 0.5)


@loop
def _sample(w, alpha, u):
    out = np.empty((len(u), 3))
    for i in range(len(u)):
        out[i] = microfacet.sample_visible(w, alpha, u[i, 0], u[i, 1])
    return out


@loop
def _pdf(w, alpha, m):
    out = np.empty(len(m))
    for i in range(len(m)):
        out[i] = microfacet.pdf_visible(w, (m[i, 0], m[i, 1], m[i, 2]), alpha)
    return out


@loop
def _area(alpha, cosines, steps):
    """Integrate D·cos over the hemisphere, nodes in s with tan² = α²·s²/(1 − s)², even in φ."""
    total = 0.0
    for i in range(len(cosines)):
        total += 2.0 * math.pi * steps[i] * cosines[i] * microfacet.distribution((0.0, 0.0, cosines[i]), alpha)
    return total


@loop
def _returned(alpha, wi, angles, steps, columns):
    """Integrate what mirror facets send into each direction, D·G / (4·cos i), over the outgoing hemisphere."""
    total = 0.0
    for i in range(len(angles)):
        sine, cosine = math.sin(angles[i]), math.cos(angles[i])
        for column in range(columns):
            phi = 2.0 * math.pi * (column + 0.5) / columns
            wo = (sine * math.cos(phi), sine * math.sin(phi), cosine)
            m = normalise((wi[0] + wo[0], wi[1] + wo[1], wi[2] + wo[2]))
            value = microfacet.distribution(m, alpha) * microfacet.masking_shadowing(wi, wo, alpha) / (4.0 * wi[2])
            total += value * sine * steps[i] * 2.0 * math.pi / columns
    return total


def direction(cosine, phi=0.0):
    sine = math.sqrt(1.0 - cosine**2)
    return (sine * math.cos(phi), sine * math.sin(phi), cosine)


@pytest.mark.parametrize(
    ("alpha", "peak", "seen"), [(0.1, 31.830989, 0.992610), (0.3, 3.536777, 0.940317), (0.5, 1.273240, 0.861002)]
)
def test_peak_and_masking_at_60_degrees(alpha, peak, seen):
    """D(0) = 1/(π·α²) and Smith's G₁ of Walter et al. 2007, eqs. 33–34, worked out by hand."""
    assert microfacet.distribution((0.0, 0.0, 1.0), alpha) == pytest.approx(peak, abs=6e-7)
    assert microfacet.masking(direction(0.5), alpha) == pytest.approx(seen, abs=6e-7)
    assert microfacet.masking(direction(-0.5), alpha) == microfacet.masking(direction(0.5), alpha)


@pytest.mark.parametrize("alpha", [0.001, *ALPHAS, 1.0])
def test_facets_cover_the_plane_once(alpha):
    """∫ D·cos dω = 1 (Walter et al. 2007, eq. 4)."""
    s, w = panels(0.0, 1.0, 25)
    squared = (alpha * s / (1.0 - s)) ** 2
    cosines = 1.0 / np.sqrt(1.0 + squared)
    steps = cosines**3 * alpha**2 * s / (1.0 - s) ** 3 * w
    assert _area(alpha, cosines, steps) == pytest.approx(1.0, abs=1e-9)


# Light that facets with F = 1 return after one bounce, by the cosine of incidence; separable masking. Computed by
# quadrature of 4000 × 800, converged to 2e-5 (an independent program; five decimals).
RETURNED = {
    0.1: {1.0: 0.98830, 0.7: 0.98141, 0.4: 0.95667},
    0.3: {1.0: 0.87736, 0.7: 0.84352, 0.4: 0.80878},
    0.5: {1.0: 0.68785, 0.7: 0.67845, 0.4: 0.69689},
    1.0: {1.0: 0.30685, 0.7: 0.36100, 0.4: 0.43836},
}


@pytest.mark.parametrize("alpha", RETURNED)
def test_light_that_mirror_facets_return(alpha):
    angles, steps = panels(0.0, math.pi / 2.0, 60)
    for cosine, expected in RETURNED[alpha].items():
        assert _returned(alpha, direction(cosine), angles, steps, 400) == pytest.approx(expected, abs=3e-5)


CASES = [(alpha, cosine) for alpha in (0.1, 0.3, 1.0) for cosine in (1.0, 0.7, 0.2, 0.02)]


@pytest.mark.parametrize(("alpha", "cosine"), CASES)
def test_visible_facets_are_spread_as_their_density(alpha, cosine):
    w = direction(cosine, 0.4)
    sphere = Sphere(72, 48)
    facets = _sample(w, alpha, np.random.default_rng(7).random((200_000, 2)))
    assert np.allclose(np.linalg.norm(facets, axis=1), 1.0, atol=1e-12)
    assert (facets[:, 2] > 0.0).all()
    sphere.test(facets, _pdf(w, alpha, sphere.nodes), tests=len(CASES), total=1.0)


def test_grazing_density_stays_finite():
    w = direction(1e-12)
    facets = _sample(w, 0.3, np.random.default_rng(3).random((1000, 2)))
    densities = _pdf(w, 0.3, facets)
    assert np.isfinite(facets).all()
    assert np.isfinite(densities).all()
    assert (densities > 0.0).all()
