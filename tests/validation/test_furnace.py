"""Light kept: sets whose every luminance is known because nothing is lost.

A furnace is a surround of luminance 1 on all sides: what returns all light cannot be told from it, and a convex matte
body of reflectance ρ shows ρ. A hollow body of reflectance ρ with a lamp of Φ lumens inside is an integrating sphere:
each lumen meets a wall, the share ρ of it another, so that the walls receive Φ/(A·(1 − ρ)) on the average. In a sphere
every two elements exchange alike (dF = dA/A), and the indirect part Φ/A·ρ/(1 − ρ) is the same at every place. The cube
is that of CIE 171:2006, 5.8 (4 m, 10 000 lm; the figures are recomputed from the formula, and three of them are listed
as 130.21, 208.33 and 520.83 lx in a public table of that test). Standard errors and sigmas: see agreement.py.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import integrate

from agreement import REPLICATES, agrees, illuminance, seen_luminance
from stages import LUMINANCE, Bench, mean_and_error, measure
from throughlight.stage.frames import facing
from throughlight.trace.driver import Target
from throughlight.trace.expose import FILM, FRONT
from throughlight.trace.tables import Region, ShapeKind, SurfaceKind

ASKEW = facing((0.0, 0.0, 0.0), (0.3, 0.5, 1.0), 0.4)
SIZES = {
    ShapeKind.RECTANGLE: (0.05, 0.04, 0.0),
    ShapeKind.DISC: (0.05, 0.0, 0.0),
    ShapeKind.BOX: (0.05, 0.03, 0.02),
    ShapeKind.ROUND: (0.05, 0.0, 0.01),
    ShapeKind.SPHERE: (0.05, 0.0, 0.0),
    ShapeKind.TUBE: (0.02, 0.0, 0.05),
}


def seen_in_furnace(bench, paths=256, across=0.06):
    """Return the luminance that the subject shows in a surround of luminance 1.

    A wide lens focused far behind the subject looks at all of it with parallel rays, so that no cos⁴ comes in.
    """
    stage = bench.stage((0.0, 0.1, 0.5), room=1.0, pupil=across, focus=1e4, half_width=1e-3, half_height=1e-3)
    return seen_luminance(stage, Region.SUBJECT, paths)


@pytest.mark.parametrize("kind", [kind for kind in SIZES if kind != ShapeKind.TUBE])
@pytest.mark.parametrize("reflectance", [0.18, 1.0])
def test_convex_matte_body_shows_its_reflectance(kind, reflectance):
    """Each path bounces once and finds the surround: no noise at all."""
    bench = Bench()
    bench.shape(kind, (0, 0, 0), ASKEW, SIZES[kind], bench.part(Region.SUBJECT, reflectance))
    assert seen_in_furnace(bench) == pytest.approx((reflectance, 0.0), abs=1e-12)


def test_heap_of_white_things_cannot_be_seen():
    """Open tubes, boxes and balls of reflectance 1 side by side light each other and show 1 everywhere."""
    bench = Bench()
    for i, (kind, sizes) in enumerate(SIZES.items()):
        place = (0.1 * (i % 3 - 1), 0.1 * (i // 3 - 0.5), 0.01 * i)
        bench.shape(kind, place, ASKEW, sizes, bench.part(Region.SUBJECT, 1.0))
    assert seen_in_furnace(bench, 1024, across=0.2) == pytest.approx((1.0, 0.0), abs=1e-12)


def test_bare_cloth_shows_its_reflectance():
    """A cloth whose pile has no thickness is a matte face."""
    bench = Bench()
    part = bench.part(Region.SUBJECT, 0.4, SurfaceKind.CLOTH, pile=0.0)
    bench.shape(ShapeKind.RECTANGLE, (0, 0, 0), ASKEW, SIZES[ShapeKind.RECTANGLE], part)
    agrees(seen_in_furnace(bench), 0.4)


def single_scattering_albedo(cosine, pile):
    """Return what a layer of white, evenly scattering fibres over a white ground gives back at the first scattering.

    ½·∫ µ/(µ + µ₀)·(1 − exp(−τ·(1/µ + 1/µ₀))) dµ from the layer, exp(−τ/µ₀)·2·∫ µ·exp(−τ/µ) dµ by the ground
    (Chandrasekhar 1950, Radiative Transfer, first order; from memory).
    """

    def layer(mu):
        return 0.5 * mu / (mu + cosine) * -math.expm1(-pile * (1 / mu + 1 / cosine))

    def ground(mu):
        return 2 * mu * math.exp(-pile * (1 / mu + 1 / cosine))

    return integrate.quad(layer, 0, 1)[0] + integrate.quad(ground, 0, 1)[0]


@pytest.mark.parametrize("angle", [0.0, 60.0, 80.0])
@pytest.mark.parametrize("pile", [0.02, 0.3, 3.0])
def test_white_cloth_gives_back_what_scatters_once(pile, angle):
    """Allowed besides: 5e-5, what the ground sends through a deep pile, where hardly any path looks for it."""
    bench = Bench()
    part = bench.part(Region.SUBJECT, 1.0, SurfaceKind.CLOTH, pile=pile, sheen_red=1.0, sheen_green=1.0, sheen_blue=1.0)
    cosine, sine = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    bench.shape(ShapeKind.RECTANGLE, (0, 0, 0), facing((0, 0, 0), (sine, 0, cosine)), (0.05, 0.04, 0.0), part)
    stage = bench.stage((0.0, 0.0, 0.5), room=1.0, half_width=1e-4, half_height=1e-4)
    agrees(seen_luminance(stage, Region.SUBJECT), single_scattering_albedo(cosine, pile), 5e-5)


def lossless_body(kind, n, alpha, scatter, g):
    """Return a bench with one translucent body that absorbs nothing."""
    bench = Bench()
    bench.body(kind, (0, 0, 0), ASKEW, SIZES[kind], bench.medium(scatter, 0.0, g, n, alpha))
    return bench


BODIES = (ShapeKind.BOX, ShapeKind.ROUND, ShapeKind.SPHERE)


@pytest.mark.parametrize("kind", BODIES)
@pytest.mark.parametrize("n", [1.0, 1.33, 1.5])
def test_polished_lossless_body_cannot_be_seen(kind, n):
    """Whatever Fresnel reflection and scattering do: equal bands carry their whole weight out again."""
    measured = seen_in_furnace(lossless_body(kind, n, 0.0, 300.0, 0.6), 64)
    assert measured == pytest.approx((1.0, 0.0), abs=1e-9)


@pytest.mark.parametrize("kind", BODIES)
def test_lossless_body_of_unequal_bands_cannot_be_seen(kind):
    """Bands that scatter differently share one walk; the balance weight makes each right on the average."""
    agrees(seen_in_furnace(lossless_body(kind, 1.4, 0.0, (100.0, 200.0, 400.0), 0.3), 256), 1.0)


@pytest.mark.parametrize("kind", BODIES)
@pytest.mark.parametrize(("alpha", "bound"), [(0.1, 3.12 * 0.0433), (0.3, 3.12 * 0.1912)])
def test_rough_lossless_body_darkens_within_bounds(kind, alpha, bound):
    """A rough boundary is traced with one reflection off its facets; light that would meet a second one is lost.

    A mirror of such facets loses at most 4.33 % at α = 0.1 and 19.12 % at α = 0.3 (directional albedo of GGX with
    separable Smith masking, smallest at µ = 0.4 of the tabulated 1, 0.7 and 0.4; by quadrature). Light inside a
    lossless body of n = 1.4 meets the boundary 1/(1 − 0.528985) = 2.12 times (internal diffuse reflectance by Fresnel),
    and once from outside. Nothing may be gained.
    """
    value, error = seen_in_furnace(lossless_body(kind, 1.4, alpha, 300.0, 0.6), 256)
    print(f"measured {value:.6f} ± {error:.2g}, expected {1 - bound:.4f} to 1")
    assert 1.0 - bound < value < 1.0 + 4 * error


def test_rough_lossless_body_darkens_less_when_smoother():
    bodies = [lossless_body(ShapeKind.BOX, 1.4, alpha, 300.0, 0.6) for alpha in (0.3, 0.1, 0.02)]
    values = [seen_in_furnace(body)[0] for body in bodies]
    assert values[0] < values[1] < values[2] < 1.001
    assert values[2] > 0.98


def sphere_with_lamp(reflectance):
    """Return a hollow sphere of radius 1 with a lamp of π lumens off its middle."""
    bench = Bench()
    inside = bench.part(reflectance=0.0, back=reflectance)
    bench.shape(ShapeKind.SPHERE, (0, 0, 0), np.eye(3), (1.0, 0, 0), inside)
    radius = 0.002
    bench.head(ShapeKind.DISC, (0.3, 0.1, 0.0), (1.0, 0.5, 0.3), (radius, 0, 0), 1 / (math.pi * radius**2))
    return bench


@pytest.mark.parametrize("reflectance", [0.1, 0.5, 0.8, 0.95])
@pytest.mark.parametrize("place", [(0.0, 0.0, -1.0), (0.6, 0.8, 0.0), (-0.48, 0.6, 0.64)])
def test_integrating_sphere_is_lit_evenly(reflectance, place):
    """Indirect light at three places of the wall: Φ/A·ρ/(1 − ρ)."""
    inward = tuple((1.0 - 1e-6) * x for x in place)
    stage = sphere_with_lamp(reflectance).stage(inward, (0, 0, 0), half_width=1e-9, half_height=1e-9)
    tally = measure(stage, Target(FRONT, 1, 1, np.zeros(1, np.int64), 15), 256, replicates=REPLICATES)
    indirect = tally.routes[:, :, 1:].sum(axis=(1, 2)) @ LUMINANCE / tally.rays
    agrees(mean_and_error(indirect), 0.25 * reflectance / (1 - reflectance))


def cube_with_lamp(reflectance, lumens=1e4):
    """Return a hollow cube of 4 m with a lamp of six small faces in its middle, alike for all six walls."""
    bench = Bench()
    bench.shape(ShapeKind.BOX, (0, 0, 0), np.eye(3), (2.0, 2.0, 2.0), bench.part(Region.BACKDROP, back=reflectance))
    radius, out = 0.002, 0.004
    luminance = lumens / (6 * math.pi * math.pi * radius**2)
    for axis in np.concatenate([np.eye(3), -np.eye(3)]):
        bench.head(ShapeKind.DISC, tuple(out * axis), tuple(2 * out * axis), (radius, 0, 0), luminance)
    return bench


@pytest.mark.parametrize(
    ("reflectance", "total"),
    [(0.2, 130.2083), (0.5, 208.3333), (0.8, 520.8333), (0.05, 104.1667 + 5.4825), (0.95, 104.1667 + 1979.1667)],
)
def test_mean_over_the_walls_of_a_cube_cie_171_2006_5_8(reflectance, total):
    """A camera at one wall frames the opposite one; each cell's cos⁴ is divided out, so that the mean is over area.

    The lamp itself, which hides 1e-6 of the wall, is left out.
    """
    stage = cube_with_lamp(reflectance).stage((0, 0, -1.9), (0, 0, 2.0), half_width=2.0, half_height=2.0)
    n = 64
    tally = measure(stage, Target(FILM, n, n, np.arange(n * n), 1 << Region.BACKDROP), 512, replicates=REPLICATES)
    middle = ((np.arange(n) + 0.5) / n - 0.5) * 4.0
    falloff = (3.9**2 / (3.9**2 + middle[:, None] ** 2 + middle[None, :] ** 2)) ** 2
    luminance = (tally.cells.sum(axis=2) @ LUMINANCE / falloff.ravel()).sum(axis=1) / tally.rays
    # Falloff and light change within a cell of 6 cm seen from 3.9 m: under 1e-4.
    agrees(mean_and_error(math.pi / reflectance * luminance), total, reference_error=1e-4 * total)


def test_light_between_two_planes():
    """Between planes of 90 % and 18 % the lower one receives 1/(1 − 0.9·0.18) = 1.1933174224 times what is sent to it.

    A lamp of π lumens half way up shines down; the light on the lower plane is summed over rings r = h·tan θ by
    sixteen Gauss–Legendre nodes in θ (their error, by the direct part, whose sum is π exactly: under 1e-6).
    """
    height, radius = 0.5, 0.002
    nodes, weights = np.polynomial.legendre.leggauss(16)
    angles, weights = (nodes + 1) * math.pi / 4, weights * math.pi / 4
    total, variance = 0.0, 0.0
    for i, (angle, weight) in enumerate(zip(angles, weights, strict=True)):
        bench = Bench()
        bench.rectangle((0, 0, 0), (0, 0, 1), 2e3, 2e3, reflectance=0.18)
        bench.rectangle((0, 0, 1), (0, 0, 0), 2e3, 2e3, reflectance=0.9)
        bench.head(ShapeKind.DISC, (0, 0, height), (0, 0, 0), (radius, 0, 0), 1 / (math.pi * radius**2))
        r = height * math.tan(angle)
        value, error = illuminance(bench, (r, 0, 1e-6), (r, 0, 1.0), paths=512, seed=i + 1)
        ring = 2 * math.pi * r * height / math.cos(angle) ** 2 * weight
        total, variance = total + ring * value, variance + (ring * error) ** 2
    agrees((total, math.sqrt(variance)), math.pi * 1.1933174224)
