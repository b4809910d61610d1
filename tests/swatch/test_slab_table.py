"""The table of solved slabs against an independent adding–doubling, a half space, Beer and Lambert."""

from __future__ import annotations

import math

import numpy as np
import pytest
from grid import GRID

from throughlight.swatch.adding_doubling import Layer, layer_of, slab_and_glow
from throughlight.swatch.inverse import unscattered
from throughlight.swatch.slabs import absorb_depth, slabs_of

READ_BETWEEN = 0.02  # stops: what reading between the nodes may cost, a fifth of a meter's error


SQUARE = {(1, 0), (1, 0.8), (1.33, 0.5), (1.33, 0.9), (1.4, 0), (1.4, 0.8), (1.5, 0.5), (1.5, 0.9)}
"""Index and g of half of the grid: each of either twice, as in a Latin square. The solver itself meets all of it."""


@pytest.mark.parametrize(
    "row", [row for row in GRID if row[:2] in SQUARE], ids=lambda row: "-".join(str(one) for one in row[:4])
)
def test_slabs_of_an_independent_adding_doubling(row):
    n, g, albedo, tau, _, along, _, even = row
    if min(along, even) < 1e-4:  # rounding to six digits alone is half a percent there
        return
    found = slabs_of(g, n)
    scatter, absorb = albedo * tau * (1.0 - g), (1.0 - albedo) * tau
    assert found.stops_less("light table", scatter, absorb) == pytest.approx(-math.log2(along), abs=READ_BETWEEN)
    assert found.stops_less("diffuse", scatter, absorb) == pytest.approx(-math.log2(even), abs=READ_BETWEEN)


@pytest.mark.parametrize(("angle", "brightness"), [(20, 0.02145), (40, 0.02740), (50, 0.03226), (60, 0.03806)])
def test_light_scattered_back_by_a_published_slab(angle, brightness):
    # Slab of van de Hulst 1980 (µa 10/cm, µs 90/cm, g 0.75, d 0.02 cm, matched index): L/E in 1/sr at exit angles, by
    # iadpython with 48 points and a spline between them; it allows 1 %.
    _, factor = slab_and_glow([layer_of(9000.0, 1000.0, 0.75, 1.0, 0.2e-3)], math.cos(math.radians(angle)))
    assert factor / math.pi == pytest.approx(brightness, rel=0.01)


def chandrasekhar_h(albedo, mu):
    """Return H of isotropic scattering: 1/H(µ) = √(1 − ω) + ω/2·∫ µ′H(µ′)/(µ + µ′) dµ′ (Chandrasekhar 1960)."""
    nodes, weights = np.polynomial.legendre.leggauss(64)
    nodes, weights = 0.5 * (1.0 + nodes), 0.5 * weights
    h = np.ones(64)
    for _ in range(400):
        h = 1.0 / (math.sqrt(1.0 - albedo) + 0.5 * albedo * (nodes / (nodes[:, None] + nodes)) @ (weights * h))
    return 1.0 / (math.sqrt(1.0 - albedo) + 0.5 * albedo * np.sum(weights * nodes * h / (mu + nodes)))


@pytest.mark.parametrize("albedo", [0.5, 0.9, 0.99])
def test_light_scattered_back_by_a_half_space(albedo):
    # π·L/E = ω/4·H(1)·H(µ)/(1 + µ), matched index (Chandrasekhar 1960, Radiative Transfer, section 33).
    _, factor = slab_and_glow([Layer(albedo, 400.0, 0.0, 1.0)], math.sqrt(0.5))
    h = chandrasekhar_h(albedo, 1.0) * chandrasekhar_h(albedo, math.sqrt(0.5))
    assert factor == pytest.approx(0.25 * albedo * h / (1.0 + math.sqrt(0.5)), rel=1e-3)


def test_clear_plates_keep_beer_and_lambert():
    # T = (1 − F)²·t/(1 − F²t²), F = ((n − 1)/(n + 1))² (e.g. Born and Wolf, Principles of Optics).
    found, face = slabs_of(0.0, 1.5), 0.04
    depth = np.array([0.0, 0.05, 0.7, 3.0, 8.0])
    t = np.exp(-depth)
    expected = (1.0 - face) ** 2 * t / (1.0 - (face * t) ** 2)
    assert found.stops_less("light table", 0.0, depth) == pytest.approx(-np.log2(expected), abs=READ_BETWEEN)
    assert unscattered(depth, 1.5, 1.0) == pytest.approx(expected, rel=1e-12)


def test_unscattered_light_of_the_grid():
    # exp(−τ) between the faces: n 1.5, τ 1 passes .339111, n 1.4, τ 5 .006369 (iadpython 0.5.3, unscattered).
    assert unscattered([1.0], 1.5, 1.0) == pytest.approx(0.339111, abs=1e-6)
    assert unscattered([5.0], 1.4, 1.0) == pytest.approx(0.006369, abs=1e-6)


def test_absorption_and_depth_are_inverse():
    kappa, scatter = np.meshgrid(np.linspace(0.0, 12.0, 7), [0.0, 0.3, 40.0])
    y = absorb_depth(kappa, scatter)
    assert np.sqrt(3.0 * y * (y + scatter)) == pytest.approx(kappa, abs=1e-9)
