"""Tiny sets of plain things: opaque shapes, even bodies polished and rough, meshes read from a setup file."""

from __future__ import annotations

from stages import Bench
from throughlight.setup import loads
from throughlight.stage.build import build
from throughlight.stage.frames import facing
from throughlight.trace.tables import Region, ShapeKind, Stage, SurfaceKind

ASKEW = facing((0.0, 0.0, 0.0), (0.3, 0.5, 1.0), 0.4)
SHEEN = {"pile": 0.1, "sheen_red": 0.2, "sheen_green": 0.15, "sheen_blue": 0.1}


def lit(bench: Bench) -> Bench:
    """Light a bench by a disc, a rectangle and a tube."""
    bench.head(ShapeKind.DISC, (-0.4, 0.1, -0.3), (0, 0, 0), (0.08, 0, 0), 2.0, 3.0)
    bench.head(ShapeKind.RECTANGLE, (0.3, 0.5, 0.2), (0, 0, 0), (0.1, 0.2, 0), 1.0)
    bench.head(ShapeKind.TUBE, (0.5, 0.0, -0.5), (0.5, 1.0, -0.5), (0.02, 0, 0.3), 3.0)
    return bench


def opaque() -> Stage:
    """Return a heap of opaque things: every exact shape, matte and cloth, white and coloured, a flag."""
    bench = lit(Bench())
    colours = (0.9, 0.5, 0.2)
    velvet = {"region": Region.BACKDROP, "surface": SurfaceKind.CLOTH, "reflectance": 0.02, **SHEEN}
    bench.rectangle((0, 0, -0.6), (0, 0, 1), 1.5, 1.5, **velvet)
    level = facing((0, -0.1, 0), (0, 1, 0))
    bench.shape(ShapeKind.DISC, (0, -0.1, 0), level, (0.3, 0, 0), bench.part(Region.OTHER, 0.8))
    bench.shape(ShapeKind.BOX, (0.05, 0, 0), ASKEW, (0.03, 0.02, 0.02), bench.part(Region.SUBJECT, colours))
    bench.shape(ShapeKind.ROUND, (-0.06, 0, 0), ASKEW, (0.03, 0, 0.01), bench.part(Region.SUBJECT, 0.6))
    bench.shape(ShapeKind.SPHERE, (0, 0.05, 0.02), ASKEW, (0.025, 0, 0), bench.part(Region.SUBJECT, 0.3))
    bench.shape(ShapeKind.TUBE, (0, 0.1, 0), ASKEW, (0.01, 0, 0.06), bench.part(Region.SUPPORT, 0.5, back=0.1))
    bench.rectangle((0.15, 0.1, 0.4), (1, 0, 0.4), 0.2, 0.2, reflectance=0.05)
    lens = {"pupil": 0.004, "front": 0.02, "hood": 0.02, "blades": 6}
    return bench.stage((0.05, 0.1, 0.8), (0, 0, 0), room=(0.1, 0.08, 0.05), **lens)


def polished() -> Stage:
    """Return polished and index-matched bodies: a slice, a ball and a block, lit by heads alone."""
    bench = lit(Bench())
    glass = bench.medium((300.0, 400.0, 500.0), (5.0, 10.0, 20.0), 0.5, 1.5)
    milk = bench.medium(800.0, 3.0, 0.0, 1.0)
    bench.body(ShapeKind.ROUND, (0, 0, 0), ASKEW, (0.04, 0, 0.003), glass)
    bench.body(ShapeKind.SPHERE, (0.06, 0, 0), ASKEW, (0.015, 0, 0), glass)
    bench.body(ShapeKind.BOX, (-0.06, 0, 0), ASKEW, (0.015, 0.02, 0.01), milk)
    return bench.stage((0, 0, 0.7), (0, 0, 0), front=0.02)


def rough() -> Stage:
    """Return rough bodies before a backdrop, lit by heads and room."""
    bench = lit(Bench())
    wax = bench.medium((900.0, 1000.0, 1200.0), (2.0, 10.0, 40.0), 0.8, 1.4, 0.3)
    bench.body(ShapeKind.BOX, (0, 0, 0), ASKEW, (0.04, 0.03, 0.004), wax)
    bench.body(ShapeKind.SPHERE, (0.07, 0, 0), ASKEW, (0.02, 0, 0), wax)
    bench.rectangle((0, 0, -0.3), (0, 0, 1), 1.0, 1.0, region=Region.BACKDROP, reflectance=0.1)
    return bench.stage((0, 0, 0.7), (0, 0, 0), room=0.2, pupil=0.01, front=0.02)


MESHES = """\
[camera]
sensor = "36x24 mm"
focal = "100 mm"
f_number = 8
shutter = "1/100 s"
iso = 100
at = ["0 cm", "0 cm", "50 cm"]

[subject]
shape = {{ kind = "slab", thickness = "4 mm", outline = {{ shape = "polygon", points = [
    ["-4 cm", "-3 cm"], ["4 cm", "-3 cm"], ["1 cm", "0 cm"], ["3 cm", "3 cm"], ["-3 cm", "2 cm"]] }} }}
{finish}

[backdrop]
distance = "30 cm"
width = "60 cm"
height = "60 cm"
cloth = "black velvet"

[[head]]
face = {{ shape = "disc", diameter = "10 cm" }}
at = {{ bearing = "-150 deg", distance = "25 cm" }}
energy = "10 J"

[ambient]
illuminance = "100 lx"
"""
MATERIAL = 'material = { reduced_scattering = "0.3 1/mm", absorption = "0.02 1/mm", n = 1.3, roughness = 0.1 }'


def mesh(finish: str = MATERIAL) -> Stage:
    """Return a set read from a text: a translucent polygon slab, which is a mesh of triangles."""
    return build(loads(MESHES.format(finish=finish)))[0]


def opaque_mesh() -> Stage:
    """Return the same slab, opaque."""
    return mesh("surface = { reflectance = [0.4, 0.3, 0.2] }")
