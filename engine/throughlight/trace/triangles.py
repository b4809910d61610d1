"""Rays against the triangles of a mesh, through its tree.

The triangle test shears space so that the ray runs along +z (Woop, Benthin, Wald 2013, "Watertight Ray/Triangle
Intersection", JCGT 2(1)) in float64: the two triangles of an edge compute the same number with opposite signs, and zero
counts as inside for both, so no ray slips between them.

The walk needs no stack: one bit a level remembers that the farther child still waits, and the way back leads over the
links to parent and sibling (after Barringer and Akenine-Möller 2013, "Dynamic stackless binary tree traversal", JCGT
2(1)). Indices are unsigned, because a signed one costs a test for negative values at each access.
"""

from __future__ import annotations

import numba
import numpy as np

from throughlight.optics.kernel import kernel
from throughlight.trace.slabs import inverse, less, more
from throughlight.trace.tree import leaf_span

EITHER, LEAVING = 0, 1
"""Which sides of a triangle count: both, or only those that a ray meets from behind, leaving the body."""

# Products may fuse with sums here, which pays 8 %: the boxes are padded for far larger errors. Never in the triangle
# test, whose exactness lives on both triangles of an edge rounding alike.
_fused = numba.njit(
    error_model="numpy", nogil=True, fastmath={"contract"}, no_cpython_wrapper=True, no_cfunc_wrapper=True
)

_ONE, _NONE = np.uint64(1), np.uint64(0)
_THREE, _SIX = np.uint64(3), np.uint64(6)


@kernel
def _component(v, axis):
    return v[0] if axis == 0 else (v[1] if axis == 1 else v[2])


@kernel
def _shear(origin, direction):
    """Return what turns the direction into +z: axes kx, ky, kz, shears sx, sy, sz, and the origin along the axes."""
    x, y, z = abs(direction[0]), abs(direction[1]), abs(direction[2])
    kz = 2
    if x >= y and x >= z:
        kz = 0
    elif y >= z:
        kz = 1
    kx = kz + 1 if kz < 2 else 0
    ky = kx + 1 if kx < 2 else 0
    dz = _component(direction, kz)
    if dz < 0.0:
        kx, ky = ky, kx
    shears = (_component(direction, kx) / dz, _component(direction, ky) / dz, 1.0 / dz)
    start = (_component(origin, kx), _component(origin, ky), _component(origin, kz))
    return (np.uint64(kx), np.uint64(ky), np.uint64(kz)), shears, start


@kernel
def _meet(triangles, i, axes, shears, start, sides, t_min, t_max):
    """Return the distance to triangle i within (t_min, t_max), or t_max."""
    kx, ky, kz = axes
    sx, sy, sz = shears
    ox, oy, oz = start
    az, bz, cz = triangles[i, kz] - oz, triangles[i, _THREE + kz] - oz, triangles[i, _SIX + kz] - oz
    ax, ay = triangles[i, kx] - ox - sx * az, triangles[i, ky] - oy - sy * az
    bx, by = triangles[i, _THREE + kx] - ox - sx * bz, triangles[i, _THREE + ky] - oy - sy * bz
    cx, cy = triangles[i, _SIX + kx] - ox - sx * cz, triangles[i, _SIX + ky] - oy - sy * cz
    u = cx * by - cy * bx
    v = ax * cy - ay * cx
    w = bx * ay - by * ax
    behind = more(more(u, v), w) <= 0.0  # no number positive: the corners run clockwise as the ray sees them
    before = (less(less(u, v), w) >= 0.0) & (sides == EITHER)
    t = (u * az + v * bz + w * cz) * sz / (u + v + w)  # no number at all when the ray lies in the triangle's plane
    return t if (behind | before) & (t > t_min) & (t < t_max) else t_max


@kernel
def _slabs(origin, direction):
    """Return the inverse direction, origin times it, and for each axis the columns of the nearer and farther planes."""
    x, y, z = inverse(direction)
    near = (np.uint64(3 if x < 0.0 else 0), np.uint64(4 if y < 0.0 else 1), np.uint64(5 if z < 0.0 else 2))
    far = (_THREE - near[0], np.uint64(5) - near[1], np.uint64(7) - near[2])
    return (x, y, z), (origin[0] * x, origin[1] * y, origin[2] * z), near, far


@_fused
def _stretch(boxes, node, side, slabs, t_min, t_max):
    """Return where a ray enters and leaves a child's box, within (t_min, t_max); it misses when the first is larger."""
    (x, y, z), (ox, oy, oz), near, far = slabs
    enter = more(
        more(boxes[node, side + near[0]] * x - ox, boxes[node, side + near[1]] * y - oy),
        more(boxes[node, side + near[2]] * z - oz, t_min),
    )
    leave = less(
        less(boxes[node, side + far[0]] * x - ox, boxes[node, side + far[1]] * y - oy),
        less(boxes[node, side + far[2]] * z - oz, t_max),
    )
    return enter, leave


@kernel
def nearest(triangles, boxes, links, root, origin, direction, sides, t_min, t_max, any_hit):
    """Walk the tree to the nearest triangle.

    Parameters
    ----------
    triangles, boxes, links
        The pools of a Stage.
    root
        Node to begin at.
    origin, direction
        The ray; t counts in lengths of the direction.
    sides
        EITHER or LEAVING.
    t_min, t_max
        Only t_min < t < t_max counts.
    any_hit
        True: stop at the first hit found, near or not.

    Returns
    -------
    t, triangle
        Distance and row of the triangle; t_max and −1 when nothing was met.
    """
    axes, shears, start = _shear(origin, direction)
    slabs = _slabs(origin, direction)
    best, found = t_max, -1
    node, trail = np.uint64(root), _ONE
    while True:
        enter_a, leave_a = _stretch(boxes, node, _NONE, slabs, t_min, best)
        enter_b, leave_b = _stretch(boxes, node, _SIX, slabs, t_min, best)
        in_a, in_b = enter_a <= leave_a, enter_b <= leave_b
        a, b = links[node, 0], links[node, 1]
        if in_a and a < 0:
            first, last = leaf_span(a)
            for i in range(first, last):
                t = _meet(triangles, np.uint64(i), axes, shears, start, sides, t_min, best)
                if t < best:
                    best, found = t, i
            in_a = False
        if in_b and b < 0:
            first, last = leaf_span(b)
            for i in range(first, last):
                t = _meet(triangles, np.uint64(i), axes, shears, start, sides, t_min, best)
                if t < best:
                    best, found = t, i
            in_b = False
        if any_hit and found >= 0:
            return best, found
        if in_a and in_b:
            trail = (trail << _ONE) | _ONE
            node = np.uint64(a) if enter_a <= enter_b else np.uint64(b)
        elif in_a or in_b:
            trail = trail << _ONE
            node = np.uint64(a) if in_a else np.uint64(b)
        else:
            while trail & _ONE == _NONE:
                trail = trail >> _ONE
                node = np.uint64(links[node, 2])
            if trail == _ONE:
                return best, found
            trail = trail ^ _ONE
            node = np.uint64(links[node, 3])
