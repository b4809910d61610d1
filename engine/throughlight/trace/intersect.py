"""Rays against the whole stage: what a ray meets first, whether a line is free, where a body ends.

All shapes are tried in turn, for a set has a few dozen; first against their bounds, which halves the time. Only a mesh
has a tree of its own.
"""

from __future__ import annotations

import numpy as np

from throughlight.optics import sheet
from throughlight.optics.kernel import inlined, kernel
from throughlight.optics.vectors import along, cross, dot, multiply, negate, normalise, subtract
from throughlight.trace import shapes, triangles
from throughlight.trace.shapes import MESH, T_MIN
from throughlight.trace.slabs import inverse, misses
from throughlight.trace.tables import SurfaceKind

_SHEET = int(SurfaceKind.SHEET)
# Columns of the corners, and what to look for; literals would compile what they are handed to again.
_A, _B, _C = np.int64(0), np.int64(3), np.int64(6)
_FIRST, _SECOND, _THIRD = np.int64(0), np.int64(1), np.int64(2)
_ANY, _NEAREST = np.bool_(True), np.bool_(False)


@kernel
def _corner(corners, i, first):
    return (corners[i, first], corners[i, first + 1], corners[i, first + 2])


@kernel
def _facet_normal(corners, i):
    """Return the unit normal of triangle i, on the side from which its corners run anticlockwise."""
    a, b, c = (
        triangles.corner(corners, i, _FIRST),
        triangles.corner(corners, i, _SECOND),
        triangles.corner(corners, i, _THIRD),
    )
    return normalise(cross(subtract(b, a), subtract(c, a)))


@inlined
def _smooth_normal(stage, rec, i, point, true):
    """Return the normal at a point of triangle i, spread evenly between its corners' normals."""
    corners = stage.triangles
    a, b, c = (
        triangles.corner(corners, i, _FIRST),
        triangles.corner(corners, i, _SECOND),
        triangles.corner(corners, i, _THIRD),
    )
    u = dot(cross(subtract(c, b), subtract(point, b)), true)
    v = dot(cross(subtract(a, c), subtract(point, c)), true)
    w = dot(cross(subtract(b, a), subtract(point, a)), true)
    row = rec["first_normal"] + i - rec["first_triangle"]
    na, nb, nc = _corner(stage.normals, row, _A), _corner(stage.normals, row, _B), _corner(stage.normals, row, _C)
    return normalise(
        (
            u * na[0] + v * nb[0] + w * nc[0],
            u * na[1] + v * nb[1] + w * nc[1],
            u * na[2] + v * nb[2] + w * nc[2],
        )
    )


@inlined
def _normals(stage, rec, i, origin, direction, t):
    """Return the smooth and the true outward normal where a ray meets triangle i.

    The smooth one gives way to the true one where it would see the ray from the other side.
    """
    true = _facet_normal(stage.triangles, i)
    if rec["first_normal"] == 0:
        return true, true
    smooth = _smooth_normal(stage, rec, i, along(origin, direction, t), true)
    if dot(smooth, direction) * dot(true, direction) <= 0.0:
        return true, true
    return smooth, true


@inlined
def _nearest_facet(stage, rec, origin, direction, sides, t_min, t_max, any_hit):
    """Return the nearest hit (or, with any_hit, some hit) of a ray with a mesh: distance and triangle, or −1."""
    return triangles.nearest(
        stage.triangles, stage.boxes, stage.links, rec["first_node"], origin, direction, sides, t_min, t_max, any_hit
    )


@kernel
def meet(stage, within, origin, direction, t_max):
    """Find what a ray meets first, beyond T_MIN.

    Parameters
    ----------
    stage
        A Stage.
    within
        The bodies that the ray is inside of, one bit for each row of the shapes. Of these it meets only the inside, at
        any distance from 0 on, so that a start on the boundary is neither met again nor lost.
    origin, direction
        The ray; the direction is of unit length.
    t_max
        Hits at this distance or beyond do not count, metres.

    Returns
    -------
    t, shape
        Distance in metres and row of the shape; inf and −1 when nothing is met.
    normal, true
        Unit normals turned toward the ray's origin: the smooth one that light obeys, and the geometric one.
    front
        True when the outside, or the face toward +normal, was met.
    """
    best, shape, facet = t_max, np.int64(-1), np.int64(-1)
    over = inverse(direction)
    for i in range(len(stage.shapes)):
        rec = stage.shapes[i]
        if misses(rec, origin, over, best):
            continue
        inside = i < 63 and (within >> i) & 1 == 1
        if rec["kind"] == MESH:
            sides, least = (triangles.LEAVING, -T_MIN) if inside else (triangles.EITHER, T_MIN)
            t, met = _nearest_facet(stage, rec, origin, direction, sides, least, best, _NEAREST)
            if met >= 0:
                best, shape, facet = max(t, 0.0), i, met
        else:
            t = shapes.departure(rec, origin, direction)[0] if inside else shapes.distance(rec, origin, direction)
            if t < best:
                best, shape = t, i
    if shape < 0:
        back = negate(direction)
        return np.inf, np.int64(-1), back, back, True
    rec = stage.shapes[shape]
    if rec["kind"] == MESH:
        normal, true = _normals(stage, rec, facet, origin, direction, best)
        front = dot(true, direction) < 0.0
    elif shape < 63 and (within >> shape) & 1 == 1:
        normal = shapes.departure(rec, origin, direction)[1]
        true, front = normal, False
    else:
        normal, front = shapes.outward(rec, origin, direction, best)
        true = normal
    if front:
        return best, shape, normal, true, True
    return best, shape, negate(normal), negate(true), False


@inlined
def closest(stage, origin, direction, t_max):
    """Return `meet` for a ray in the open, without the geometric normal."""
    t, shape, normal, _, front = meet(stage, np.int64(0), origin, direction, t_max)
    return t, shape, normal, front


@inlined
def clear_way(stage, origin, direction, distance):
    """Return the share of light, by band, that a straight line lets pass between T_MIN and `distance` less T_MIN.

    Thin sheets let some of it through; everything else stops it, clear bodies too, since they bend it.
    """
    limit = distance * (1.0 - 1e-9) - T_MIN
    over = inverse(direction)
    passed = (1.0, 1.0, 1.0)
    nothing = (0.0, 0.0, 0.0)
    for i in range(len(stage.shapes)):
        rec = stage.shapes[i]
        if misses(rec, origin, over, limit):
            continue
        if rec["kind"] == MESH:
            _, met = _nearest_facet(stage, rec, origin, direction, triangles.EITHER, T_MIN, limit, _ANY)
            if met >= 0:
                return nothing
        elif shapes.distance(rec, origin, direction) < limit:
            part = stage.parts[rec["part"]]
            if part["surface"] != _SHEET:
                return nothing
            cosine = abs(rec["nx"] * direction[0] + rec["ny"] * direction[1] + rec["nz"] * direction[2])
            passed = multiply(passed, sheet.straight(part, cosine))
    return passed


@kernel
def _leave_mesh(stage, rec, origin, direction, limit):
    t, met = _nearest_facet(stage, rec, origin, direction, triangles.LEAVING, -T_MIN, limit, _NEAREST)
    if met < 0:
        return np.inf, direction, direction
    t = max(t, 0.0)
    normal, true = _normals(stage, rec, met, origin, direction, t)
    return t, normal, true


@kernel
def leave(stage, shape, origin, direction):
    """Find where a ray from inside a closed shape (box, round, sphere, mesh) leaves it; see `leave_within`."""
    return leave_within(stage, shape, origin, direction, np.inf)


@inlined
def leave_within(stage, shape, origin, direction, limit):
    """Find where a ray from inside a closed shape leaves it, looking no farther than `limit`, metres.

    Of a mesh only the faces seen from behind count, so that a start on the boundary is neither met again nor lost. A
    short limit spares most of a mesh's tree.

    Returns
    -------
    t
        Distance to the boundary, ≥ 0, metres; inf when it lies beyond the limit, or the ray finds a hole in a mesh.
    normal, true
        Outward unit normals there, smooth and geometric.
    """
    rec = stage.shapes[shape]
    if rec["kind"] != MESH:
        t, normal = shapes.departure(rec, origin, direction)
        return (t if t <= limit else np.inf), normal, normal
    return _leave_mesh(stage, rec, origin, direction, limit)
