"""Smooth meshes: a turned ball against the exact one, and rounded edges in an even room.

A ball turned from a half circle of 2.5° steps, 192 facets round its axis, has its corners on the sphere and its facets
up to 1 − cos 1.25° = 2.4e-4 of a radius within it; its normals are those of the sphere. In a room of luminance 1 a ball
of clear, absorbing glass shows at the incidence θ

    L = F + (1 − F)²·t/(1 − F·t),   t = exp(−µa·2R·cos θ'),

all its inner reflections meeting the same F (the same angle), and over its disc, seen by parallel rays, 2∫L·sin θ·cos θ
dθ. Standard errors and sigmas: see agreement.py.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from agreement import REPLICATES, agrees
from quadrature import panels
from stages import LUMINANCE, Bench, mean_and_error, measure
from throughlight.setup import loads
from throughlight.stage.build import build
from throughlight.trace.driver import Target
from throughlight.trace.expose import FILM
from throughlight.trace.tables import Region, ShapeKind

RADIUS = 0.03
_MESH = 1e-3  # relative: four times the depth of the facets under the sphere, in radii

CAMERA = """\
[camera]
sensor = "36x24 mm"
focal = "100 mm"
f_number = 8
shutter = "1/100 s"
iso = 100
at = ["0 cm", "10 cm", "50 cm"]
"""
LAMP = """
[[head]]
face = { shape = "disc", diameter = "24 cm" }
at = ["10 cm", "5 cm", "-20 cm"]
energy = "100 J"
"""
STEPS = [math.radians(2.5 * i) for i in range(73)]
RIM = ", ".join(f'["{abs(30 * math.sin(t)):.9f} mm", "{-30 * math.cos(t):.9f} mm"]' for t in STEPS)
SHAPES = {"ball": '{ kind = "sphere", diameter = "60 mm" }', "turned": f'{{ kind = "revolve", profile = [{RIM}] }}'}
MATTER = {
    "clear glass": '{ reduced_scattering = "0 1/mm", absorption = ".002 .005 .02 1/mm", n = 1.5 }',
    "wax": '{ reduced_scattering = ".2 .3 .4 1/mm", absorption = ".001 .003 .02 1/mm", g = 0.6, n = 1.4 }',
    "frosted": '{ reduced_scattering = ".2 .3 .4 1/mm", absorption = ".001 .003 .02 1/mm", n = 1.4, roughness = 0.3 }',
}


def stage_of(shape, material, more="", room=0.0):
    """Return a stage with one subject seen by parallel rays, in a room of this luminance."""
    stage, _ = build(loads(f"{CAMERA}\n[subject]\nshape = {shape}\nmaterial = {material}\n{more}"))
    lens = Bench().stage((0.0, 0.1, 0.5), pupil=0.05, focus=1e4, half_width=1e-3, half_height=1e-3).lens
    return stage._replace(lens=lens, room=np.full(3, room))


def replicates(stage, paths):
    """Return the luminance of what is seen of the subject by replicate, after a look at what was lost on the way."""
    target = Target(FILM, 1, 1, np.zeros(1, np.int64), 1 << Region.SUBJECT)
    tally = measure(stage, target, paths, replicates=REPLICATES)
    assert tally.status == (0, 0, 0)
    return tally.cells.sum(axis=(1, 2)) @ LUMINANCE / tally.counts[:, 0, Region.SUBJECT]


def seen(stage, paths=512):
    """Return luminance and error of what is seen of the subject."""
    return mean_and_error(replicates(stage, paths))


def clear_ball(n, absorb):
    """Return the luminance of a clear ball in a room of 1 averaged over its disc, as above."""
    x, w = panels(0.0, 1.0, 8)
    sine = x * x * (3.0 - 2.0 * x)  # nodes crowded where Fresnel's root is
    weight = 6.0 * x * (1.0 - x) * w * 2.0 * sine
    cosine, inside = np.sqrt(1.0 - sine**2), np.sqrt(1.0 - (sine / n) ** 2)
    s, p = (cosine - n * inside) / (cosine + n * inside), (n * cosine - inside) / (n * cosine + inside)
    f, t = (s * s + p * p) / 2.0, np.exp(-absorb * 2.0 * RADIUS * inside)
    return float(np.sum(weight * (f + (1.0 - f) ** 2 * t / (1.0 - f * t))))


@pytest.mark.parametrize("shape", SHAPES)
def test_clear_ball_in_an_even_room(shape):
    """The closed form for the exact ball; for the turned one to the depth of its facets."""
    expected = float(LUMINANCE @ [clear_ball(1.5, absorb) for absorb in (2.0, 5.0, 20.0)])
    stage = stage_of(SHAPES[shape], MATTER["clear glass"], room=1.0)
    assert (stage.shapes[0]["kind"] == ShapeKind.MESH) == (shape == "turned")
    agrees(seen(stage, 4096), expected, _MESH * expected if shape == "turned" else 0.0)


@pytest.mark.parametrize("light", ["room", "lamp"])
@pytest.mark.parametrize("matter", MATTER)
def test_turned_ball_is_the_exact_one(matter, light):
    """Lit by the room or from behind by a wide disc.

    Both draw the same numbers, so that their replicates are compared pair by pair, with the pairs' own standard error.
    """
    more, room = (LAMP, 0.0) if light == "lamp" else ("", 1.0)
    paths = 4096 if light == "lamp" else 1024
    exact = replicates(stage_of(SHAPES["ball"], MATTER[matter], more, room), paths)
    turned = replicates(stage_of(SHAPES["turned"], MATTER[matter], more, room), paths)
    alone = mean_and_error(exact / exact.mean())[1]
    print(f"exact {exact.mean():.6g} ± {alone:.2%}, difference {mean_and_error((turned - exact) / exact.mean())}")
    agrees(mean_and_error(1.0 + (turned - exact) / exact.mean()), 1.0, _MESH)


LOSSLESS = '{ reduced_scattering = ".3 1/mm", absorption = "0 1/mm", g = 0.5, n = 1.5 ROUGH }'
CLEAR = '{ reduced_scattering = "0 1/mm", absorption = "0 1/mm", n = 1.5 ROUGH }'
OUTLINES = {
    "rectangle": 'shape = "rectangle", width = "60 mm", height = "50 mm"',
    "disc": 'shape = "disc", diameter = "60 mm"',
    "polygon": 'shape = "polygon", points = [["-3 cm", "-2 cm"], ["3 cm", "-2.5 cm"], ["1 cm", "0 cm"], '
    '["2.5 cm", "2.5 cm"], ["-2 cm", "2 cm"]]',
}
ROUNDED = {
    name: f'{{ kind = "slab", thickness = "10 mm", edge = "3 mm", outline = {{ {outline} }} }}'
    for name, outline in OUTLINES.items()
} | {
    "bowl": '{ kind = "revolve", smooth = true, wall = "3 mm", profile = [["1 cm", "-2 cm"], ["2.5 cm", "0 cm"], '
    '["3 cm", "1.5 cm"]] }'
}


@pytest.mark.parametrize("matter", [LOSSLESS, CLEAR], ids=["wax", "glass"])
@pytest.mark.parametrize("name", ROUNDED)
def test_rounded_lossless_thing_cannot_be_seen(name, matter):
    """Polished: every path brings its whole weight out again, wherever a smooth normal leads it."""
    stage = stage_of(ROUNDED[name], matter.replace("ROUGH", ""), room=1.0)
    assert stage.shapes[0]["first_normal"] > 0
    assert seen(stage, 256) == pytest.approx((1.0, 0.0), abs=1e-9)


@pytest.mark.parametrize("name", ROUNDED)
def test_rounded_rough_lossless_thing_cannot_be_seen(name):
    """The skin's table is good for 2e-4 a meeting, of which there are up to 1 + n² (test_rough_furnace.py)."""
    stage = stage_of(ROUNDED[name], LOSSLESS.replace("ROUGH", ", roughness = 0.2"), room=1.0)
    agrees(seen(stage, 512), 1.0, 3.25 * 2e-4)
