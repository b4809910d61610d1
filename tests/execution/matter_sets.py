"""Tiny sets of matter: bodies in bodies, matter mapped from a picture, skins that keep their light, smooth meshes."""

from __future__ import annotations

import math

import numpy as np
from plain_sets import ASKEW, lit

from stages import Bench
from throughlight.setup.sections import Form, half, section
from throughlight.stage.frames import facing
from throughlight.stage.losses import skin_tables
from throughlight.stage.meshes import mesh_tables
from throughlight.stage.revolve import revolved
from throughlight.trace.tables import Region, ShapeKind, Stage, SurfaceKind

FRONTAL = facing((0.0, 0.0, 0.0), (0.0, 0.0, 1.0))


def with_skins(stage: Stage) -> Stage:
    """Return the stage whose rough boundaries give back what meets a second facet."""
    curves, skins = skin_tables([(float(row["n"]), float(row["alpha"])) for row in stage.media])
    return stage._replace(curves=curves, skins=skins)


def nested() -> Stage:
    """Return a liquid that ends in its glass, a rough core in a coat, one body across another, things inside."""
    bench = Bench()
    liquid = bench.medium((2.0, 4.0, 8.0), (1.0, 5.0, 20.0), 0.3, 1.33)
    glass = bench.medium(0.0, (0.2, 0.1, 0.3), 0.0, 1.52)
    skin = bench.medium((150.0, 200.0, 250.0), (5.0, 20.0, 10.0), 0.6, 1.42)
    flesh = bench.medium((300.0, 400.0, 500.0), 2.0, 0.2, 1.35, 0.2)
    inside = {"crowded": 1}
    bench.body(ShapeKind.ROUND, (-0.05, 0, 0), ASKEW, (0.03, 0, 0.02), liquid, **inside)
    bench.body(ShapeKind.BOX, (-0.05, 0, 0), ASKEW, (0.035, 0.008, 0.025), glass, **inside)
    bench.body(ShapeKind.SPHERE, (0.04, 0, 0), ASKEW, (0.03, 0, 0), skin, **inside)
    bench.body(ShapeKind.SPHERE, (0.042, 0, 0), ASKEW, (0.024, 0, 0), flesh, **inside)
    bench.body(ShapeKind.BOX, (0.06, 0.02, 0.005), ASKEW, (0.012, 0.012, 0.012), glass, **inside)
    lit(bench)
    bench.shape(ShapeKind.SPHERE, (-0.04, 0.015, 0), ASKEW, (0.006, 0, 0), bench.part(Region.SUBJECT, (0.8, 0.3, 0.2)))
    bench.shape(ShapeKind.TUBE, (0.04, 0, 0), FRONTAL, (0.002, 0, 0.04), bench.part(Region.SUPPORT, 0.6, back=0.1))
    bench.rectangle((0, 0, -0.3), (0, 0, 1), 1.0, 1.0, region=Region.BACKDROP, reflectance=0.3)
    return with_skins(bench.stage((0, 0.1, 0.7), (0, 0, 0), room=0.2, front=0.02))


def mapped() -> Stage:
    """Return slices of mapped matter: polished and dense, rough, index-matched and clear, one with a rod inside."""
    bench = Bench()
    rng = np.random.default_rng(3)
    absorb, scatter = rng.uniform(1.0, 60.0, (3, 4)), rng.uniform(50.0, 900.0, (3, 4))
    place = {"left": -0.03, "top": 0.02, "width": 0.06, "height": 0.04}
    dense = bench.mapped(absorb, scatter, 0.5, 1.4, **place)
    frosted = bench.mapped(absorb, scatter, 0.0, 1.4, **place)
    bench.media[frosted]["alpha"] = 0.25
    pierced = bench.mapped(absorb, 0.2 * scatter, 0.8, 1.33, **place)
    clear = bench.mapped(absorb, 0.0 * scatter, 0.0, 1.0, **place)
    bench.body(ShapeKind.BOX, (-0.05, 0.03, 0), ASKEW, (0.03, 0.02, 0.003), dense)
    bench.body(ShapeKind.ROUND, (0.05, 0.03, 0), ASKEW, (0.025, 0, 0.004), frosted)
    bench.body(ShapeKind.BOX, (-0.05, -0.04, 0), ASKEW, (0.03, 0.02, 0.01), pierced, crowded=1)
    bench.body(ShapeKind.SPHERE, (0.05, -0.04, 0), ASKEW, (0.02, 0, 0), clear)
    lit(bench)
    bench.shape(ShapeKind.TUBE, (-0.05, -0.04, 0), FRONTAL, (0.003, 0, 0.03), bench.part(Region.SUPPORT, 0.5))
    return with_skins(bench.stage((0, 0, 0.7), (0, 0, 0), room=0.1, pupil=0.01, front=0.02))


def smooth() -> Stage:
    """Return three coarse turned balls with the normals of true ones: clear glass, rough wax, and opaque paint."""
    ball = Form(tuple((0.018 * math.sin(t), -0.018 * math.cos(t)) for t in np.linspace(0.0, math.pi, 10)))
    turned = revolved(half(section(ball)), sides=14)
    bench = Bench()
    glass = bench.medium(0.0, (2.0, 4.0, 8.0), 0.0, 1.5)
    wax = bench.medium((900.0, 1000.0, 1200.0), (2.0, 10.0, 40.0), 0.8, 1.4, 0.3)
    parts = [bench.part(Region.SUBJECT, surface=SurfaceKind.BOUNDARY) for _ in range(2)]
    parts.append(bench.part(Region.OTHER, (0.7, 0.5, 0.3)))
    places = [(x, 0.01 * x, 0.0) for x in (-0.042, 0.0, 0.042)]
    rows = [
        bench.shape(ShapeKind.MESH, at, FRONTAL, (0.02, 0.02, 0.02), part, medium)
        for at, part, medium in zip(places, parts, (glass, wax, -1), strict=True)
    ]
    pools = mesh_tables([(turned.vertices + at, turned.faces, turned.normals) for at in places])
    for row, pointers in zip(rows, pools[4], strict=True):
        names = ("first_triangle", "triangles", "first_node", "first_normal")
        bench.shapes[row] |= dict(zip(names, pointers, strict=True)) | {"lo_z": -0.02, "hi_z": 0.02}
    lit(bench)
    stage = bench.stage((0, 0.1, 0.7), (0, 0, 0), room=0.1, front=0.02)
    names = ("triangles", "boxes", "links", "normals")
    return with_skins(stage._replace(**dict(zip(names, pools[:4], strict=True))))
