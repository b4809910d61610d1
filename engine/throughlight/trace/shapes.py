"""Where a ray meets one exact shape, and which way that shape's surface faces there.

Rectangle and disc: the plane z = 0 of the local frame. Box: three pairs of planes. Sphere and tube: the quadratic
t = −b ± √(r² − |p|²) about the point p where the line comes nearest to the centre or axis, which keeps its digits far
from the shape (Haines et al. 2019, "Precision Improvements for Ray/Sphere Intersection", Ray Tracing Gems, ch. 7).
Closed shapes are convex: a line is inside one from `near` to `far`, the overlap of the lengths it spends inside each of
the shape's bounding surfaces.
"""

from __future__ import annotations

import math

import numpy as np

from throughlight.optics.kernel import inlined, kernel
from throughlight.optics.vectors import along, dot
from throughlight.trace.tables import ShapeKind

T_MIN = 1e-7
"""Nearer hits do not count, in metres: a ray must not meet again the surface it starts from."""

RECTANGLE = int(ShapeKind.RECTANGLE)
DISC = int(ShapeKind.DISC)
BOX = int(ShapeKind.BOX)
ROUND = int(ShapeKind.ROUND)
SPHERE = int(ShapeKind.SPHERE)
TUBE = int(ShapeKind.TUBE)
MESH = int(ShapeKind.MESH)

# The surface a line crosses: a pair of flats, or the curved wall; and which way. Literals would compile twice.
_X, _Y, _Z, _WALL = np.int64(0), np.int64(1), np.int64(2), np.int64(3)
_ENTERING, _LEAVING = np.bool_(False), np.bool_(True)


@inlined
def _local(rec, v):
    """Return a world vector's components in the shape's frame."""
    return (
        rec["tx"] * v[0] + rec["ty"] * v[1] + rec["tz"] * v[2],
        rec["bx"] * v[0] + rec["by"] * v[1] + rec["bz"] * v[2],
        rec["nx"] * v[0] + rec["ny"] * v[1] + rec["nz"] * v[2],
    )


@inlined
def _world(rec, v):
    """Return the world vector of components in the shape's frame."""
    return (
        rec["tx"] * v[0] + rec["bx"] * v[1] + rec["nx"] * v[2],
        rec["ty"] * v[0] + rec["by"] * v[1] + rec["ny"] * v[2],
        rec["tz"] * v[0] + rec["bz"] * v[1] + rec["nz"] * v[2],
    )


@inlined
def _from_origin(rec, point):
    return (point[0] - rec["ox"], point[1] - rec["oy"], point[2] - rec["oz"])


@kernel
def _between_flats(o, d, half):
    """Return the stretch of a line between −half and +half; a parallel line is in for ever, or never."""
    if d == 0.0:
        return (-np.inf, np.inf) if abs(o) <= half else (np.inf, -np.inf)
    a, b = (-half - o) / d, (half - o) / d
    return (a, b) if a < b else (b, a)


@kernel
def _within_round(ox, oy, dx, dy, radius):
    """Return the stretch of a line in the plane within a circle."""
    dd = dx * dx + dy * dy
    if dd == 0.0:
        return (-np.inf, np.inf) if ox * ox + oy * oy <= radius * radius else (np.inf, -np.inf)
    middle = -(ox * dx + oy * dy) / dd
    px, py = ox + middle * dx, oy + middle * dy
    spare = radius * radius - px * px - py * py
    if spare < 0.0:
        return np.inf, -np.inf
    half = math.sqrt(spare / dd)
    return middle - half, middle + half


@kernel
def _within_ball(o, d, radius):
    """Return the stretch of a line within a sphere; d is of unit length."""
    middle = -(o[0] * d[0] + o[1] * d[1] + o[2] * d[2])
    px, py, pz = along(o, d, middle)
    spare = radius * radius - px * px - py * py - pz * pz
    if spare < 0.0:
        return np.inf, -np.inf
    half = math.sqrt(spare)
    return middle - half, middle + half


@kernel
def _box_stretch(o, d, a, b, c):
    near, far = _between_flats(o[0], d[0], a)
    enter, leave = _X, _X
    low, high = _between_flats(o[1], d[1], b)
    if low > near:
        near, enter = low, _Y
    if high < far:
        far, leave = high, _Y
    low, high = _between_flats(o[2], d[2], c)
    if low > near:
        near, enter = low, _Z
    if high < far:
        far, leave = high, _Z
    return near, far, enter, leave


@kernel
def _round_stretch(o, d, radius, half):
    near, far = _within_round(o[0], o[1], d[0], d[1], radius)
    enter, leave = _WALL, _WALL
    low, high = _between_flats(o[2], d[2], half)
    if low > near:
        near, enter = low, _Z
    if high < far:
        far, leave = high, _Z
    return near, far, enter, leave


@kernel
def _stretch(rec, o, d):
    """Return where a line enters and leaves a closed shape and through what; near > far when it misses."""
    if rec["kind"] == BOX:
        return _box_stretch(o, d, rec["sa"], rec["sb"], rec["sc"])
    if rec["kind"] == ROUND:
        return _round_stretch(o, d, rec["sa"], rec["sc"])
    near, far = _within_ball(o, d, rec["sa"])
    return near, far, _WALL, _WALL


@inlined
def _flat_distance(rec, point, direction):
    """Return the distance to a rectangle or disc, inf when the line misses it."""
    nd = rec["nx"] * direction[0] + rec["ny"] * direction[1] + rec["nz"] * direction[2]
    v = _from_origin(rec, point)
    t = -(rec["nx"] * v[0] + rec["ny"] * v[1] + rec["nz"] * v[2]) / nd
    if not T_MIN < t < np.inf:
        return np.inf
    p = along(v, direction, t)
    x = rec["tx"] * p[0] + rec["ty"] * p[1] + rec["tz"] * p[2]
    y = rec["bx"] * p[0] + rec["by"] * p[1] + rec["bz"] * p[2]
    if rec["kind"] == RECTANGLE:
        return t if abs(x) <= rec["sa"] and abs(y) <= rec["sb"] else np.inf
    return t if x * x + y * y <= rec["sa"] * rec["sa"] else np.inf


@kernel
def _tube_distance(rec, o, d):
    near, far = _within_round(o[0], o[1], d[0], d[1], rec["sa"])
    if near > T_MIN and abs(o[2] + near * d[2]) <= rec["sc"]:
        return near
    if T_MIN < far < np.inf and abs(o[2] + far * d[2]) <= rec["sc"]:
        return far
    return np.inf


@inlined
def distance(rec, origin, direction):
    """Return the distance beyond T_MIN to any shape but a mesh, in metres; inf when the ray misses it."""
    kind = rec["kind"]
    if kind in (RECTANGLE, DISC):
        return _flat_distance(rec, origin, direction)
    o, d = _local(rec, _from_origin(rec, origin)), _local(rec, direction)
    if kind == TUBE:
        return _tube_distance(rec, o, d)
    near, far, _, _ = _stretch(rec, o, d)
    if not near <= far:
        return np.inf
    return near if near > T_MIN else (far if far > T_MIN else np.inf)


@inlined
def _normal(rec, o, d, t, through, leaving):
    """Return the outward unit normal, in the world, where a line crosses a closed shape or a tube."""
    if through == _WALL:
        x, y, z = along(o, d, t)
        if rec["kind"] != SPHERE:
            z = 0.0
        s = 1.0 / math.sqrt(x * x + y * y + z * z)
        return _world(rec, (x * s, y * s, z * s))
    sign = 1.0 if leaving else -1.0
    x = math.copysign(sign, sign * d[0]) if through == _X else 0.0
    y = math.copysign(sign, sign * d[1]) if through == _Y else 0.0
    z = math.copysign(sign, sign * d[2]) if through == _Z else 0.0
    return _world(rec, (x, y, z))


@kernel
def outward(rec, origin, direction, t):
    """Return what faces a ray at the hit that `distance` found.

    Returns
    -------
    normal
        Unit normal of the outside, or of the face toward local +z.
    front
        True when the ray comes from that side.
    """
    kind = rec["kind"]
    if kind in (RECTANGLE, DISC):
        normal = (rec["nx"], rec["ny"], rec["nz"])
        return normal, dot(normal, direction) < 0.0
    o, d = _local(rec, _from_origin(rec, origin)), _local(rec, direction)
    if kind == TUBE:
        middle = -(o[0] * d[0] + o[1] * d[1])  # over dx² + dy²: where the line comes nearest to the axis
        return _normal(rec, o, d, t, _WALL, _ENTERING), t * (d[0] * d[0] + d[1] * d[1]) < middle
    near, _, enter, leave = _stretch(rec, o, d)
    if near > T_MIN:
        return _normal(rec, o, d, t, enter, _ENTERING), True
    return _normal(rec, o, d, t, leave, _LEAVING), False


@inlined
def _box_departure(o, d, a, b, c):
    """Return the distance from inside a box to the first of the three planes ahead, and which it is."""
    far = (math.copysign(a, d[0]) - o[0]) / d[0]  # infinite, or no number, for a pair of planes along the ray
    y = (math.copysign(b, d[1]) - o[1]) / d[1]
    z = (math.copysign(c, d[2]) - o[2]) / d[2]
    far = far if far < np.inf else np.inf
    leave = _Y if y < far else _X
    far = y if y < far else far
    leave = _Z if z < far else leave
    far = z if z < far else far
    return far, leave


@inlined
def departure(rec, origin, direction):
    """Return the distance from inside a closed shape (no mesh) to its boundary, and the outward normal there.

    A start that rounding put just outside leaves at once: the distance is never negative.
    """
    o, d = _local(rec, _from_origin(rec, origin)), _local(rec, direction)
    if rec["kind"] == BOX:
        far, leave = _box_departure(o, d, rec["sa"], rec["sb"], rec["sc"])
    else:
        near, far, _, leave = _stretch(rec, o, d)
        if not near <= far:  # a line along the very skin: out at once
            far = 0.0
    t = max(far, 0.0)
    return t, _normal(rec, o, d, t, leave, _LEAVING)
