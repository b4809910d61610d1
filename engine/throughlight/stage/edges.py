"""Slabs of any outline, sharp or with rounded edges, as closed skins of triangles.

At the distance d from the outline a rounded edge of radius r stands at z = h/2 − r + √(r² − (r − d)²), h the
thickness: with φ the angle that its normal makes with the slab, d = r(1 − cos φ) and z = h/2 − r + r sin φ. Bands
between the outlines at successive φ (inward offsets) are cut into triangles that share the corners of the rims; the
normal is cos φ away from the nearest part of the outline and sin φ to the front.

Where the outline is narrower than 2r the edges of both sides meet in a ridge, which is cut off flat at the last
whole band, less than a tenth of r too low.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from throughlight.setup.islands import polygons_in
from throughlight.stage.flat import triangles
from throughlight.stage.normals import Floats, Ints, corner_angles, creased, unit
from throughlight.stage.revolve import Body

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

_BANDS = 18
_ROUND = 8
"""Straight steps to a right angle where an inward offset goes round a corner of the outline."""
_SLACK = 0.05
"""How far a rim may be simplified, as a part of its band's width: rims stay within one another."""
_FLAT = 1e-9


class _Half(NamedTuple):
    """The front half: corners in the plane, height and slope φ of each, triangles, and the rim's rings as rows."""

    places: Floats
    heights: Floats
    slopes: Floats
    faces: Ints
    rings: list[Ints]


def slab(area: BaseGeometry, thickness: float, edge: float = 0.0) -> Body:
    """Return a slab with smooth normals; its outline's bends of more than 30° are edges.

    Parameters
    ----------
    area
        The outline, m: polygons that may have holes.
    thickness
        Along z, m; the slab lies evenly about z = 0.
    edge
        Radius of the rounded edges, m, at most half the thickness; 0: sharp.

    Raises
    ------
    ValueError
        When the outline cannot be cut into triangles.
    """
    half = _front(area, thickness, edge)
    count = len(half.places)
    meets = 0.5 * thickness - edge < _FLAT * thickness  # both edges make one round side
    front = np.column_stack([half.places, half.heights])
    back = front * [1.0, 1.0, -1.0]
    vertices = np.concatenate([front, back])
    rim = np.concatenate(half.rings)
    behind = np.arange(count) + count
    if meets:
        vertices[rim, 2] = 0.0
        behind[rim] = rim
    sides = np.empty((0, 3), np.int64) if meets else np.concatenate([_side(ring, ring + count) for ring in half.rings])
    back_faces = behind[half.faces][:, ::-1]
    away = _away(area, half) if edge > 0.0 else np.zeros((len(half.faces), 2))
    directions = np.concatenate([away, away, _across(vertices, sides)])
    faces = np.concatenate([half.faces, back_faces, sides])
    level = creased(faces, directions, corner_angles(vertices, faces))
    slope = np.concatenate([half.slopes[half.faces], half.slopes[half.faces][:, ::-1], np.zeros((len(sides), 3))])
    facing = np.repeat([1.0, -1.0, 0.0], [len(half.faces), len(half.faces), len(sides)])
    if edge == 0.0:
        slope[: 2 * len(half.faces)] = 0.5 * math.pi
    normals = np.concatenate([level * np.cos(slope)[..., None], (np.sin(slope) * facing[:, None])[..., None]], axis=2)
    return _packed(vertices, faces, unit(normals))


def _packed(vertices: Floats, faces: Ints, normals: Floats) -> Body:
    """Return a body without the vertices that no face uses."""
    used, place = np.unique(faces, return_inverse=True)
    return Body(vertices[used], place.reshape(-1, 3), normals)


def _front(area: BaseGeometry, thickness: float, edge: float) -> _Half:
    """Cut the front into triangles, band by band from the rim to the flat middle."""
    slopes = [0.0] if edge == 0.0 else [0.5 * math.pi * i / _BANDS for i in range(_BANDS + 1)]
    places: list[tuple[float, float]] = []
    heights: list[float] = []
    turned: list[float] = []
    faces: list[Ints] = []

    def rows_of(outline: BaseGeometry, slope: float) -> dict[tuple[float, float], int]:
        rows: dict[tuple[float, float], int] = {}
        for polygon in polygons_in(outline):
            for ring in (polygon.exterior, *polygon.interiors):
                for x, y in np.asarray(ring.coords)[:-1].tolist():
                    rows.setdefault((x, y), len(places))
                    if rows[x, y] == len(places):
                        places.append((x, y))
                        heights.append(0.5 * thickness - edge + edge * math.sin(slope))
                        turned.append(slope)
        return rows

    outer, rows = area, rows_of(area, 0.0)
    rings = [_ring_rows(ring, rows) for polygon in polygons_in(area) for ring in _rings(polygon)]
    for before, slope in pairwise(slopes):
        width = edge * (math.cos(before) - math.cos(slope))
        inner = area.buffer(-edge * (1.0 - math.cos(slope)), quad_segs=_ROUND).simplify(_SLACK * width)
        inner_rows = rows_of(inner, slope)
        both = {**rows, **inner_rows}
        faces += [_named(polygon, both, even=True) for polygon in polygons_in(outer.difference(inner))]
        outer, rows = inner, inner_rows
    faces += [_named(polygon, rows) for polygon in polygons_in(outer)]
    return _Half(np.array(places), np.array(heights), np.array(turned), np.concatenate(faces), rings)


def _rings(polygon: BaseGeometry) -> list[BaseGeometry]:
    from shapely.geometry.polygon import orient

    turned = orient(polygon, 1.0)
    return [turned.exterior, *turned.interiors]


def _ring_rows(ring: BaseGeometry, rows: dict[tuple[float, float], int]) -> Ints:
    return np.array([rows[x, y] for x, y in np.asarray(ring.coords)[:-1].tolist()], np.int64)


def _named(polygon: BaseGeometry, rows: dict[tuple[float, float], int], *, even: bool = False) -> Ints:
    corners, cut = triangles(polygon, even=even)
    return np.array([rows[x, y] for x, y in corners.tolist()], np.int64)[cut]


def _side(front: Ints, back: Ints) -> Ints:
    """Return the upright side along one ring whose inside lies to its left."""
    ahead, below = np.roll(front, -1), np.roll(back, -1)
    return np.concatenate([np.column_stack([front, back, below]), np.column_stack([front, below, ahead])])


def _across(vertices: Floats, sides: Ints) -> Floats:
    """Return the outward direction (x, y) of each triangle of a side."""
    a, b, c = (vertices[sides[:, k]] for k in range(3))
    return unit(np.cross(b - a, c - a)[:, :2])


def _away(area: BaseGeometry, half: _Half) -> Floats:
    """Return for each triangle of a front the direction (x, y) from its middle to the nearest part of the outline."""
    import shapely

    pieces = []
    for polygon in polygons_in(area):
        for ring in _rings(polygon):
            coords = np.asarray(ring.coords)
            pieces.append(np.stack([coords[:-1], coords[1:]], axis=1))
    lines = np.concatenate(pieces)
    middles = half.places[half.faces].mean(axis=1)
    nearest = shapely.STRtree(shapely.linestrings(lines)).nearest(shapely.points(middles))
    start, along = lines[nearest, 0], lines[nearest, 1] - lines[nearest, 0]
    share = np.clip(((middles - start) * along).sum(1) / (along * along).sum(1), 0.0, 1.0)
    return unit(start + share[:, None] * along - middles)
