"""Finishes in a set: glossy ground, polished and rough metal, cloth, traced in an even surround and under a head.

How a face is made to show what it returns: see finish_stages.py. Sources stand beside the values. Standard errors and
sigmas: see agreement.py.
"""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import pytest
from finish_stages import (
    BANDS,
    GLOSS,
    PERFECT,
    TABLE,
    Finished,
    at_angle,
    metal,
    of_ball,
    of_diffuse_light,
    plane,
    under_a_hemisphere,
)
from slab_stages import PENCIL, layers

from agreement import agrees, seen_luminance
from quadrature import panels
from throughlight.stage.losses import gloss_curve, metal_curve
from throughlight.trace.expose import FILM
from throughlight.trace.tables import Region, ShapeKind, SurfaceKind

EXACT = 1e-9


# A matte ground under a polished skin of n = 1.5: of light along the normal and of diffuse light (Saunderson 1942,
# JOSA 32, with k1 = F and k2 = R_int; closed form, six decimals).
SAUNDERSON = {0.18: (0.118139, 0.165703), 0.5: (0.316071, 0.352959), 0.9: (0.792786, 0.803962)}


@pytest.mark.parametrize("rho", SAUNDERSON)
def test_gloss_along_the_normal_saunderson_1942(rho):
    agrees(at_angle(plane(reflectance=rho, **GLOSS), 1.0, 4096), SAUNDERSON[rho][0], 1e-6)


@pytest.mark.parametrize("rho", SAUNDERSON)
def test_gloss_in_diffuse_light_saunderson_1942(rho):
    agrees(of_diffuse_light(plane(reflectance=rho, **GLOSS), 4096), SAUNDERSON[rho][1], 1e-6)


@pytest.mark.parametrize("rho", SAUNDERSON)
def test_gloss_under_a_head_that_fills_the_hemisphere_saunderson_1942(rho):
    """The head is found by the mirrored ray, and asked for and found by chance by the spread one."""
    stage = under_a_hemisphere(reflectance=rho, **GLOSS)
    agrees(seen_luminance(stage, Region.SUBJECT, 4096), SAUNDERSON[rho][0], 2e-6)


@pytest.mark.parametrize("mu", [1.0, 0.5, math.cos(math.radians(80.0))])
@pytest.mark.parametrize("alpha", [0.0, 0.1, 0.3, 0.6])
def test_white_ground_under_any_skin_returns_everything(alpha, mu):
    bench = plane(curve=gloss_curve(1.5, alpha), reflectance=1.0, alpha=alpha, **GLOSS)
    agrees(at_angle(bench, mu), 1.0, TABLE if alpha > 0.0 else 0.0)


@pytest.mark.parametrize("alpha", [0.0, 0.2, 0.5])
def test_white_glossy_ball_cannot_be_seen(alpha):
    finish = {"curve": gloss_curve(1.5, alpha), "reflectance": 1.0, "alpha": alpha, **GLOSS}
    agrees(of_ball(Finished(ShapeKind.SPHERE, (0.05, 0.0, 0.0), **finish)), 1.0, TABLE if alpha > 0.0 else 0.0)


# n, k and R0 = ((n − 1)² + k²)/((n + 1)² + k²) at 650, 550, 450 nm. Silver and gold: Johnson and Christy 1972,
# aluminium: Rakić 1995, as tabulated by the package refractiveindex 1.3.1; five decimals.
METALS = {
    "silver": ((0.05222, 0.05958, 0.04000), (4.4094, 3.5974, 2.6484), (0.98983, 0.98305, 0.98024)),
    "aluminium": ((1.55803, 1.01519, 0.63324), (7.7124, 6.6273, 5.4544), (0.90561, 0.91537, 0.92186)),
    "gold": ((0.15557, 0.42415, 1.38309), (3.6024, 2.4721, 1.9155), (0.95652, 0.79155, 0.40819)),
}


def fresnel(mu, n, k):
    """Return a metal's reflectance at cosines mu: s and p with a complex cosine (Born and Wolf 1999, §14.2)."""
    index = complex(n, k)
    bent = np.sqrt(1.0 - (1.0 - mu * mu) / index**2)
    s, p = (mu - index * bent) / (mu + index * bent), (index * mu - bent) / (index * mu + bent)
    return (np.abs(s) ** 2 + np.abs(p) ** 2) / 2.0


def by_band(bench, mu, paths):
    """Return luminance and standard error by band of a plane seen at the cosine mu in a room of luminance 1."""
    where = (math.sqrt(1.0 - mu * mu), 0.0, mu)
    mean, error = layers(bench.stage(where, (0, 0, 0), room=1.0, **PENCIL), FILM, 64 * paths)
    return mean[0], error[0]


@pytest.mark.parametrize("name", METALS)
def test_polished_metal_along_the_normal_johnson_christy_1972_rakic_1995(name):
    n, k, expected = METALS[name]
    mean, error = by_band(plane(**metal(n, k)), 1.0, 64)
    assert error == pytest.approx(np.zeros(3), abs=EXACT)  # each path is the same
    assert mean == pytest.approx(expected, abs=1.5e-5)  # five decimals of index and of R0


# Aluminium and silver at single wavelengths, by polarisation: closed form in double precision, an independent program.
OBLIQUE = [
    (0.06, 3.59, 45, 0.988085, 0.976312),
    (0.06, 3.59, 60, 0.991637, 0.970037),
    (0.06, 3.59, 80, 0.997111, 0.968907),
    (0.958, 6.69, 45, 0.943858, 0.890867),
    (0.958, 6.69, 60, 0.960070, 0.853774),
    (0.958, 6.69, 80, 0.985980, 0.749732),
]


@pytest.mark.parametrize(("n", "k", "degrees", "s", "p"), OBLIQUE)
def test_polished_metal_at_an_angle(n, k, degrees, s, p):
    mu = math.cos(math.radians(degrees))
    value, error = at_angle(plane(**metal((n, n, n), (k, k, k))), mu, 64)
    assert error < EXACT
    assert value == pytest.approx((s + p) / 2.0, abs=1e-6)


@pytest.mark.parametrize("name", METALS)
def test_polished_metal_in_diffuse_light(name):
    """2∫F·µ dµ, by Gauss–Legendre quadrature."""
    n, k, _ = METALS[name]
    mu, w = panels(0.0, 1.0, 4)
    for band in range(3):
        n_one, k_one = (n[band],) * 3, (k[band],) * 3
        expected = float(np.sum(2.0 * mu * w * fresnel(mu, n[band], k[band])))
        agrees(of_diffuse_light(plane(**metal(n_one, k_one)), 1024), expected, 1e-9)


# Share of light that facets of reflectance 1 send on at the first meeting, by cosine of incidence 1, .7, .4: GGX with
# separable Smith masking (Walter, Marschner, Li and Torrance 2007), by quadrature of 4000 × 800 nodes, good for 2e-5.
ONCE = {
    0.1: (0.98830, 0.98141, 0.95667),
    0.3: (0.87736, 0.84352, 0.80878),
    0.5: (0.68785, 0.67845, 0.69689),
    1.0: (0.30685, 0.36100, 0.43836),
}


@pytest.mark.parametrize("alpha", ONCE)
@pytest.mark.parametrize(("place", "mu"), list(enumerate((1.0, 0.7, 0.4))))
def test_perfect_rough_metal_without_second_facets_walter_2007(alpha, place, mu):
    agrees(at_angle(plane(**metal(*PERFECT, alpha)), mu, 2048), ONCE[alpha][place], 2.5e-5)


@pytest.mark.parametrize("alpha", ONCE)
@pytest.mark.parametrize("mu", [1.0, 0.7, 0.4])
def test_perfect_rough_metal_returns_everything(alpha, mu):
    bench = plane(curve=metal_curve(alpha, *PERFECT), **metal(*PERFECT, alpha))
    agrees(at_angle(bench, mu), 1.0, TABLE)


def test_perfect_rough_metal_under_a_head_that_fills_the_hemisphere():
    """As above, the head being asked for and found by chance."""
    stage = under_a_hemisphere(**metal(*PERFECT, 0.3))
    agrees(seen_luminance(stage, Region.SUBJECT, 4096), ONCE[0.3][0], 3e-5)


def _unhidden(mu, alpha):
    """Smith's G₁ for GGX (Walter et al. 2007, eq. 34)."""
    return 2.0 / (1.0 + np.sqrt(1.0 + alpha**2 * (1.0 - mu * mu) / (mu * mu)))


def sent_on_once(mu, alpha, reflectance):
    """Return what facets send on at the first meeting: ∫ F·D·G₁(i)·G₁(o)/(4·cos i) dω_o, for one cosine of incidence.

    Nodes stand evenly over the hemisphere of outgoing directions (Walter et al. 2007, eq. 20 and 33).
    """
    z, wz = panels(0.0, 1.0, 12)
    phi, wp = panels(0.0, math.pi, 8)
    z, phi = np.meshgrid(z, phi, indexing="ij")
    wi = np.array([math.sqrt(1.0 - mu * mu), 0.0, mu])
    r = np.sqrt(1.0 - z * z)
    h = np.stack([wi[0] + r * np.cos(phi), wi[1] + r * np.sin(phi), wi[2] + z])
    h /= np.linalg.norm(h, axis=0)
    facets = alpha**2 / (math.pi * (h[2] ** 2 * (alpha**2 - 1.0) + 1.0) ** 2)
    c = np.tensordot(wi, h, 1)
    value = reflectance(c) * facets * _unhidden(mu, alpha) * _unhidden(z, alpha) / (4.0 * mu)
    return float(2.0 * wz @ value @ wp)


@cache
def mean_loss(alpha):
    """Return 2∫l·µ dµ of the loss l(µ) to second facets."""
    mu, w = panels(0.0, 1.0, 3)
    return sum(2.0 * m * one * (1.0 - sent_on_once(m, alpha, np.ones_like)) for m, one in zip(mu, w, strict=True))


def test_quadrature_of_the_lobe_is_that_of_the_table():
    for alpha in (0.3, 0.5, 1.0):
        for mu, expected in zip((1.0, 0.7, 0.4), ONCE[alpha], strict=True):
            assert sent_on_once(mu, alpha, np.ones_like) == pytest.approx(expected, abs=3e-5)


@pytest.mark.parametrize("mu", [1.0, 0.5])
@pytest.mark.parametrize("name", METALS)
def test_rough_metal_keeps_what_second_facets_return(name, mu):
    """α = .5 at an angle in the room: first facets by quadrature, and l·F̄²·(1 − L)/(1 − F̄·L) of later ones.

    That is Kulla and Conty 2017, "Revisiting Physically Based Shading at Imageworks", with the first two meetings'
    Fresnel shares kept apart. In all it lies between what the first facets send on and what a polished face does.
    """
    n, k, _ = METALS[name]
    alpha = 0.5
    bench = plane(curve=metal_curve(alpha, n, k), **metal(n, k, alpha))
    mean, error = by_band(bench, mu, 2048)
    once = sent_on_once(mu, alpha, np.ones_like)
    grid, w = panels(0.0, 1.0, 4)
    for band in range(3):
        diffuse = float(np.sum(2.0 * grid * w * fresnel(grid, n[band], k[band])))
        loss = mean_loss(alpha)
        again = (1.0 - once) * diffuse**2 * (1.0 - loss) / (1.0 - diffuse * loss)
        first = sent_on_once(mu, alpha, lambda c, band=band: fresnel(c, n[band], k[band]))
        agrees((mean[band], error[band]), first + again, TABLE)
        assert first < mean[band] < fresnel(np.ones(1), n[band], k[band])[0] + TABLE


@pytest.mark.parametrize("pile", [0.02, 0.1, 0.5, 3.0])
@pytest.mark.parametrize("sheen", [0.2, 1.0])
def test_cloth_gives_back_no_more_than_it_gets(pile, sheen):
    """White ground, fibres that take nothing or most away: at no angle more than the room's 1."""
    fibres = {f"sheen_{band}": sheen for band in BANDS}
    bench = plane(reflectance=1.0, surface=SurfaceKind.CLOTH, pile=pile, **fibres)
    for degrees in (0.0, 45.0, 75.0, 85.0, 89.0):
        value, error = at_angle(bench, math.cos(math.radians(degrees)))
        print(f"{degrees}°: measured {value:.5f} ± {error:.1g}, expected at most 1")
        assert 0.0 < value < 1.0 + 4.0 * error
    value, error = of_diffuse_light(bench, 512)
    assert value < 1.0 + 4.0 * error
