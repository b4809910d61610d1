"""Rays against the triangles of a mesh, through its tree.

A node's children are visited nearest first. Those that wait stand on a short stack as keys, numbers that order them by
distance; one that lies beyond the nearest hit by the time it is taken up is passed over. Indices are unsigned, because
a signed one costs a test for negative values at each access.
"""

from __future__ import annotations

import numpy as np

from throughlight.optics.kernel import inlined, kernel
from throughlight.trace.lanes import EITHER, LEAVING, LINK, TRIANGLES, eight_boxes, four_triangles, key_of, lowest
from throughlight.trace.scratch import eight_keys, four_distances, waiting_keys
from throughlight.trace.slabs import inverse, more

__all__ = ["EITHER", "LEAVING", "corner", "nearest"]

_NONE, _ONE, _FOUR = np.uint64(0), np.uint64(1), np.uint64(TRIANGLES)
_NEAR, _AXES = (np.uint64(0), np.uint64(8), np.uint64(16)), (np.uint64(0), np.uint64(4), np.uint64(8))
_HIGH = np.uint64(24)  # from the column of a low plane to that of the high one


@kernel
def corner(triangles, i, k):
    """Return corner k of triangle i, which stands in lane i mod 4 of its row."""
    row, lane = i >> 2, (i & 3) + 12 * k
    return (triangles[row, lane], triangles[row, lane + 4], triangles[row, lane + 8])


@kernel
def _component(v, axis):
    return v[0] if axis == 0 else (v[1] if axis == 1 else v[2])


@kernel
def _shear(origin, direction):
    """Return what turns the direction into +z: columns of the axes kx, ky, kz, shears, origin along the axes."""
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
    return (_component(_AXES, kx), _component(_AXES, ky), _component(_AXES, kz)), shears, start


@kernel
def _slabs(origin, direction):
    """Return the inverse direction, origin times it, and for each axis the columns of the nearer and farther planes."""
    x, y, z = inverse(direction)
    a, b, c = (_HIGH if x < 0.0 else _NONE), (_HIGH if y < 0.0 else _NONE), (_HIGH if z < 0.0 else _NONE)
    near = (_NEAR[0] + a, _NEAR[1] + b, _NEAR[2] + c)
    far = (_NEAR[0] + _HIGH - a, _NEAR[1] + _HIGH - b, _NEAR[2] + _HIGH - c)
    return (x, y, z), (origin[0] * x, origin[1] * y, origin[2] * z), near, far


@inlined
def _put(stack, bottom, top, key):
    """Put a key on the stack where it stands below all nearer ones, but not below `bottom`."""
    place = top
    while place > bottom and stack[place - _ONE] < key:
        stack[place] = stack[place - _ONE]
        place -= _ONE
    stack[place] = key


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
        Distance and number of the triangle, as `corner` counts; t_max and −1 when nothing was met.
    """
    sheared, slabs = _shear(origin, direction), _slabs(origin, direction)
    if not abs(slabs[1][0]) + abs(slabs[1][1]) + abs(slabs[1][2]) < np.inf:
        return t_max, np.int64(-1)  # an origin that is no place would be inside every box
    stack, keys, distances = waiting_keys(), eight_keys(), four_distances()
    best, found = t_max, np.int64(-1)
    last = key_of(more(best, 0.0), LINK)
    stack[_NONE] = np.int64(root) << 1
    top = _ONE
    while top > _NONE:
        top -= _ONE
        key = stack[top]
        while key <= last:
            link = np.uint64(key & LINK)
            row = link >> _ONE
            if link & _ONE == _ONE:
                mask = four_triangles(triangles, row, sheared, sides, t_min, best, distances)
                while mask != _NONE:
                    lane = lowest(mask)
                    mask &= mask - _ONE
                    if distances[lane] < best:
                        best, found = distances[lane], np.int64(row * _FOUR + lane)
                        last = key_of(more(best, 0.0), LINK)
                if any_hit and found >= 0:
                    return best, found
                break
            mask = eight_boxes(boxes, links, row, slabs, t_min, best, keys)
            if mask == _NONE:
                break
            key, bottom = keys[lowest(mask)], top
            mask &= mask - _ONE
            while mask != _NONE:
                other = keys[lowest(mask)]
                mask &= mask - _ONE
                if other < key:
                    key, other = other, key
                _put(stack, bottom, top, other)
                top += _ONE
    return best, found
