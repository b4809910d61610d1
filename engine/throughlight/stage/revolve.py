"""Bodies of revolution: the rim of a half section turned about the local y axis.

A straight piece of the rim becomes a band of a cone. Its normals are those of the true surface: at a corner of the rim
they are the mean of both pieces' by length, which is exact where an arc meets a line and between equal steps of an arc,
unless the rim turns there by more than the crease angle, which is an edge.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from throughlight.stage.normals import CREASE, unit

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SIDES = 192
"""Facets round the axis: each turns by 1.9 degrees."""


class Body(NamedTuple):
    """A closed skin: (n, 3) vertices, (m, 3) corners anticlockwise seen from outside, (m, 3, 3) normals or None."""

    vertices: Floats
    faces: Ints
    normals: Floats | None


def revolved(half: BaseGeometry, sides: int = SIDES) -> Body:
    """Turn a half section (x: radius ≥ 0, y: height, m) about the y axis.

    Parameters
    ----------
    half
        Polygons; corners on the axis have a radius of exactly zero.
    sides
        Facets round the axis.

    Raises
    ------
    ValueError
        When nothing is left to turn.
    """
    from shapely.geometry.polygon import orient

    from throughlight.setup.islands import polygons_in

    parts, count = [], 0
    for polygon in polygons_in(half):
        turned = orient(polygon, 1.0)
        for ring in (turned.exterior, *turned.interiors):
            body = _turned(np.asarray(ring.coords)[:-1], sides)
            parts.append(body._replace(faces=body.faces + count))
            count += len(body.vertices)
    if not parts:
        raise ValueError("the section encloses nothing")
    vertices, faces, normals = (np.concatenate(some) for some in zip(*parts, strict=True))
    return Body(vertices, faces, normals)


def _turned(rim: Floats, sides: int) -> Body:
    """Turn one closed line (n, 2) whose inside lies to its left."""
    start, end = _rim_normals(rim)
    angle = 2.0 * math.pi * np.arange(sides) / sides
    ahead, middle = np.roll(angle, -1), angle + math.pi / sides
    on_axis = rim[:, 0] == 0.0
    place = np.cumsum(np.where(on_axis, 1, sides)) - np.where(on_axis, 1, sides)
    vertices = np.concatenate([_around(r, y, angle[:1] if r == 0.0 else angle) for r, y in rim])
    step = np.arange(sides)
    faces, normals = [], []
    for i, j in zip(range(len(rim)), np.roll(np.arange(len(rim)), -1).tolist(), strict=True):
        if on_axis[i] and on_axis[j]:
            continue
        a, a_next = _ring(place[i], step, bool(on_axis[i]))
        b, b_next = _ring(place[j], step, bool(on_axis[j]))
        (ra, ya), (rb, yb) = start[i], end[i]
        if not on_axis[j]:  # at the axis itself the normal is that of the facet's middle
            faces.append(np.column_stack([a, b_next, b]))
            first = _around(ra, ya, middle if on_axis[i] else angle)
            normals.append(np.stack([first, _around(rb, yb, ahead), _around(rb, yb, angle)], axis=1))
        if not on_axis[i]:
            faces.append(np.column_stack([a, a_next, b_next]))
            second = _around(rb, yb, middle if on_axis[j] else ahead)
            normals.append(np.stack([_around(ra, ya, angle), _around(ra, ya, ahead), second], axis=1))
    return Body(vertices, np.concatenate(faces), np.concatenate(normals))


def _ring(first: int, step: Ints, axis: bool) -> tuple[Ints, Ints]:
    """Return the vertices at each angle and at the next one; on the axis both are the one vertex there."""
    if axis:
        return np.full(len(step), first), np.full(len(step), first)
    return first + step, first + np.roll(step, -1)


def _around(radius: float, height: float, angle: Floats) -> Floats:
    """Return places (n, 3) at angles round the y axis, from z toward x."""
    return np.column_stack([radius * np.sin(angle), np.full(len(angle), height), radius * np.cos(angle)])


def _rim_normals(rim: Floats) -> tuple[Floats, Floats]:
    """Return the outward unit normal (r, y) of the surface at the start and at the end of each piece of a rim."""
    along = np.roll(rim, -1, axis=0) - rim
    length = np.linalg.norm(along, axis=1)
    outward = np.column_stack([along[:, 1], -along[:, 0]]) / length[:, None]
    before, before_length = np.roll(outward, 1, axis=0), np.roll(length, 1)
    on_axis = rim[:, 0] == 0.0
    bottom = on_axis & np.roll(on_axis, 1)  # the piece before lies on the axis: the rim's mirror stands in
    top = on_axis & np.roll(on_axis, -1)
    own = np.where(top[:, None], before * [-1.0, 1.0], outward)
    own_length = np.where(top, before_length, length)
    other = np.where(bottom[:, None], outward * [-1.0, 1.0], before)
    other_length = np.where(bottom, length, before_length)
    smooth = (own * other).sum(axis=1) > math.cos(CREASE)
    mean = unit(own * own_length[:, None] + other * other_length[:, None])
    start = np.where(smooth[:, None], mean, outward)
    end = np.where(np.roll(smooth, -1)[:, None], np.roll(mean, -1, axis=0), outward)
    return start, end
