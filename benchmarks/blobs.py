"""Bumpy balls of any number of triangles, 60 mm across, and the rays that look for them.

A ball of rings and meridians with a smooth relief: two fans at the poles and quads between, so n rings of 2n corners
give 4n² triangles. Incoherent rays run from the sphere of twice the radius to places spread evenly in the ball;
coherent ones are the picture of a pinhole, row by row.
"""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from throughlight.stage.meshes import mesh_tables
from throughlight.trace.tables import ShapeKind, Stage

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

RADIUS = 0.03  # m
_RELIEF = 0.1  # of the radius


def blob(triangles: int) -> tuple[Floats, Ints]:
    """Return a ball with about so many triangles: corners (v, 3), m, and faces (n, 3), anticlockwise from outside."""
    rings = max(3, round(math.sqrt(triangles) / 2.0))
    around = 2 * rings
    theta = np.arange(1, rings + 1)[:, None] * (math.pi / (rings + 1))
    phi = np.arange(around)[None, :] * (2.0 * math.pi / around)
    relief = 1.0 + _RELIEF * np.sin(5.0 * theta) * np.sin(theta) * np.cos(7.0 * phi + 3.0 * theta)
    body = np.stack([np.sin(theta) * np.cos(phi), np.sin(theta) * np.sin(phi), np.cos(theta) + 0.0 * phi], axis=-1)
    corners = np.concatenate([[[0.0, 0.0, 1.0]], (body * relief[..., None]).reshape(-1, 3), [[0.0, 0.0, -1.0]]])
    return RADIUS * corners, _faces(rings, around)


def _faces(rings: int, around: int) -> Ints:
    here = np.arange(around)
    on = (here + 1) % around
    upper = 1 + np.arange(rings - 1)[:, None] * around
    a, b, c, d = upper + here, upper + on, upper + around + here, upper + around + on
    last, foot = 1 + (rings - 1) * around, 1 + rings * around
    fans = [np.stack([0 * here, 1 + here, 1 + on], 1), np.stack([foot + 0 * here, last + on, last + here], 1)]
    quads = [np.stack([a, c, d], -1).reshape(-1, 3), np.stack([a, d, b], -1).reshape(-1, 3)]
    return np.concatenate([fans[0], *quads, fans[1]]).astype(np.int64)


def write_ply(path: Path, corners: Floats, faces: Ints) -> None:
    """Write a body as a binary PLY file in millimetres."""
    rows = np.empty(len(faces), [("count", "u1"), ("corners", "<i4", (3,))])
    rows["count"], rows["corners"] = 3, faces
    head = (
        f"ply\nformat binary_little_endian 1.0\nelement vertex {len(corners)}\n"
        "property float x\nproperty float y\nproperty float z\n"
        f"element face {len(faces)}\nproperty list uchar int vertex_indices\nend_header\n"
    )
    path.write_bytes(head.encode() + (1000.0 * corners).astype("<f4").tobytes() + rows.tobytes())


def stage_of(empty: Stage, corners: Floats, faces: Ints) -> Stage:
    """Return a stage with nothing in it but one body; its other tables are those of `empty`, which has a shape."""
    pools = mesh_tables([(corners, faces)])
    shapes = empty.shapes[:1].copy()
    shapes["kind"], shapes["medium"], shapes["head"] = int(ShapeKind.MESH), -1, -1
    for name, value in zip(("first_triangle", "triangles", "first_node", "first_normal"), pools.rows[0], strict=True):
        shapes[name] = value
    for axis, low, high in zip("xyz", corners.min(axis=0), corners.max(axis=0), strict=True):
        shapes[f"lo_{axis}"], shapes[f"hi_{axis}"] = low - 1e-6, high + 1e-6
    return empty._replace(
        shapes=shapes, triangles=pools.triangles, boxes=pools.boxes, links=pools.links, normals=pools.normals
    )


def _unit(vectors: Floats) -> Floats:
    unit: Floats = vectors / np.linalg.norm(vectors, axis=1, keepdims=True)
    return unit


def incoherent_rays(count: int, seed: int) -> tuple[Floats, Floats]:
    """Return places and unit directions (count, 3) of rays that have nothing in common."""
    draw = np.random.default_rng(seed)
    origins = 2.0 * RADIUS * _unit(draw.normal(size=(count, 3)))
    places = RADIUS * draw.random((count, 1)) ** (1.0 / 3.0) * _unit(draw.normal(size=(count, 3)))
    return origins, _unit(places - origins)


def coherent_rays(count: int) -> tuple[Floats, Floats]:
    """Return places and unit directions of the rays of a square picture of about `count` pixels, row by row."""
    side = max(2, round(math.sqrt(count)))
    across = (np.arange(side) + 0.5) / side * 2.0 - 1.0
    x, y = np.meshgrid(across, -across)
    places = 1.1 * RADIUS * np.stack([x.ravel(), y.ravel(), 0.0 * x.ravel()], axis=1)
    origins = np.broadcast_to([0.0, 0.0, 5.0 * RADIUS], places.shape).copy()
    return origins, _unit(places - origins)
