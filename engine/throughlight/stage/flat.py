"""Flat areas cut into triangles that use each of their corners, so that neighbours meet without a gap."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

_ASLANT = 0.7
"""Radians by which an area is turned before ears are cut."""


def triangles(polygon: BaseGeometry, *, even: bool = False) -> tuple[Floats, Ints]:
    """Return the corners (n, 2) of a polygon with holes, ring by ring, and its triangles (m, 3), anticlockwise.

    A polygon of n corners and k holes has n + 2k − 2 triangles when no corner is passed over.

    Parameters
    ----------
    polygon
        What to cut.
    even
        Whether triangles should be as stout as can be (constrained Delaunay), which in a narrow band makes them reach
        from one rim to the other; otherwise ears are cut off, which is quick.

    Raises
    ------
    ValueError
        When no way finds triangles that use each corner.
    """
    rings = [np.asarray(ring.coords)[:-1] for ring in (polygon.exterior, *polygon.interiors)]
    corners = np.concatenate(rings)
    due = len(corners) + 2 * len(polygon.interiors) - 2
    for way in (_delaunay, _ears) if even else (_ears, _delaunay):
        cut = way(polygon, corners)
        if len(cut) == due and len(np.unique(cut)) == len(corners) and _fills(corners, cut, polygon.area):
            return corners, cut if _areas(corners, cut).sum() > 0.0 else cut[:, ::-1]
    raise ValueError("the outline touches itself in a way that cannot be cut into triangles")


def _ears(polygon: BaseGeometry, corners: Floats) -> Ints:
    """Cut ears off the polygon, turned aslant so that corners in line are not passed over."""
    import mapbox_earcut

    c, s = math.cos(_ASLANT), math.sin(_ASLANT)
    turned = (corners - corners[0]) @ np.array([[c, s], [-s, c]]) / float(np.ptp(corners, axis=0).max())
    ends = np.cumsum([len(ring.coords) - 1 for ring in (polygon.exterior, *polygon.interiors)]).astype(np.uint32)
    cut = mapbox_earcut.triangulate_float64(np.ascontiguousarray(turned), ends)
    return np.asarray(cut.astype(np.int64).reshape(-1, 3))


def _fills(corners: Floats, cut: Ints, area: float) -> bool:
    return bool(abs(np.abs(_areas(corners, cut)).sum() - area) < 1e-9 * area)


def _areas(corners: Floats, cut: Ints) -> Floats:
    a, b, c = (corners[cut[:, k]] for k in range(3))
    return np.asarray(0.5 * ((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]))


def _delaunay(polygon: BaseGeometry, corners: Floats) -> Ints:
    import shapely

    row = {(x, y): i for i, (x, y) in enumerate(corners.tolist())}
    parts = shapely.get_parts(shapely.constrained_delaunay_triangles(polygon))
    found = [[row.get((x, y), -1) for x, y in np.asarray(part.exterior.coords)[:3].tolist()] for part in parts]
    cut = np.array(found, np.int64).reshape(-1, 3)
    turn = _areas(corners, cut) < 0.0
    cut[turn] = cut[turn][:, ::-1]
    return cut
