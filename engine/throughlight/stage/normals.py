"""Which way a skin of triangles looks at each corner: smooth over gentle bends, sharp at real edges."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

CREASE = math.radians(30.0)
"""A bend of more than this is an edge."""


def unit(vectors: Floats) -> Floats:
    """Return vectors (…, k) with length one; those without length stay zero."""
    size = np.linalg.norm(vectors, axis=-1, keepdims=True)
    return np.asarray(vectors / np.where(size > 0.0, size, 1.0))


def corner_angles(vertices: Floats, faces: Ints) -> Floats:
    """Return the angle of each triangle at each of its corners, (m, 3), radians."""
    corners = vertices[faces]
    ahead = unit(np.roll(corners, -1, axis=1) - corners)
    back = unit(np.roll(corners, 1, axis=1) - corners)
    return np.asarray(np.arccos(np.clip((ahead * back).sum(axis=-1), -1.0, 1.0)))


def creased(faces: Ints, directions: Floats, weights: Floats, crease: float = CREASE) -> Floats:
    """Return a direction for each corner of each triangle, averaged over the triangles that meet there.

    Parameters
    ----------
    faces
        (m, 3) rows of vertices.
    directions
        (m, k) unit direction of each triangle; zero where it has none of its own.
    weights
        (m, 3) of each triangle at each of its corners, such as its angle there.
    crease
        Triangles that differ by a larger angle, radians, do not share a direction.

    Returns
    -------
    array (m, 3, k)
        Unit directions; that of the triangle where the average vanishes.
    """
    corner = faces.reshape(-1)
    order = np.argsort(corner, kind="stable")
    start = np.flatnonzero(np.diff(corner[order], prepend=-1))
    size = np.diff(start, append=len(order))
    group = np.repeat(np.arange(len(start)), size)  # of each sorted corner
    count = size[group]
    mine = np.repeat(order, count)
    offset = np.arange(len(mine)) - np.repeat(np.cumsum(count) - count, count)
    theirs = order[np.repeat(start[group], count) + offset]
    own, other = directions[mine // 3], directions[theirs // 3]
    near = ((own * other).sum(axis=1) > math.cos(crease)) | ~own.any(axis=1)
    share = np.where(near, weights.reshape(-1)[theirs], 0.0)[:, None] * other
    total: Floats = np.stack([np.bincount(mine, share[:, k], len(corner)) for k in range(share.shape[1])], axis=1)
    lone = ~(np.linalg.norm(total, axis=1) > 0.0)
    total[lone] = np.repeat(directions, 3, axis=0)[lone]
    return unit(total).reshape(len(faces), 3, -1)
