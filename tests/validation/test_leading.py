"""Leading walks toward the light: the field that leads, and the densities that make up for it.

The field is checked against the diffusion equation's own solution in an endless slab; scattering against its density;
and what a led walk brings against adding–doubling, wherever it is led.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats
from slab_rows import row
from slab_stages import agree, endless_slab, layers

from chi2 import Sphere
from doors import loop
from stages import Bench
from throughlight.optics import phase
from throughlight.stage.frames import facing
from throughlight.trace import glow, lead
from throughlight.trace.expose import FILM
from throughlight.trace.sampler import start
from throughlight.trace.tables import ShapeKind

PENCIL = {"half_width": 1e-9, "half_height": 1e-9}


@pytest.mark.parametrize(("thick", "absorb"), [(0.02, 20.0), (0.05, 5.0), (0.02, 0.0)])
def test_slope_in_an_endless_slab(thick, absorb):
    """Lit from +z alone φ is sinh(κy) + κ·z_b·cosh(κy), y from the dark skin: κ² = σa/D, z_b = 2·A·D.

    For n = 1.4, R = 0.529 by the fit, hence A = 3.25 (Egan and Hilgeman 1979; worked out by hand).
    """
    spread = 1.0 / (3.0 * (200.0 + absorb))
    cell = np.array([1e3, 1e3, thick / lead.CELLS])
    light = np.zeros((3, 2))
    light[2, 1] = 1.0
    bright = glow.diffuse(np.ones((lead.CELLS,) * 3, bool), cell, spread, absorb, light, 1.4)
    y = (np.arange(lead.CELLS) + 0.5) * cell[2]
    z_b = 2.0 * 3.25 * spread
    kappa = np.sqrt(absorb / spread)
    exact = y + z_b if absorb == 0.0 else np.sinh(kappa * y) + kappa * z_b * np.cosh(kappa * y)
    middle = bright[lead.CELLS // 2, lead.CELLS // 2]
    assert np.diff(np.log(middle)) == pytest.approx(np.diff(np.log(exact)), rel=0.03)


@loop
def _scatter(s, free, before, g, n):
    out = np.empty((n, 3))
    state = start(7, 0, 0, 0)
    for i in range(n):
        out[i], state = lead.scatter(s, free, before, g, state)
    return out


@loop
def _density(s, free, before, g, directions):
    out = np.empty(len(directions))
    for i in range(len(directions)):
        d = (directions[i, 0], directions[i, 1], directions[i, 2])
        cosine = before[0] * d[0] + before[1] * d[1] + before[2] * d[2]
        out[i] = phase.evaluate(cosine, g) * lead.turning(s, free, g, before, d)
    return out


@pytest.mark.parametrize(("g", "s"), [(0.0, (0.2, 0.3, 0.8)), (0.8, (0.5, -0.5, -0.4)), (-0.4, (0.0, 0.0, 0.3))])
def test_led_scattering_is_spread_as_its_density(g, s):
    """The led density adds up to one, and directions are spread by it."""
    before, sphere = (0.0, 0.0, 1.0), Sphere(48, 32, 8)
    directions = _scatter(s, 1.0, before, g, 200_000)
    sphere.test(directions, _density(s, 1.0, before, g, sphere.nodes), tests=3, total=1.0)


def test_cells_inside_a_mesh():
    """Cells of a ball of triangles hold its volume, 4π/3·r³, but for half a cell's depth at its skin, by chance ±."""
    import trimesh

    ball = trimesh.creation.icosphere(4, 1.0)
    inside = glow._inside_mesh([ball.triangles], np.full(3, -1.0), np.full(3, 2.0 / lead.CELLS))
    assert inside.sum() * (2.0 / lead.CELLS) ** 3 == pytest.approx(ball.volume, rel=0.02)
    exact = np.zeros(1, [("kind", "i8"), ("sa", "f8")])
    exact[0] = (int(ShapeKind.SPHERE), 1.0)
    other = glow._inside_exact(exact[0], np.full(3, -1.0), np.full(3, 2.0 / lead.CELLS))
    assert (inside != other).mean() < 0.01


@pytest.mark.parametrize("astray", [1.0, -0.3], ids=["to the light", "away from it"])
@pytest.mark.parametrize(("n", "g", "thickness", "albedo"), [(1.4, 0.8, 20, 0.99), (1, 0.5, 5, 0.9)])
def test_led_walks_bring_what_adding_doubling_says(n, g, thickness, albedo, astray):
    """An even hemisphere behind a slab shows T·L along the normal (slab_rows.py), wherever walks are led."""
    bench = endless_slab(n, g, albedo * thickness, (1 - albedo) * thickness)
    bench.head(ShapeKind.DISC, (0, 0, -0.51), (0, 0, 0), (100.0, 0, 0))
    stage = glow.with_leads(bench.stage((0, 0, 0.51), (0, 0, 0), **PENCIL))
    assert stage.shapes["lead"][0] > 0
    slopes = stage.slopes * np.float32([astray, astray, astray, 1.0])
    mean, error = layers(stage._replace(slopes=slopes), FILM, 1 << 17)
    agree("T", mean[0].mean(), error[0].mean(), row(n, g, albedo, thickness).t_coll, 1e-4)


def _lit(kind, sizes, frame, alpha, room=0.0):
    bench = Bench()
    medium = bench.medium((900.0, 600.0, 400.0), (5.0, 20.0, 30.0), 0.7, 1.4, alpha)
    bench.body(kind, (0, 0, 0), frame, sizes, medium)
    bench.head(ShapeKind.DISC, (0.4, 0.0, -0.3), (0, 0, 0), (0.06, 0, 0))
    bench.head(ShapeKind.RECTANGLE, (-0.3, 0.2, -0.4), (0, 0, 0), (0.08, 0.05, 0))
    return bench.stage(half_width=0.008, half_height=0.008, room=room)


@pytest.mark.parametrize("alpha", [0.0, 0.3])
@pytest.mark.parametrize(("kind", "sizes"), [(ShapeKind.SPHERE, (0.012, 0, 0)), (ShapeKind.ROUND, (0.03, 0, 0.01))])
def test_led_walks_agree_with_plain_ones(kind, sizes, alpha):
    """Curved and tilted bodies, rough and polished, three bands: led and plain walks within four joint errors."""
    plain = _lit(kind, sizes, facing((0, 0, 0), (0.3, 0.2, 1.0)), alpha)
    led = glow.with_leads(plain)
    assert led.shapes["lead"][0] > 0
    (a, ea), (b, eb) = (layers(stage, FILM, 1 << 18) for stage in (plain, led))
    green = slice(1, 2)
    z = (a - b)[:2, green] / np.hypot(ea, eb)[:2, green]
    assert np.all(np.abs(z) < stats.norm.isf(0.5e-4)), z


def test_thin_bodies_and_bodies_in_even_light_are_not_led():
    """Where the matter is thin, or a room shines on it from all sides, leading is left out."""
    assert not glow.with_leads(_lit(ShapeKind.BOX, (0.03, 0.03, 0.002), np.eye(3), 0.3)).shapes["lead"].any()
    assert not glow.with_leads(_lit(ShapeKind.BOX, (0.03, 0.03, 0.01), np.eye(3), 0.3, room=1e3)).shapes["lead"].any()
