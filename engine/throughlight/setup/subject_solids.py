"""Subjects as convex bodies, as the places on their skin, and as what is inside of them."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from throughlight.setup.convex import Array, Key, Solid, circle, frame, prism, rectangle
from throughlight.setup.faces import Disc, Rectangle
from throughlight.setup.islands import area_of
from throughlight.setup.meshes import contains, load_triangles, upright
from throughlight.setup.place import Vec3
from throughlight.setup.sections import section
from throughlight.setup.shapes import Mesh, Revolve, Slab, Sphere
from throughlight.setup.subject import Subject

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

Mask = NDArray[np.bool_]

_MOST_CORNERS = 48
_MOST_RINGS = 10
_SIDES = 16
_AROUND = 96


def subject_solid(subject: Subject, key: Key, camera: Vec3) -> Solid:
    """Return the convex body round a subject."""
    axes = frame(subject.at, subject.faces(camera), subject.turn)
    shape, name, at = subject.shape, subject.name, subject.at
    if isinstance(shape, Sphere):
        none = np.zeros((0, 2), np.int64)
        return Solid(name, key, np.asarray(at)[None, :], none, np.zeros((0, 3)), 0.5 * shape.diameter)
    if isinstance(shape, Slab) and isinstance(shape.outline, Disc):
        return prism(name, key, at, axes, circle(shape.outline.diameter), shape.thickness)
    if isinstance(shape, Slab) and isinstance(shape.outline, Rectangle):
        return prism(name, key, at, axes, rectangle(shape.outline.width, shape.outline.height), shape.thickness)
    local = insider(shape)

    def inside(place: Array) -> bool:
        return bool(local((place[None, :] - np.asarray(at)) @ axes, 0.0)[0])

    if isinstance(shape, Mesh):
        points = upright(load_triangles(shape.file).vertices * shape.metres, shape.up)
        low, high = points.min(axis=0), points.max(axis=0)
        middle = np.asarray(at) + axes @ (0.5 * (low + high))
        place: Vec3 = (float(middle[0]), float(middle[1]), float(middle[2]))
        size = high - low
        body = prism(name, key, place, axes, rectangle(size[0], size[1]), float(size[2]))
    elif isinstance(shape, Slab):
        body = prism(name, key, at, axes, _hull(shape), shape.thickness)
    else:
        body = _stacked(name, key, np.asarray(at), axes, _hull_profile(shape))
    return Solid(body.name, body.key, body.corners, body.edges, body.axes, contains=inside)


def _hull(shape: Slab) -> Array:
    """Return the convex hull of a slab's outline, coarsened outward enough for a first look."""
    assert not isinstance(shape.outline, Disc | Rectangle)
    hull: Array = np.asarray(area_of(shape.outline.islands).convex_hull.exterior.coords)[:-1]
    return hull[:: math.ceil(len(hull) / _MOST_CORNERS)]


def _hull_profile(shape: Revolve) -> Array:
    """Return the right half of the convex hull of a section, from bottom to top, as few corners."""
    corners = np.asarray(section(shape.form).convex_hull.exterior.coords)[:-1]
    right = corners[corners[:, 0] > 0.0]
    right = right[np.lexsort((right[:, 0], right[:, 1]))]
    if len(right) <= _MOST_RINGS:
        return right
    kept = np.linspace(0, len(right) - 1, _MOST_RINGS).round().astype(int)
    widest = int(np.argmax(right[:, 0]))
    return np.asarray(right[np.unique(np.append(kept, widest))])


def _stacked(name: str, key: Key, at: Array, axes: Array, rings: Array) -> Solid:
    """Return rings (radius, height) one over the other as a convex body, each ring a polygon."""
    angle = 2.0 * math.pi * np.arange(_SIDES) / _SIDES
    round_it = np.column_stack([np.sin(angle), np.zeros(_SIDES), np.cos(angle)])
    local = np.concatenate([radius * round_it + [0.0, height, 0.0] for radius, height in rings])
    ring = np.arange(_SIDES)
    edges = [np.column_stack([ring, np.roll(ring, -1)]) + i * _SIDES for i in range(len(rings))]
    edges += [np.column_stack([ring, ring + _SIDES]) + i * _SIDES for i in range(len(rings) - 1)]
    slopes = np.diff(rings, axis=0)
    middle = 2.0 * math.pi * (np.arange(_SIDES) + 0.5) / _SIDES
    sides = [
        np.column_stack([dy * np.sin(middle), np.full(_SIDES, -dx * math.cos(math.pi / _SIDES)), dy * np.cos(middle)])
        for dx, dy in slopes
    ]
    normals = np.concatenate([[[0.0, 1.0, 0.0]], *sides])
    return Solid(name, key, local @ axes.T + at, np.concatenate(edges), normals @ axes.T)


def insider(shape: Slab | Sphere | Revolve | Mesh) -> Callable[[Array, float], Mask]:
    """Return the function of places (n, 3) in a shape's own frame and a depth, m, that tells which lie deeper in it.

    The depth is at most a quarter of the wall or the thickness; in a mesh it is zero. A vessel's hollow is outside.
    """
    if isinstance(shape, Sphere):
        return lambda p, deep: np.asarray(np.linalg.norm(p, axis=1) < 0.5 * shape.diameter - deep)
    if isinstance(shape, Mesh):
        return lambda p, deep: _in_mesh(shape, p)
    import shapely

    if isinstance(shape, Slab):
        area = _outline_area(shape)
        thin = 0.25 * shape.thickness

        def in_slab(p: Array, deep: float) -> Mask:
            deep = min(deep, thin)
            flat = shapely.contains_xy(area.buffer(-deep) if deep > 0.0 else area, p[:, 0], p[:, 1])
            return np.asarray(flat & (np.abs(p[:, 2]) < 0.5 * shape.thickness - deep))

        return in_slab
    cut = section(shape.form)
    wall = shape.wall

    def in_revolved(p: Array, deep: float) -> Mask:
        deep = deep if wall is None else min(deep, 0.25 * wall)
        part = cut.buffer(-deep) if deep > 0.0 else cut
        return np.asarray(shapely.contains_xy(part, np.hypot(p[:, 0], p[:, 2]), p[:, 1]))

    return in_revolved


def _outline_area(shape: Slab) -> BaseGeometry:
    import shapely

    if isinstance(shape.outline, Disc):
        return shapely.Polygon(circle(shape.outline.diameter))
    if isinstance(shape.outline, Rectangle):
        return shapely.Polygon(rectangle(shape.outline.width, shape.outline.height))
    return area_of(shape.outline.islands)


def _in_mesh(shape: Mesh, places: Array) -> Mask:
    triangles = load_triangles(shape.file)
    if not triangles.watertight:
        return np.zeros(len(places), np.bool_)
    turned = upright(triangles.vertices * shape.metres, shape.up)
    mask: Mask = ((places > turned.min(axis=0)) & (places < turned.max(axis=0))).all(axis=1)
    body = triangles._replace(vertices=turned)
    mask[mask] = [contains(body, place) for place in places[mask]]
    return mask


def skin(shape: Slab | Sphere | Revolve | Mesh) -> Array:
    """Return places (n, 3) all over a shape's skin, in its own frame."""
    if isinstance(shape, Sphere):
        return 0.5 * shape.diameter * _directions(600)
    if isinstance(shape, Mesh):
        vertices = load_triangles(shape.file).vertices
        return upright(vertices[:: math.ceil(len(vertices) / 3000)] * shape.metres, shape.up)
    import shapely

    if isinstance(shape, Slab):
        area = _outline_area(shape)
        x_low, y_low, x_high, y_high = area.bounds
        grid = np.stack(np.meshgrid(np.linspace(x_low, x_high, 20), np.linspace(y_low, y_high, 20)), -1).reshape(-1, 2)
        half = 0.5 * shape.thickness
        ends = np.concatenate([_along(area, 300), grid[shapely.contains_xy(area, grid)]])
        layers = [(ends, half), (ends, -half), (_along(area, 300), 0.0)]
        return np.concatenate([np.column_stack([flat, np.full(len(flat), z)]) for flat, z in layers])
    rim = _along(section(shape.form), 120)
    angle = 2.0 * math.pi * np.arange(_AROUND)[:, None] / _AROUND
    parts = [np.sin(angle) * rim[:, 0], np.broadcast_to(rim[:, 1], (_AROUND, len(rim))), np.cos(angle) * rim[:, 0]]
    return np.stack(parts, -1).reshape(-1, 3)


def _along(area: BaseGeometry, count: int) -> Array:
    """Return the corners of an area's rims and places between them, `count` or more."""
    import shapely

    return np.asarray(shapely.get_coordinates(area.boundary.segmentize(area.boundary.length / count)))


def _directions(count: int) -> Array:
    """Return directions spread evenly over the sphere, along a spiral by the golden angle."""
    height = 1.0 - (2.0 * np.arange(count) + 1.0) / count
    angle = math.pi * (3.0 - math.sqrt(5.0)) * np.arange(count)
    aside = np.sqrt(1.0 - height**2)
    return np.column_stack([aside * np.cos(angle), height, aside * np.sin(angle)])
