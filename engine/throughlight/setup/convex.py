"""Convex bodies, and how far two of them stand in one another.

Two convex bodies are apart when they are apart along some axis; enough axes to try are their face normals, the cross
products of their edges and, for rounded bodies, the lines between corners and edges (separating axes: Gottschalk, Lin
and Manocha 1996). The least overlap over these axes is how far one must move to come free.
Circles are polygons of 24 sides.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from throughlight.setup.place import Vec3, crossed

Array = NDArray[np.float64]
Key = tuple[str | int, ...]

_SIDES = 24
_UP = np.array([0.0, 1.0, 0.0])


@dataclass(frozen=True)
class Solid:
    """A convex body: corners, edges as pairs of corners, axes to try, and a radius that rounds it.

    contains: for a body that is not convex, whether a place is really inside.
    """

    name: str
    key: Key
    corners: Array
    edges: NDArray[np.int64]
    axes: Array
    radius: float = 0.0
    contains: Callable[[Array], bool] | None = None


def frame(at: Vec3, aim: Vec3, roll: float = 0.0) -> Array:
    """Return the axes (columns x, y, z) of a thing at `at` that faces `aim`, y as upright as that allows."""
    z = np.subtract(aim, at)
    size = float(np.linalg.norm(z))
    z = z / size if size > 0.0 else np.array([0.0, 0.0, 1.0])
    up = np.array([0.0, 0.0, -1.0]) if abs(z[1]) > 1.0 - 1e-9 else _UP
    x = crossed(up, z)
    x /= np.linalg.norm(x)
    y = crossed(z, x)
    c, s = math.cos(roll), math.sin(roll)
    return np.stack([c * x + s * y, c * y - s * x, z], axis=1)


def prism(name: str, key: Key, at: Vec3, axes: Array, outline: Array, thickness: float) -> Solid:
    """Return a convex outline (n, 2) with a thickness, which may be zero."""
    n = len(outline)
    half = 0.5 * thickness
    layers = [half, -half] if thickness > 0.0 else [0.0]
    local = np.concatenate([np.column_stack([outline, np.full(n, z)]) for z in layers])
    ring = np.arange(n)
    edges = [np.column_stack([ring, np.roll(ring, -1)])]
    if len(layers) == 2:
        edges += [edges[0] + n, np.column_stack([ring, ring + n])]
    along = np.roll(outline, -1, axis=0) - outline
    sides = np.column_stack([along[:, 1], -along[:, 0], np.zeros(n)])
    normals = np.concatenate([[[0.0, 0.0, 1.0]], sides])
    return Solid(name, key, local @ axes.T + np.asarray(at), np.concatenate(edges), normals @ axes.T)


def rod(name: str, key: Key, start: Array, end: Array, diameter: float) -> Solid:
    """Return a round rod between two places (its ends rounded)."""
    corners = np.stack([start, end]).astype(float)
    return Solid(name, key, corners, np.array([[0, 1]]), np.zeros((0, 3)), 0.5 * diameter)


def rectangle(width: float, height: float) -> Array:
    """Return its four corners."""
    return 0.5 * np.array([[width, height], [-width, height], [-width, -height], [width, -height]])


def circle(diameter: float) -> Array:
    """Return the corners of a polygon in it."""
    angle = 2.0 * math.pi * np.arange(_SIDES) / _SIDES
    return 0.5 * diameter * np.column_stack([np.cos(angle), np.sin(angle)])


def overlap(a: Solid, b: Solid) -> float:
    """Return how far, m, one of two bodies must move to come free of the other; negative when they are apart."""
    axes = np.concatenate([a.axes, b.axes, _crossed(a, b), _leaning(a, b), _leaning(b, a)])
    size = np.linalg.norm(axes, axis=1)
    axes = axes[size > 1e-12] / size[size > 1e-12, None]
    if len(axes) == 0:  # two balls in one place
        return a.radius + b.radius
    along_a, along_b = a.corners @ axes.T, b.corners @ axes.T
    shared = np.minimum(along_a.max(0) - along_b.min(0), along_b.max(0) - along_a.min(0))
    return float(shared.min()) + a.radius + b.radius


def _directions(body: Solid) -> Array:
    """Return the directions of a body's edges, each once."""
    along = body.corners[body.edges[:, 1]] - body.corners[body.edges[:, 0]]
    along /= np.linalg.norm(along, axis=1, keepdims=True)
    return np.unique(np.round(along, 9), axis=0)


def _crossed(a: Solid, b: Solid) -> Array:
    if len(a.edges) == 0 or len(b.edges) == 0:
        return np.zeros((0, 3))
    return np.asarray(np.cross(_directions(a)[:, None, :], _directions(b)[None, :, :]).reshape(-1, 3))


def _leaning(a: Solid, b: Solid) -> Array:
    """Return the lines from each edge of `b` to each corner of `a`, at right angles; only rounded bodies need them."""
    if a.radius == 0.0 and b.radius == 0.0:
        return np.zeros((0, 3))
    if len(b.edges) == 0:
        return np.asarray((a.corners[:, None, :] - b.corners[None, :, :]).reshape(-1, 3))
    start = b.corners[b.edges[:, 0]][None, :, :]
    along = b.corners[b.edges[:, 1]][None, :, :] - start
    offset = a.corners[:, None, :] - start
    share = np.clip((offset * along).sum(-1) / (along * along).sum(-1), 0.0, 1.0)
    return np.asarray((offset - share[..., None] * along).reshape(-1, 3))


def surrounds(body: Solid, place: Vec3) -> bool:
    """Return whether a place lies inside a body, or within a millimetre of a flat one."""
    point = np.asarray(place, float)
    flat = body.radius == 0.0 and body.contains is None
    probe = Solid("", (), point[None, :], np.zeros((0, 2), np.int64), np.zeros((0, 3)), 1e-3 if flat else 0.0)
    if overlap(body, probe) <= 0.0:
        return False
    return body.contains is None or body.contains(point)
