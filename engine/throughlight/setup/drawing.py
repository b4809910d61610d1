"""Outlines from SVG: the shapes of a drawing, or one path, as polygons. Nothing that a drawing names is fetched.

What a path encloses follows its fill rule, non-zero or even-odd (SVG 2, section 13.3.2); filled shapes are joined. A
drawing that only has lines, as for a cutter, is taken even-odd as a whole: a line within a line is the rim of a hole.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from throughlight.setup.curves import thinned
from throughlight.setup.islands import MOST_CORNERS, Islands, islands_of, polygons_in
from throughlight.setup.kind import misfit

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

    from shapely.geometry.base import BaseGeometry

KINDS = (".svg",)
MOST_BYTES = 5_000_000
_MOST_ELEMENTS = 50_000
_MOST_PIECES = 20_000
_DENSE = 64
_HREF = "{http://www.w3.org/1999/xlink}href"

Ring = NDArray[np.float64]


def drawn(path: Path, width: float) -> Islands:
    """Return the outline that an SVG file draws, y up, as wide as `width`, m (cached by path, size and time).

    Raises
    ------
    PydanticCustomError
        When the file cannot be read or encloses nothing.
    """
    state = path.stat()
    return _drawn(path, state.st_size, state.st_mtime_ns, width)


@lru_cache(maxsize=8)
def _drawn(path: Path, size: int, changed: int, width: float) -> Islands:
    try:
        return _outlined(_areas(path.read_bytes()), width)
    except Exception as trouble:  # a broken drawing breaks a reader in any way there is
        raise misfit(path.name, _words(trouble)) from None


@lru_cache(maxsize=8)
def path_outline(text: str, width: float) -> Islands:
    """Return the outline of one SVG path, such as "M0 0 H8 V5 Z", y up, as wide as `width`, m.

    Raises
    ------
    PydanticCustomError
        When it cannot be read or encloses nothing.
    """
    from svgelements import Path as Drawn

    try:
        return _outlined([_enclosed(list(_rings(Drawn(text))), even_odd=False)], width)
    except Exception as trouble:  # the reader raises whatever its parser does
        raise misfit(text, _words(trouble)) from None


def _words(trouble: Exception) -> str:
    if isinstance(trouble, _Unfit):
        return str(trouble)
    reason = " ".join(str(trouble).split())[:80]
    return f"the drawing cannot be read ({reason}); plain SVG would fit"


class _Unfit(ValueError):
    """A drawing that was read, but has no outline in it; says why in a sentence."""


def _outlined(areas: list[BaseGeometry], width: float) -> Islands:
    import shapely

    whole = shapely.union_all(areas) if areas else shapely.Polygon()
    parts = [part for part in polygons_in(whole) if part.area > 0.0]
    if not parts:
        raise _Unfit("it encloses nothing; a closed outline would fit")
    try:
        return islands_of(parts, width)
    except ValueError as trouble:
        raise _Unfit(str(trouble)) from None


def _areas(content: bytes) -> list[BaseGeometry]:
    """Return what each filled shape of a drawing encloses, or all its lines together when none is filled."""
    from xml.etree import ElementTree

    from svgelements import SVG, Shape
    from svgelements import Path as Drawn

    if b"<!ENTITY" in content.upper():
        raise _Unfit("it declares entities, which are not read; plain SVG would fit")
    if _expanded(ElementTree.fromstring(content)) > _MOST_ELEMENTS:
        raise _Unfit(f"it draws more than {_MOST_ELEMENTS} elements; a simpler drawing would fit")
    drawing: Any = SVG.parse(io.BytesIO(content), reify=True, on_error="raise")
    areas, lines, pieces = [], [], 0
    for shape in drawing.elements():
        if not isinstance(shape, Shape):
            continue
        drawn = Drawn(shape)
        pieces += len(drawn)
        if pieces > _MOST_PIECES:
            raise _Unfit(f"it has more than {_MOST_PIECES} lines and curves; a simpler drawing would fit")
        rings = list(_rings(drawn))
        if shape.fill is None or shape.fill.value is None:
            lines += rings
        else:
            areas.append(_enclosed(rings, even_odd=shape.values.get("fill-rule") == "evenodd"))
    return areas if areas else [_enclosed(lines, even_odd=True)]


def _expanded(root: Element) -> int:
    """Return how many elements a drawing has once each <use> stands for what it names.

    Raises
    ------
    _Unfit
        When one names itself.
    """
    named = {element.get("id"): element for element in root.iter() if element.get("id") is not None}
    counts: dict[int, int] = {}

    def count(element: Element) -> int:
        if id(element) in counts:
            if counts[id(element)] < 0:
                raise _Unfit("an element of it uses itself; plain SVG would fit")
            return counts[id(element)]
        counts[id(element)] = -1
        total = 1 + sum(count(inner) for inner in element)
        link = element.get("href", element.get(_HREF, ""))
        if element.tag.rpartition("}")[2] == "use" and link[1:] in named:
            total += count(named[link[1:]])
        counts[id(element)] = total
        return total

    return count(root)


def _rings(path: Any) -> Iterator[Ring]:  # noqa: ANN401 - the library has no types
    """Return each closed part of a path as corners, curves cut into steps of at most a few degrees; y turned up."""
    from svgelements import Close, Line, Move

    total = 0
    for part in path.as_subpaths():
        corners = [np.empty((0, 2))]
        for piece in part:
            if isinstance(piece, Move) or piece.start is None or piece.end is None:
                continue
            steps = 1 if isinstance(piece, Line | Close) else _DENSE
            points = np.array([[*piece.point(t)] for t in np.linspace(0.0, 1.0, steps + 1)], float)
            corners.append(thinned(points)[1:] if steps > 1 else points[1:])
        ring = np.concatenate(corners) * [1.0, -1.0]
        total += len(ring)
        if not np.isfinite(ring).all():
            raise _Unfit("a number of it is not finite; plain SVG would fit")
        if total > 4 * MOST_CORNERS:
            raise _Unfit("the outline has too many corners; a simpler drawing would fit")
        if len(ring) >= 3:
            yield ring


def _enclosed(rings: list[Ring], even_odd: bool) -> BaseGeometry:
    """Return the area that closed lines enclose, which may cross themselves and one another."""
    import shapely

    closed = [np.concatenate([ring, ring[:1]]) for ring in rings]
    if not closed:
        return shapely.Polygon()
    lines = shapely.union_all([shapely.LineString(ring) for ring in closed])
    cells = list(shapely.get_parts(shapely.polygonize([lines])))
    inside = []
    for cell in cells:
        middle = np.asarray(cell.representative_point().coords[0])
        around = sum(_winding(ring, middle) for ring in closed)
        if (around % 2 == 1) if even_odd else around != 0:
            inside.append(cell)
    return shapely.union_all(inside) if inside else shapely.Polygon()


def _winding(ring: Ring, place: Ring) -> int:
    """Return how often a closed line goes round a place, anticlockwise: its crossings with a ray to the right."""
    (x1, y1), (x2, y2) = (ring[:-1] - place).T, (ring[1:] - place).T
    side = x1 * y2 - x2 * y1
    up = (y1 <= 0.0) & (y2 > 0.0) & (side > 0.0)
    down = (y1 > 0.0) & (y2 <= 0.0) & (side < 0.0)
    return int(np.count_nonzero(up)) - int(np.count_nonzero(down))
