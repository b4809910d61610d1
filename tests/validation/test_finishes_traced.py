"""Finishes in a set: glossy ground, polished and rough metal, cloth, traced in an even surround and under a head.

By reciprocity (Helmholtz) a face seen at an angle in a room of luminance 1 shows what it returns of all the light that
comes from that angle; a small receptor over an endless plane of it receives π times what it returns of diffuse light.
Sources stand beside the values. Standard errors and sigmas: see agreement.py.
"""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import pytest
from slab_stages import PENCIL, layers

from agreement import agrees, illuminance, seen_luminance
from quadrature import panels
from stages import Bench
from throughlight.stage.frames import facing
from throughlight.stage.losses import gloss_curve, metal_curve
from throughlight.trace.expose import FILM
from throughlight.trace.tables import Region, ShapeKind, SurfaceKind

FRONTAL = facing((0.0, 0.0, 0.0), (0.0, 0.0, 1.0))
BANDS = ("red", "green", "blue")
_TABLE = 1e-3  # a compensation's table is straight between nodes and made by a lattice of points
EXACT = 1e-9


class Finished(Bench):
    """A bench with one thing of a finish, perhaps beside a white ball that light gets through.

    `curve` is the finish's table of losses, if it has one.
    """

    def __init__(self, kind, sizes, reflectance=0.0, curve=None, beside=False, **finish):
        super().__init__()
        if beside:
            wax = self.medium(200.0, 0.0, 0.0, 1.4)
            self.body(ShapeKind.SPHERE, (0.0, 0.3, 0.25), FRONTAL, (0.2, 0, 0), wax, Region.OTHER)
        self.curve = np.zeros(0) if curve is None else curve
        part = self.part(Region.SUBJECT, reflectance, lost=int(self.curve.size > 0), **finish)
        self.shape(kind, (0, 0, 0), FRONTAL, sizes, part)

    def stage(self, *where, **how):
        return super().stage(*where, **how)._replace(curves=np.concatenate([[0.0], self.curve]))


def plane(**finish):
    """Return a bench with an endless face of this finish at z = 0."""
    return Finished(ShapeKind.RECTANGLE, (1000.0, 1000.0, 0.0), **finish)


def under_a_hemisphere(**finish):
    """Return a stage with such a face under a head that fills its hemisphere, looked at along the normal."""
    bench = plane(**finish)
    bench.head(ShapeKind.DISC, (0, 0, 0.52), (0, 0, 0), (1000.0, 0, 0))
    return bench.stage((0, 0, 0.51), (0, 0, 0), **PENCIL)


def at_angle(bench, mu, paths=1024):
    """Return the luminance of a plane seen at the cosine mu in a room of luminance 1."""
    where = (math.sqrt(1.0 - mu * mu), 0.0, mu)
    return seen_luminance(bench.stage(where, (0, 0, 0), room=1.0, **PENCIL), Region.SUBJECT, paths)


def of_diffuse_light(bench, paths=1024):
    """Return what an endless plane returns of diffuse light: E/π on a receptor that faces it in a room of 1."""
    value, error = illuminance(bench, (0, 0, 0.01), (0, 0, 0), paths, room=1.0)
    return value / math.pi, error / math.pi


def of_ball(bench, paths=256):
    stage = bench.stage((0.0, 0.1, 0.5), room=1.0, pupil=0.06, focus=1e4, half_width=1e-3, half_height=1e-3)
    return seen_luminance(stage, Region.SUBJECT, paths)


# A matte ground under a polished skin of n = 1.5: of light along the normal and of diffuse light (Saunderson 1942,
# JOSA 32, with k1 = F and k2 = R_int; closed form, six decimals).
SAUNDERSON = {0.18: (0.118139, 0.165703), 0.5: (0.316071, 0.352959), 0.9: (0.792786, 0.803962)}
GLOSS = {"surface": SurfaceKind.GLOSS, "n": 1.5}


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
    agrees(at_angle(bench, mu), 1.0, _TABLE if alpha > 0.0 else 0.0)


@pytest.mark.parametrize("alpha", [0.0, 0.2, 0.5])
def test_white_glossy_ball_cannot_be_seen(alpha):
    finish = {"curve": gloss_curve(1.5, alpha), "reflectance": 1.0, "alpha": alpha, **GLOSS}
    agrees(of_ball(Finished(ShapeKind.SPHERE, (0.05, 0.0, 0.0), **finish)), 1.0, _TABLE if alpha > 0.0 else 0.0)


# n, k and R0 = ((n − 1)² + k²)/((n + 1)² + k²) at 650, 550, 450 nm. Silver and gold: Johnson and Christy 1972,
# aluminium: Rakić 1995, as tabulated by the package refractiveindex 1.3.1; five decimals.
METALS = {
    "silver": ((0.05222, 0.05958, 0.04000), (4.4094, 3.5974, 2.6484), (0.98983, 0.98305, 0.98024)),
    "aluminium": ((1.55803, 1.01519, 0.63324), (7.7124, 6.6273, 5.4544), (0.90561, 0.91537, 0.92186)),
    "gold": ((0.15557, 0.42415, 1.38309), (3.6024, 2.4721, 1.9155), (0.95652, 0.79155, 0.40819)),
}


def metal(n, k, alpha=0.0):
    """Return the keys of a metal."""
    index = {
        f"{letter}_{band}": v for letter, three in (("n", n), ("k", k)) for band, v in zip(BANDS, three, strict=True)
    }
    return {"surface": SurfaceKind.METAL, "alpha": alpha, **index}


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
PERFECT = ((0.0, 0.0, 0.0), (1.0, 1.0, 1.0))  # n = 0: all is reflected at every angle


@pytest.mark.parametrize("alpha", ONCE)
@pytest.mark.parametrize(("place", "mu"), list(enumerate((1.0, 0.7, 0.4))))
def test_perfect_rough_metal_without_second_facets_walter_2007(alpha, place, mu):
    agrees(at_angle(plane(**metal(*PERFECT, alpha)), mu, 2048), ONCE[alpha][place], 2.5e-5)


@pytest.mark.parametrize("alpha", ONCE)
@pytest.mark.parametrize("mu", [1.0, 0.7, 0.4])
def test_perfect_rough_metal_returns_everything(alpha, mu):
    bench = plane(curve=metal_curve(alpha, *PERFECT), **metal(*PERFECT, alpha))
    agrees(at_angle(bench, mu), 1.0, _TABLE)


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
        agrees((mean[band], error[band]), first + again, _TABLE)
        assert first < mean[band] < fresnel(np.ones(1), n[band], k[band])[0] + _TABLE


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


def _sheet_of_all():
    """Return the keys of a spreading sheet that loses nothing."""
    keys = {f"{what}_{band}": value for what, value in (("straight", 0.3), ("through", 0.4)) for band in BANDS}
    return {"surface": SurfaceKind.SHEET, "reflectance": 0.3, "n": 1.0, "spread": 1.0, **keys}


LOSSLESS = {
    "matte": {"reflectance": 1.0},
    "gloss": {"reflectance": 1.0, **GLOSS},
    "rough gloss": {"reflectance": 1.0, "alpha": 0.4, "curve": gloss_curve(1.5, 0.4), **GLOSS},
    "metal": metal(*PERFECT),
    "rough metal": {"curve": metal_curve(0.4, *PERFECT), **metal(*PERFECT, 0.4)},
    "sheet": _sheet_of_all(),
}


@pytest.mark.parametrize("mu", [1.0, 0.3])
@pytest.mark.parametrize("name", LOSSLESS)
def test_white_face_beside_a_white_body_cannot_be_seen(name, mu):
    """Bounces that are guided toward a translucent body, and those that are not, make up the same room."""
    agrees(at_angle(plane(beside=True, **LOSSLESS[name]), mu, 4096), 1.0, _TABLE if "rough" in name else 0.0)
