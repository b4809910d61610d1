"""The things of a set as convex bodies, and how far two of them stand in one another.

Two convex bodies are apart when they are apart along some axis; enough axes to try are their face normals, the cross
products of their edges and, for rounded bodies, the lines between corners and edges (separating axes: Gottschalk, Lin
and Manocha 1996). The least overlap over these axes is how far one must move to come free.
Circles are polygons of 24 sides, a mesh is its box, a polygon slice its convex hull.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from throughlight.setup.faces import Disc, Polygon, Rectangle, Tube
from throughlight.setup.heads import Head
from throughlight.setup.meshes import contains, load_triangles
from throughlight.setup.place import Vec3
from throughlight.setup.shades import across, barrel, leaves
from throughlight.setup.subject import Mesh, Slab, Sphere, Subject
from throughlight.setup.whole import Setup

Array = NDArray[np.float64]
Key = tuple[str | int, ...]

_SIDES = 24
_MOST_CORNERS = 48
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
    z = z / np.linalg.norm(z)
    up = np.array([0.0, 0.0, -1.0]) if abs(z[1]) > 1.0 - 1e-9 else _UP
    x = np.cross(up, z)
    x /= np.linalg.norm(x)
    y = np.cross(z, x)
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


def _head(head: Head, index: int) -> list[Solid]:
    """Return a head's face and what is hung before it, all under one key: they don't stand in one another's way."""
    key: Key = ("head", index)
    axes = frame(head.at, head.aim, head.roll)
    if isinstance(head.face, Tube):
        half = 0.5 * head.face.length * axes[:, 0]
        return [rod(head.name, key, np.asarray(head.at) - half, np.asarray(head.at) + half, head.face.diameter)]
    outline = circle(head.face.diameter) if isinstance(head.face, Disc) else rectangle(*across(head.face))
    things = [prism(head.name, key, head.at, axes, outline, 0.0)]
    if head.snoot is not None:
        tube = barrel(head.name, head.at, axes, head.face, head.snoot)
        middle = 0.5 * (tube.start + tube.end)
        things.append(prism(tube.name, key, _place(middle), axes, circle(tube.diameter), head.snoot.length))
    if head.barn_doors is not None:
        for door in leaves(head.name, head.at, axes, head.face, head.barn_doors):
            outline = rectangle(door.width, door.height)
            things.append(prism(door.name, key, _place(door.middle), door.axes, outline, 0.0))
    return things


def _place(point: Array) -> Vec3:
    return (float(point[0]), float(point[1]), float(point[2]))


def _subject(subject: Subject, camera: Vec3) -> Solid:
    key: Key = ("subject",)
    at = np.asarray(subject.at)
    axes = frame(subject.at, camera if subject.aim is None else subject.aim, subject.turn)
    shape = subject.shape
    if isinstance(shape, Sphere):
        return Solid(subject.name, key, at[None, :], np.zeros((0, 2), np.int64), np.zeros((0, 3)), 0.5 * shape.diameter)
    if isinstance(shape, Mesh):
        return _mesh(subject, shape, axes)
    assert isinstance(shape, Slab)  # the three kinds of shape are all
    if isinstance(shape.outline, Disc):
        return prism(subject.name, key, subject.at, axes, circle(shape.outline.diameter), shape.thickness)
    if isinstance(shape.outline, Rectangle):
        corners = rectangle(shape.outline.width, shape.outline.height)
        return prism(subject.name, key, subject.at, axes, corners, shape.thickness)
    return _polygon(subject, shape.outline, shape.thickness, axes)


def _polygon(subject: Subject, outline: Polygon, thickness: float, axes: Array) -> Solid:
    from shapely.geometry import Point
    from shapely.geometry import Polygon as Area

    area = Area(outline.points)
    hull = np.asarray(area.convex_hull.exterior.coords)[:-1]
    hull = hull[:: math.ceil(len(hull) / _MOST_CORNERS)]

    def inside(place: Array) -> bool:
        x, y, z = (place - np.asarray(subject.at)) @ axes
        return abs(z) < 0.5 * thickness and bool(area.contains(Point(x, y)))

    body = prism(subject.name, ("subject",), subject.at, axes, hull, thickness)
    return Solid(body.name, body.key, body.corners, body.edges, body.axes, contains=inside)


def _mesh(subject: Subject, shape: Mesh, axes: Array) -> Solid:
    triangles = load_triangles(shape.file)
    low, high = triangles.vertices.min(axis=0) * shape.metres, triangles.vertices.max(axis=0) * shape.metres
    size = high - low
    middle = np.asarray(subject.at) + axes @ (0.5 * (low + high))
    place: Vec3 = (float(middle[0]), float(middle[1]), float(middle[2]))

    def inside(there: Array) -> bool:
        return triangles.watertight and contains(triangles, (there - np.asarray(subject.at)) @ axes / shape.metres)

    body = prism(subject.name, ("subject",), place, axes, rectangle(size[0], size[1]), float(size[2]))
    return Solid(body.name, body.key, body.corners, body.edges, body.axes, contains=inside)


def solids(setup: Setup) -> list[Solid]:
    """Return everything of a set that can stand in the way of something else."""
    things = [thing for i, head in enumerate(setup.heads) for thing in _head(head, i)]
    for i, window in enumerate(setup.windows):
        axes = frame(window.at, window.aim, window.roll)
        things.append(prism(window.name, ("window", i), window.at, axes, rectangle(window.width, window.height), 0.0))
    for key, cards in (("card", setup.cards), ("flag", setup.flags)):
        for i, card in enumerate(cards):
            axes = frame(card.at, card.aim, card.roll)
            things.append(prism(card.name, (key, i), card.at, axes, rectangle(card.width, card.height), 0.0))
    if setup.backdrop is not None:
        drop = setup.backdrop
        axes = frame(drop.at, drop.aim)
        things.append(prism("backdrop", ("backdrop",), drop.at, axes, rectangle(drop.width, drop.height), 0.0))
    if setup.table is not None:
        table = setup.table
        place = (table.at[0], table.height, table.at[2])
        axes = frame(place, (place[0], place[1] + 1.0, place[2]))
        things.append(prism("table", ("table",), place, axes, rectangle(table.width, table.depth), 0.0))
    if setup.subject is not None:
        things.append(_subject(setup.subject, setup.camera.at))
    for i, support in enumerate(setup.supports):
        start, end = np.asarray(support.start), np.asarray(support.end)
        things.append(rod(support.name, ("support", i), start, end, support.diameter))
    return things


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
