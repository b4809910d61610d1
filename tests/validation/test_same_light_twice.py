"""The same light told in two ways: as the room's, found only by walks that escape, and as heads, which are aimed at.

A black chamber with two windows on an even room of luminance 1 lights a body exactly as two rectangular heads of
luminance 1 in place of the windows do. Windows are found by chance alone; heads by direct light, aimed legs and chance,
shared by the balance heuristic. Both must agree for every body, boundary and direction, or the shares are wrong.
Whatever is lossless in an even room of luminance 1 shows luminance 1 itself (first law of thermodynamics: the furnace).
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from stages import Bench, film_luminance, front_illuminance
from throughlight.stage.frames import facing
from throughlight.stage.meshes import mesh_tables
from throughlight.trace.tables import ShapeKind

_HALF = 0.5  # of the chamber, m
_OPEN = 0.2  # half of a window
_LENS = {"lens_at": (0.05, 0.02, 0.4), "half_width": 0.03, "half_height": 0.03, "front": 0.01}
_TILTED = facing((0, 0, 0), (0.3, 0.2, 1.0))
_RODS = np.array([[x, y, z] for x in (-1.0, 1.0) for y in (-1.0, 1.0) for z in (-1.0, 1.0)])
_WALLS = {"left": ((-1, 0, 0), (0, 0, 1)), "back": ((0, 0, -1), (1, 0, 0))}
_BLANK = ((1, 0, 0), (0, 1, 0), (0, -1, 0), (0, 0, 1))

_BODIES = {
    "slab": (ShapeKind.BOX, (0.05, 0.05, 0.004)),
    "disc": (ShapeKind.ROUND, (0.05, 0.0, 0.004)),
    "ball": (ShapeKind.SPHERE, (0.045, 0.0, 0.0)),
    "mesh": (ShapeKind.MESH, (0.05, 0.05, 0.004)),
}


def _windows(bench):
    """Add the chamber's black walls, two of them with a window."""
    for normal in _BLANK:
        at = np.multiply(normal, _HALF)
        bench.rectangle(at, (0, 0, 0), 2 * _HALF, 2 * _HALF)
    middle, strip = (_HALF + _OPEN) / 2, _HALF - _OPEN
    for normal, across in _WALLS.values():
        wall = np.multiply(normal, _HALF)
        for side in (-1, 1):
            for offset, width, height in (
                (np.array([0.0, side * middle, 0.0]), 2 * _HALF, strip),
                (np.multiply(across, side * middle), strip, 2 * _OPEN),
            ):
                bench.rectangle(wall + offset, offset, width, height)


def _heads(bench):
    """Add heads where the windows are."""
    for normal, _ in _WALLS.values():
        bench.head(ShapeKind.RECTANGLE, np.multiply(normal, _HALF), (0, 0, 0), (_OPEN, _OPEN, 0))


def _lit(body, n, g, alpha, lights, absorb=(5.0, 30.0, 0.0)):
    """Return a stage with a body of optical thickness about 3 to 8, a white card beside it, and the light."""
    kind, sizes = _BODIES[body]
    bench = Bench()
    medium = bench.medium((400.0, 600.0, 300.0), absorb, g, n, alpha)
    if kind == ShapeKind.MESH:
        bench.body(kind, (0, 0, 0), np.eye(3), (0.0, 0.0, 0.0), medium)
    else:
        bench.body(kind, (0, 0, 0), _TILTED, sizes, medium)
    bench.rectangle((0.15, 0.0, 0.0), (0, 0, 0), 0.15, 0.2, reflectance=0.8)
    lights(bench)
    stage = bench.stage(room=1.0 if lights is _windows else 0.0, **_LENS)
    return _with_box_mesh(stage, sizes) if kind == ShapeKind.MESH else stage


def _with_box_mesh(stage, sizes):
    """Give the stage's first shape, a mesh, the twelve triangles of a box."""
    import trimesh

    box = trimesh.creation.box(extents=2 * np.array(sizes))
    vertices = np.asarray(box.vertices) @ _TILTED.T
    triangles, boxes, links, _, pointers = mesh_tables([(vertices, np.asarray(box.faces))])
    shape = stage.shapes[0]
    shape["first_triangle"], shape["triangles"], shape["first_node"] = pointers[0][:3]
    for i, axis in enumerate("xyz"):
        shape[f"lo_{axis}"], shape[f"hi_{axis}"] = vertices[:, i].min(), vertices[:, i].max()
    tables = (np.array(table, order="C") for table in (triangles, boxes, links))
    return stage._replace(**dict(zip(("triangles", "boxes", "links"), tables, strict=True)))


def _same(one, other, power=0.01):
    """Check that two readings agree within four standard errors of their difference, and that both are sharp."""
    (a, error_a), (b, error_b) = one, other
    assert max(error_a / a, error_b / b) <= power, f"no power: {one}, {other}"
    sigmas = (a - b) / math.hypot(error_a, error_b)
    assert abs(sigmas) <= 4.0, f"{one} against {other}: {sigmas:.1f} standard errors apart"


_CASES = [(body, alpha) for body in ("slab", "disc", "ball") for alpha in (0.0, 0.1, 0.3)] + [("mesh", 0.3)]


@pytest.mark.parametrize(("body", "alpha"), _CASES)
def test_windows_and_heads_light_a_body_alike(body, alpha):
    paths = 1 << (13 if body == "ball" else 12)
    found = film_luminance(_lit(body, 1.4, 0.5, alpha, _windows), paths, replicates=64)
    aimed = film_luminance(_lit(body, 1.4, 0.5, alpha, _heads), paths // 2, replicates=64)
    _same(found, aimed)


@pytest.mark.parametrize("alpha", [0.0, 0.3])
def test_windows_and_heads_light_the_front_element_alike(alpha):
    # Here the window behind the body shines straight at the lens, past it and through it.
    found = front_illuminance(_lit("slab", 1.5, 0.8, alpha, _windows), 1 << 12, replicates=64)
    aimed = front_illuminance(_lit("slab", 1.5, 0.8, alpha, _heads), 1 << 12, replicates=64)
    _same(found, aimed)


def _alone(body, lights, room, scatter, absorb=0.0, alpha=0.0):
    """Return a stage with nothing but a body and the light, the body's middle seen by a pencil."""
    kind, sizes = _BODIES[body]
    bench = Bench()
    bench.body(kind, (0, 0, 0), _TILTED, sizes, bench.medium(scatter, absorb, 0.5, 1.4, alpha))
    lights(bench)
    return bench.stage(room=room, **(_LENS | {"half_width": 1e-9, "half_height": 1e-9}))


def _nothing(bench):
    pass


def _six_heads(bench):
    """Add six heads that together close a cube."""
    for normal in (*_BLANK, *(normal for normal, _ in _WALLS.values())):
        bench.head(ShapeKind.RECTANGLE, np.multiply(normal, _HALF), (0, 0, 0), (_HALF, _HALF, 0))


@pytest.mark.parametrize("body", ["slab", "disc", "ball"])
def test_furnace_in_an_even_room(body):
    # One and the same band thrice: every path escapes with its full weight, so that the answer is 1 for each of them.
    mean, _ = film_luminance(_alone(body, _nothing, 1.0, 400.0), 1 << 9)
    assert mean == pytest.approx(1.0, rel=1e-9)


@pytest.mark.parametrize("body", ["slab", "disc", "ball"])
def test_furnace_between_six_heads(body):
    mean, error = film_luminance(_alone(body, _six_heads, 0.0, (400.0, 600.0, 300.0)), 1 << 12, replicates=64)
    assert error <= 0.005
    assert abs(mean - 1.0) <= 4.0 * error, f"{mean} ± {error}"


@pytest.mark.parametrize("alpha", [0.05, 0.3])
@pytest.mark.parametrize("body", ["slab", "ball"])
def test_an_even_room_and_six_heads_light_a_rough_body_alike(body, alpha):
    matter = {"scatter": (400.0, 600.0, 300.0), "absorb": (5.0, 30.0, 0.0), "alpha": alpha}
    found = film_luminance(_alone(body, _nothing, 1.0, **matter), 1 << 11, replicates=64)
    aimed = film_luminance(_alone(body, _six_heads, 0.0, **matter), 1 << 11, replicates=64)
    _same(found, aimed, power=0.005)
