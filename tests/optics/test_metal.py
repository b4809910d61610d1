from __future__ import annotations

import math

import numpy as np
import pytest

from chi2 import Sphere
from doors import loop
from quadrature import panels
from throughlight.optics import fresnel, metal
from throughlight.stage import losses

# R at normal incidence from n + ik at 450, 550 and 650 nm. Silver and gold: Johnson and Christy 1972, aluminium: Rakić
# 1995; indices and R0 = ((n − 1)² + k²)/((n + 1)² + k²) as tabulated by the package refractiveindex 1.3.1.
SILVER = ((0.04000, 0.05958, 0.05222), (2.6484, 3.5974, 4.4094), (0.98024, 0.98305, 0.98983))
ALUMINIUM = ((0.63324, 1.01519, 1.55803), (5.4544, 6.6273, 7.7124), (0.92186, 0.91537, 0.90561))
GOLD = ((1.38309, 0.42415, 0.15557), (1.9155, 2.4721, 3.6024), (0.40819, 0.79155, 0.95652))

# (n + ik, degrees, R_s, R_p): closed form in double precision, an independent program.
OBLIQUE = [
    (0.06, 3.59, 45, 0.988085, 0.976312),
    (0.06, 3.59, 60, 0.991637, 0.970037),
    (0.06, 3.59, 80, 0.997111, 0.968907),
    (0.958, 6.69, 45, 0.943858, 0.890867),
    (0.958, 6.69, 60, 0.960070, 0.853774),
    (0.958, 6.69, 80, 0.985980, 0.749732),
]

PERFECT = ((0.0, 0.0, 0.0), (1.0, 1.0, 1.0))  # n = 0: F = 1 at all angles


@loop
def _sample(wi, n, k, alpha, curves, lost, u):
    wo, weight, density = np.empty((len(u), 3)), np.empty((len(u), 3)), np.empty(len(u))
    for i in range(len(u)):
        wo[i], weight[i], density[i] = metal.sample(wi, n, k, alpha, curves, lost, u[i, 0], u[i, 1], u[i, 2])
    return wo, weight, density


@loop
def _both(wi, n, k, alpha, curves, lost, wo):
    value, density = np.empty((len(wo), 3)), np.empty(len(wo))
    for i in range(len(wo)):
        o = (wo[i, 0], wo[i, 1], wo[i, 2])
        value[i] = metal.evaluate(wi, o, n, k, alpha, curves, lost)
        density[i] = metal.pdf(wi, o, n, k, alpha, curves, lost)
    return value, density


def direction(mu, phi=0.0):
    sine = math.sqrt(1.0 - mu * mu)
    return (sine * math.cos(phi), sine * math.sin(phi), mu)


def table(alpha, n, k):
    return np.concatenate([[0.0], losses.metal_curve(alpha, n, k)])


@pytest.mark.parametrize(("n", "k", "expected"), [SILVER, ALUMINIUM, GOLD])
def test_reflectance_at_normal_incidence_johnson_christy_1972_rakic_1995(n, k, expected):
    assert fresnel.metal(1.0, n, k) == pytest.approx(expected, abs=1.5e-5)  # five decimals of index and of R0


@pytest.mark.parametrize(("n", "k", "degrees", "s", "p"), OBLIQUE)
def test_oblique_reflectance_by_polarisation(n, k, degrees, s, p):
    assert fresnel.metal_polarised(math.cos(math.radians(degrees)), n, k) == pytest.approx((s, p), abs=6e-7)


def test_metal_that_absorbs_nothing_is_a_clear_medium():
    """k = 0 is a dielectric, denser or rarer than air (total reflection)."""
    for n in (1.5, 2.4, 0.6):
        for mu in (1e-6, 0.1, 0.5, 0.75, 0.9, 1.0):
            assert fresnel.metal_polarised(mu, n, 0.0) == pytest.approx(fresnel.polarised(mu, 1.0, n), abs=1e-9)


def test_complex_snell():
    """The textbook quotients with a complex cosine of refraction (Born and Wolf 1999, §14.2), by Python's cmath."""
    for n, k in ((0.06, 3.59), (1.5, 7.7), (2.0, 0.1), (0.3, 0.3)):
        index = complex(n, k)
        for mu in (0.01, 0.3, 0.7, 1.0):
            bent = (1.0 - (1.0 - mu * mu) / index**2) ** 0.5
            s = abs((mu - index * bent) / (mu + index * bent)) ** 2
            p = abs((index * mu - bent) / (index * mu + bent)) ** 2
            assert fresnel.metal_polarised(mu, n, k) == pytest.approx((s, p), rel=1e-10)


def test_limits_stay_finite():
    assert fresnel.metal_polarised(0.0, 0.06, 3.59) == pytest.approx((1.0, 1.0))
    assert fresnel.metal_polarised(0.3, 0.0, 1.0) == pytest.approx((1.0, 1.0))
    assert all(math.isfinite(x) for x in fresnel.metal_polarised(0.0, 1.0, 0.0))
    assert fresnel.metal_polarised(0.5, 1.0, 0.0) == pytest.approx((0.0, 0.0), abs=1e-15)


def test_polished_mirrors():
    wi = direction(0.6, 0.3)
    wo, weight, density = metal.sample(wi, *SILVER[:2], 0.0, np.zeros(1), 0, 0.1, 0.2, 0.3)
    assert wo == (-wi[0], -wi[1], wi[2])
    assert weight == fresnel.metal(wi[2], *SILVER[:2])
    assert density == 0.0
    assert metal.evaluate(wi, wo, *SILVER[:2], 0.0, np.zeros(1), 0) == (0.0, 0.0, 0.0)
    assert metal.pdf(wi, wo, *SILVER[:2], 0.0, np.zeros(1), 0) == 0.0


@pytest.mark.parametrize("alpha", [0.05, 0.1, 0.3, 0.5, 0.8, 1.0])
def test_metal_that_reflects_everything_loses_nothing(alpha):
    """White furnace: mean weight 1 within four standard errors and the table's 1e-3; by quadrature where f is wide."""
    curves = table(alpha, *PERFECT)
    assert curves[1] * losses.mean(curves[4:]) == pytest.approx(1.0, rel=1e-12)  # T = 1
    for mu in (1.0, 0.6, 0.2):
        wi = direction(mu, 0.2)
        _, weight, _ = _sample(wi, *PERFECT, alpha, curves, 1, np.random.default_rng(3).random((40_000, 3)))
        error = weight[:, 0].std() / math.sqrt(len(weight))
        print(f"measured {weight[:, 0].mean():.5f} ± {error:.1g}, expected 1; largest weight {weight.max():.3g}")
        assert error < 0.01
        assert abs(weight[:, 0].mean() - 1.0) < 4.0 * error + 1e-3
        if alpha >= 0.3:
            sphere = Sphere(120, 48)
            value, _ = _both(wi, *PERFECT, alpha, curves, 1, sphere.nodes)
            assert sphere.integrate(value[:, 0]).sum() == pytest.approx(1.0, abs=1e-3)


def test_meeting_after_meeting():
    """The lobe's tint against the bounces themselves: F̄ at the first facet, then again F̄ before each try to leave.

    For facets that all reflect F̄, summed until nothing is left.
    """
    alpha, (n, k, _) = 0.5, GOLD
    curves = table(alpha, n, k)
    whole = losses.mean(curves[4:])
    x, w = panels(0.0, 1.0, 8)
    for band in range(3):
        diffuse = sum(2.0 * m * fresnel.metal(m, n, k)[band] * step for m, step in zip(x, w, strict=True))
        left, out = diffuse * diffuse, 0.0  # per unit of what a perfect mirror would lose after its first facet
        while left > 1e-15:
            out += left * (1.0 - whole)
            left *= whole * diffuse
        assert curves[1 + band] * whole == pytest.approx(out, rel=1e-8)


CASES = [(alpha, mu) for alpha in (0.1, 0.5, 1.0) for mu in (1.0, 0.4, 0.05)]


@pytest.mark.parametrize(("alpha", "mu"), CASES)
def test_directions_are_spread_as_their_density(alpha, mu):
    n, k, _ = GOLD
    wi, curves = direction(mu, 0.7), table(alpha, n, k)
    for lost in (0, 1):
        wo, weight, density = _sample(wi, n, k, alpha, curves, lost, np.random.default_rng(4).random((100_000, 3)))
        kept = density > 0.0
        sphere = Sphere(144, 144)
        _, spread = _both(wi, n, k, alpha, curves, lost, sphere.nodes)
        sphere.test(wo[kept], spread, rejected=int((~kept).sum()), tests=2 * len(CASES))
        value, again = _both(wi, n, k, alpha, curves, lost, wo[kept])
        np.testing.assert_allclose(again, density[kept], rtol=1e-12)
        np.testing.assert_allclose(value, weight[kept] * density[kept, None], rtol=1e-12)


def test_reciprocal():
    rng = np.random.default_rng(8)
    n, k, _ = GOLD
    curves = table(0.4, n, k)
    for _ in range(300):
        a, b = rng.normal(size=(2, 3))
        a, b = a / np.linalg.norm(a), b / np.linalg.norm(b)
        a[2], b[2] = abs(a[2]), abs(b[2])
        there = np.array(metal.evaluate(tuple(a), tuple(b), n, k, 0.4, curves, 1)) / b[2]
        back = np.array(metal.evaluate(tuple(b), tuple(a), n, k, 0.4, curves, 1)) / a[2]
        assert there == pytest.approx(back, rel=1e-12)


def test_nearly_polished_returns_fresnels_share():
    """α → 0: the reflectance of the polished metal within 1e-3."""
    n, k, _ = GOLD
    for mu in (1.0, 0.5):
        u = np.random.default_rng(3).random((2000, 3))
        _, weight, _ = _sample(direction(mu), n, k, 0.002, table(0.002, n, k), 1, u)
        assert weight.mean(axis=0) == pytest.approx(fresnel.metal(mu, n, k), abs=1e-3)


def test_rough_gold_is_redder():
    """Light that meets several facets of gold is coloured each time: the lobe is redder than one reflection."""
    n, k, _ = GOLD  # by wavelength, so the last band is red
    curves = table(0.8, n, k)
    lobe = curves[1:4] / curves[3]
    once = np.array(fresnel.metal(1.0, n, k))
    assert lobe[0] < once[0] / once[2]
    assert lobe[1] < once[1] / once[2]


def test_below_the_horizon():
    below, curves = (0.6, 0.0, -0.8), table(0.3, *SILVER[:2])
    assert metal.evaluate(below, direction(0.5), *SILVER[:2], 0.3, curves, 1) == (0.0, 0.0, 0.0)
    assert metal.pdf(direction(0.5), below, *SILVER[:2], 0.3, curves, 1) == 0.0
    assert metal.sample(below, *SILVER[:2], 0.3, curves, 1, 0.5, 0.5, 0.5)[1] == (0.0, 0.0, 0.0)
