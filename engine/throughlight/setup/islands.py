"""Flat outlines with holes and several parts, as plain tuples: what a picture, a drawing or a polygon encloses."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

Array = NDArray[np.float64]
Ring = tuple[tuple[float, float], ...]
MOST_CORNERS = 20_000
"""More corners than this are noise, not an outline."""


class Island(NamedTuple):
    """One connected part: its rim and the rims of its holes, m, x to the right and y up; no point is repeated."""

    outer: Ring
    holes: tuple[Ring, ...] = ()


Islands = tuple[Island, ...]


def area_of(islands: Islands) -> BaseGeometry:
    """Return the islands as a shapely geometry."""
    from shapely.geometry import MultiPolygon, Polygon

    parts = [Polygon(island.outer, island.holes) for island in islands]
    return parts[0] if len(parts) == 1 else MultiPolygon(parts)


def polygons_in(geometry: BaseGeometry) -> list[BaseGeometry]:
    """Return the polygons of a geometry; points and lines, which enclose nothing, are left out."""
    import shapely

    found: list[BaseGeometry] = []
    for part in shapely.get_parts(geometry):
        if part.geom_type == "Polygon":
            found.append(part)
        elif part.geom_type in ("MultiPolygon", "GeometryCollection"):
            found += polygons_in(part)
    return found


def islands_of(polygons: Iterable[BaseGeometry], width: float) -> Islands:
    """Return polygons as islands, scaled to a width, m, and centred on the middle of their bounding box.

    Raises
    ------
    ValueError
        When they have no width or too many corners; says so in a sentence.
    """
    parts = list(polygons)
    rings = [[part.exterior, *part.interiors] for part in parts]
    corners = [np.asarray(ring.coords)[:-1] for some in rings for ring in some]
    if sum(map(len, corners)) > MOST_CORNERS:
        raise ValueError(
            f"the outline is too ragged ({sum(map(len, corners))} corners); "
            "a cleaner one, or a coarser tolerance, would fit"
        )
    low = np.min([one.min(axis=0) for one in corners], axis=0)
    high = np.max([one.max(axis=0) for one in corners], axis=0)
    scale = width / float(high[0] - low[0])
    middle = 0.5 * (low + high)

    def placed(ring: BaseGeometry) -> Ring:
        return tuple((float(x), float(y)) for x, y in (np.asarray(ring.coords)[:-1] - middle) * scale)

    return tuple(Island(placed(outer), tuple(placed(hole) for hole in holes)) for outer, *holes in rings)


def corners_of(islands: Islands) -> Array:
    """Return all outer corners, (n, 2), m."""
    return np.concatenate([np.asarray(island.outer) for island in islands])
