"""Rays against the whole stage: what a ray meets first, whether a line is free, where a body ends.

All shapes are tried in turn, for a set has a few dozen; first against their bounds, which halves the time. Only a mesh
has a tree of its own.
"""

from __future__ import annotations

import numpy as np

from throughlight.optics.kernel import kernel
from throughlight.optics.vectors import cross, dot, negate, normalise, subtract
from throughlight.trace import shapes, triangles
from throughlight.trace.shapes import MESH, T_MIN
from throughlight.trace.slabs import inverse, misses


@kernel
def _facet_normal(corners, i):
    """Return the unit normal of triangle i, on the side from which its corners run anticlockwise."""
    a = (corners[i, 0], corners[i, 1], corners[i, 2])
    b = (corners[i, 3], corners[i, 4], corners[i, 5])
    c = (corners[i, 6], corners[i, 7], corners[i, 8])
    return normalise(cross(subtract(b, a), subtract(c, a)))


@kernel
def _nearest_facet(stage, rec, origin, direction, sides, t_min, t_max, any_hit):
    """Return the nearest hit (or, with any_hit, some hit) of a ray with a mesh: distance and triangle, or −1."""
    return triangles.nearest(
        stage.triangles, stage.boxes, stage.links, rec["first_node"], origin, direction, sides, t_min, t_max, any_hit
    )


@kernel
def closest(stage, origin, direction, t_max):
    """Find the nearest hit beyond T_MIN.

    Parameters
    ----------
    stage
        A Stage.
    origin, direction
        The ray; the direction is of unit length.
    t_max
        Hits at this distance or beyond do not count, metres.

    Returns
    -------
    t, shape
        Distance in metres and row of the shape; inf and −1 when nothing is met.
    normal
        Geometric unit normal, turned toward the ray's origin.
    front
        True when the outside, or the face toward +normal, was met.
    """
    best, shape, facet = t_max, -1, -1
    over = inverse(direction)
    for i in range(len(stage.shapes)):
        rec = stage.shapes[i]
        if misses(rec, origin, over, best):
            continue
        if rec["kind"] == MESH:
            t, met = _nearest_facet(stage, rec, origin, direction, triangles.EITHER, T_MIN, best, False)
            if met >= 0:
                best, shape, facet = t, i, met
        else:
            t = shapes.distance(rec, origin, direction)
            if t < best:
                best, shape = t, i
    if shape < 0:
        return np.inf, -1, negate(direction), True
    if stage.shapes[shape]["kind"] == MESH:
        normal = _facet_normal(stage.triangles, facet)
        front = dot(normal, direction) < 0.0
    else:
        normal, front = shapes.outward(stage.shapes[shape], origin, direction, best)
    return best, shape, (normal if front else negate(normal)), front


@kernel
def blocked(stage, origin, direction, distance):
    """Tell whether anything stands on a ray beyond T_MIN and before `distance` less T_MIN, metres."""
    limit = distance * (1.0 - 1e-9) - T_MIN
    over = inverse(direction)
    for i in range(len(stage.shapes)):
        rec = stage.shapes[i]
        if misses(rec, origin, over, limit):
            continue
        if rec["kind"] == MESH:
            _, met = _nearest_facet(stage, rec, origin, direction, triangles.EITHER, T_MIN, limit, True)
            if met >= 0:
                return True
        elif shapes.distance(rec, origin, direction) < limit:
            return True
    return False


@kernel
def leave(stage, shape, origin, direction):
    """Find where a ray from inside a closed shape (box, round, sphere, mesh) leaves it; see `leave_within`."""
    return leave_within(stage, shape, origin, direction, np.inf)


@kernel
def leave_within(stage, shape, origin, direction, limit):
    """Find where a ray from inside a closed shape leaves it, looking no farther than `limit`, metres.

    Of a mesh only the faces seen from behind count, so that a start on the boundary is neither met again nor lost. A
    short limit spares most of a mesh's tree.

    Returns
    -------
    t
        Distance to the boundary, ≥ 0, metres; inf when it lies beyond the limit, or the ray finds a hole in a mesh.
    normal
        Outward unit normal there.
    """
    rec = stage.shapes[shape]
    if rec["kind"] != MESH:
        t, normal = shapes.departure(rec, origin, direction)
        return (t if t <= limit else np.inf), normal
    t, met = _nearest_facet(stage, rec, origin, direction, triangles.LEAVING, -T_MIN, limit, False)
    if met < 0:
        return np.inf, direction
    return max(t, 0.0), _facet_normal(stage.triangles, met)
