"""Rays against the triangles of a mesh, through its tree.

The triangle test shears space so that the ray runs along +z (Woop, Benthin, Wald 2013, "Watertight Ray/Triangle
Intersection", JCGT 2(1)) in float64: the two triangles of an edge compute the same number with opposite signs, and zero
counts as inside for both, so no ray slips between them.

The walk needs no stack: one bit a level remembers that the farther child still waits, and the way back leads over the
parents (after Barringer and Akenine-Möller 2013, "Dynamic stackless binary tree traversal", JCGT 2(1)).
"""

from __future__ import annotations

import math

import numpy as np

from throughlight.optics.kernel import kernel
from throughlight.trace.tree import leaf_span

EITHER, LEAVING = 0, 1
"""Which sides of a triangle count: both, or only those that a ray meets from behind, leaving the body."""

_SLACK = 1.0 + 1e-15  # covers the rounding of the distances to a box's planes


@kernel
def _component(v, axis):
    return v[0] if axis == 0 else (v[1] if axis == 1 else v[2])


@kernel
def _shear(direction):
    """Return the axes (kx, ky, kz) and the shears (sx, sy, sz) that turn the direction into +z."""
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
    return kx, ky, kz, _component(direction, kx) / dz, _component(direction, ky) / dz, 1.0 / dz


@kernel
def _inverse(x):
    """Return 1/x, or a huge number of x's sign where that would be infinite: 0·∞ has no value, 0·1e300 has."""
    return 1.0 / x if abs(x) > 1e-300 else math.copysign(1e300, x)


@kernel
def _meet(triangles, i, start, shear, sides, t_min, t_max):
    """Return the distance to triangle i within (t_min, t_max), or t_max."""
    kx, ky, kz, sx, sy, sz = shear
    ox, oy, oz = start
    az, bz, cz = triangles[i, kz] - oz, triangles[i, 3 + kz] - oz, triangles[i, 6 + kz] - oz
    ax, ay = triangles[i, kx] - ox - sx * az, triangles[i, ky] - oy - sy * az
    bx, by = triangles[i, 3 + kx] - ox - sx * bz, triangles[i, 3 + ky] - oy - sy * bz
    cx, cy = triangles[i, 6 + kx] - ox - sx * cz, triangles[i, 6 + ky] - oy - sy * cz
    u = cx * by - cy * bx
    v = ax * cy - ay * cx
    if (u < 0.0 and v > 0.0) or (u > 0.0 and v < 0.0):
        return t_max
    w = bx * ay - by * ax
    if (u < 0.0 or v < 0.0 or w < 0.0) and (u > 0.0 or v > 0.0 or w > 0.0):
        return t_max
    area = u + v + w
    if area == 0.0 or (sides == LEAVING and area > 0.0):
        return t_max
    t = (u * az + v * bz + w * cz) * sz / area
    return t if t_min < t < t_max else t_max


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
    ix, iy, iz = _inverse(direction[0]), _inverse(direction[1]), _inverse(direction[2])
    near_x, near_y, near_z = 3 * (ix < 0.0), 1 + 3 * (iy < 0.0), 2 + 3 * (iz < 0.0)
    far_x, far_y, far_z = 3 - near_x, 5 - near_y, 7 - near_z
    ox, oy, oz = origin
    shear = _shear(direction)
    start = (_component(origin, shear[0]), _component(origin, shear[1]), _component(origin, shear[2]))
    best, found = t_max, -1
    node, trail = root, np.uint64(1)
    one = np.uint64(1)
    while True:
        # distances to the boxes of both children
        a0 = max(max((boxes[node, near_x] - ox) * ix, (boxes[node, near_y] - oy) * iy),
                 max((boxes[node, near_z] - oz) * iz, t_min))
        a1 = min(min((boxes[node, far_x] - ox) * ix, (boxes[node, far_y] - oy) * iy),
                 min((boxes[node, far_z] - oz) * iz, best))
        b0 = max(max((boxes[node, 6 + near_x] - ox) * ix, (boxes[node, 6 + near_y] - oy) * iy),
                 max((boxes[node, 6 + near_z] - oz) * iz, t_min))
        b1 = min(min((boxes[node, 6 + far_x] - ox) * ix, (boxes[node, 6 + far_y] - oy) * iy),
                 min((boxes[node, 6 + far_z] - oz) * iz, best))
        in_a, in_b = a0 <= a1 * _SLACK, b0 <= b1 * _SLACK
        left, right = links[node, 0], links[node, 1]
        if in_a and left < 0:
            first, last = leaf_span(left)
            for i in range(first, last):
                t = _meet(triangles, i, start, shear, sides, t_min, best)
                if t < best:
                    best, found = t, i
            in_a = False
        if in_b and right < 0:
            first, last = leaf_span(right)
            for i in range(first, last):
                t = _meet(triangles, i, start, shear, sides, t_min, best)
                if t < best:
                    best, found = t, i
            in_b = False
        if any_hit and found >= 0:
            return best, found
        if in_a and in_b:
            trail = (trail << one) | one
            node = left if a0 <= b0 else right
        elif in_a or in_b:
            trail = trail << one
            node = left if in_a else right
        else:
            while trail & one == np.uint64(0):
                trail = trail >> one
                node = links[node, 2]
            if trail == one:
                return best, found
            trail = trail ^ one
            parent = links[node, 2]
            node = links[parent, 1] if links[parent, 0] == node else links[parent, 0]
