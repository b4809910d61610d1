"""How each piece is drawn: lines and areas on paper, told apart by their drawing and never by colour alone.

A card seen edge on is two strips, its front's and its back's: solid for black, open for white, ruled across for grey,
open with a line along it for a mirror. Seen from the front or the back it carries that face: close diagonal lines for
black, none for white, wide ones for grey, crossed ones for a mirror.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from throughlight.sheets.plan_pieces import Body, Flat, Piece
from throughlight.sheets.plan_tones import Tone
from throughlight.sheets.plan_views import Panel
from throughlight.sheets.plots import FAINT, INK, PAPER, QUIET

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

Floats = NDArray[np.float64]

THIN, FINE, PLAIN, BOLD = 0.35, 0.5, 0.8, 1.4  # points
DASHED, DOTTED, CHAIN = (4.0, 2.5), (0.8, 1.8), (8.0, 2.0, 1.2, 2.0)
_STRIP = 0.8  # mm, one side of a card
_EDGE_ON = 1.3  # mm; a flat piece that looks narrower than this is drawn edge on
_HATCH = {Tone.BLACK: 1.0, Tone.GREY: 2.6, Tone.MIRROR: 2.6}  # mm between lines
_FILL: dict[Tone | None, str] = {Tone.BLACK: "#000000", Tone.GREY: "#8c8c8c", Tone.WHITE: "#ffffff"}
"""Fills that are what they mean on a dark page too, where ink is light."""
_SEEN_FLAT = 0.3
"""Opacity of a face that is seen flat; what stands behind it stays to be seen."""
_SLANT = np.array([1.0, 1.0]) / np.sqrt(2.0)


class Line(NamedTuple):
    """A line through places (n, 2), mm; width and dashes in points."""

    points: Floats
    width: float = FINE
    colour: str = INK
    dashes: tuple[float, ...] | None = None


class Area(NamedTuple):
    """A closed outline (n, 2), mm, filled with a colour, to some opacity, or left open; the rim's width in points."""

    points: Floats
    fill: str | None = None
    edge: str | None = INK
    width: float = FINE
    dashes: tuple[float, ...] | None = None
    opacity: float = 1.0


class Symbol(NamedTuple):
    """A piece on paper: what is drawn, and the outline that labels keep clear of."""

    number: int
    marks: tuple[Line | Area, ...]
    outline: BaseGeometry


def symbol_of(piece: Piece, panel: Panel) -> Symbol:
    """Return how a piece looks in a panel."""
    parts = [list(_body(body, panel, piece.kind)) for body in piece.bodies]
    parts += [list(flat_marks(flat, panel, piece.kind)) for flat in piece.flats]
    shapes = [around(np.concatenate([mark.points for mark in part])) for part in parts]
    outline = shapely.union_all([shape.simplify(0.1).buffer(0.4, quad_segs=2) for shape in shapes])
    marks = [mark for part in parts for mark in part]
    if piece.kind == "table":
        outline = outline.boundary.buffer(0.4)
    return Symbol(piece.number, tuple(marks), outline)


def hull(points: Floats) -> Floats:
    """Return the convex hull (n, 2) of places on paper: a polygon's corners, or two ends, or one place."""
    return np.asarray(shapely.get_coordinates(around(points)))


def around(points: Floats) -> BaseGeometry:
    """Return the convex hull of places on paper as a shape."""
    # The hull of a line through all of them is theirs, and is made much sooner than so many single points.
    return shapely.convex_hull(shapely.linestrings(points) if len(points) > 1 else shapely.points(points[0]))


def _body(body: Body, panel: Panel, kind: str) -> Iterator[Line | Area]:
    outline = hull(panel.place(body.points))
    if kind == "support":
        if len(outline) < 4 or _thickness(outline) < 0.35:
            yield Line(_ends(outline), BOLD if len(outline) > 1 else 2.0 * BOLD)
            return
        yield Area(outline, fill=INK, edge=INK, width=FINE)
        return
    if len(outline) < 4:
        yield Line(outline, BOLD)
        return
    if kind == "subject":
        yield Area(outline, fill=FAINT, edge=INK, width=PLAIN, opacity=0.6)
        return
    # What lies under it stays to be seen.
    yield Area(outline, fill=PAPER, edge=None, opacity=0.3)
    yield Area(outline, edge=INK if body.symbol else QUIET, width=FINE)


def flat_marks(flat: Flat, panel: Panel, kind: str) -> Iterator[Line | Area]:
    """Give the lines and areas of a flat piece: edge on, or as its visible side looks."""
    outline = hull(panel.place(flat.corners))
    if len(outline) < 4 or _thickness(outline) < _EDGE_ON:
        ends = _ends(outline)
        tip = panel.view.flat(flat.normal[None, :])[0]
        along = ends[1] - ends[0]
        size = float(np.linalg.norm(along))
        aside = np.array([-along[1], along[0]]) / size if size > 0.0 else np.array([0.0, 1.0])
        forward = aside if float(aside @ tip) >= 0.0 else -aside
        yield from _edge_on(flat, kind, ends, forward)
        return
    yield from _face_on(flat, kind, outline, front=float(flat.normal @ np.array(panel.view.viewer)) > 0.0)


def _edge_on(flat: Flat, kind: str, ends: Floats, forward: Floats) -> Iterator[Line | Area]:
    if kind == "table":
        yield Line(ends, PLAIN, QUIET)
        yield from _ticks(ends, -1.2 * forward, 4.0)
    elif kind == "backdrop":
        yield Line(ends, BOLD)
        yield from _ticks(ends, -1.6 * forward, 2.2)
    elif kind == "window":
        for step in (-0.8, 0.0, 0.8):
            yield Line(ends + step * forward, FINE)
        for end in ends:
            yield Line(np.array([end - 0.8 * forward, end + 0.8 * forward]), FINE)
    elif kind == "sheet":
        for step in (-0.4, 0.4):
            yield Line(ends + step * forward, PLAIN, INK, DASHED)
    else:
        yield from _strip(ends, forward, flat.front)
        yield from _strip(ends, -forward, flat.back)


def _strip(ends: Floats, outward: Floats, tone: Tone | None) -> Iterator[Line | Area]:
    """Give one side of a card as a strip."""
    other = ends + _STRIP * outward
    yield Area(np.array([*ends, *other[::-1]]), fill=_FILL.get(tone, PAPER), edge=INK, width=FINE)
    if tone == Tone.MIRROR:
        yield Line(ends + 0.5 * _STRIP * outward, THIN)
    if tone == Tone.GREY:
        yield from _ticks(ends, _STRIP * outward, 1.2, slanted=False, colour=INK)


def _ticks(ends: Floats, tick: Floats, every: float, *, slanted: bool = True, colour: str = QUIET) -> Iterator[Line]:
    """Give short lines along one side of a line, `every` so many mm."""
    along = ends[1] - ends[0]
    size = float(np.linalg.norm(along))
    if size == 0.0:
        return
    lean = float(np.linalg.norm(tick)) * along / size if slanted else 0.0 * along
    for at in np.arange(0.5 * every, size, every):
        foot = ends[0] + along * at / size
        yield Line(np.array([foot, foot + tick + lean]), THIN, colour)


def _face_on(flat: Flat, kind: str, outline: Floats, *, front: bool) -> Iterator[Line | Area]:
    if kind == "table":
        yield Area(outline, edge=QUIET, width=THIN, dashes=CHAIN)
    elif kind == "window":
        corners = outline[:-1] if len(outline) == 5 else outline
        yield Area(outline, edge=INK, width=FINE)
        if len(corners) == 4:
            middles = 0.5 * (corners + np.roll(corners, -1, axis=0))
            yield Line(middles[[0, 2]], THIN)
            yield Line(middles[[1, 3]], THIN)
    elif kind == "sheet":
        yield Area(outline, edge=INK, width=FINE, dashes=DASHED)
    else:
        tone = flat.front if front else flat.back
        if tone in _FILL:
            yield Area(outline, fill=_FILL[tone], edge=None, opacity=_SEEN_FLAT)
        yield from hatched(outline, tone)
        yield Area(outline, edge=INK, width=PLAIN)


def hatched(outline: Floats, tone: Tone | None) -> Iterator[Line]:
    """Give the lines that a face of some tone carries; none on white."""
    if tone not in _HATCH:
        return
    ways = (_SLANT, _SLANT * [1.0, -1.0]) if tone == Tone.MIRROR else (_SLANT,)
    for way in ways:
        yield from _ruled(outline, way, _HATCH[tone])


def _ruled(outline: Floats, way: Floats, every: float) -> Iterator[Line]:
    area = shapely.Polygon(outline)
    across = np.array([-way[1], way[0]])
    reach = outline @ across
    ahead = outline @ way
    # Lines stand at whole multiples, so that neighbours' hatching runs on.
    for step in np.arange(np.ceil(reach.min() / every), np.floor(reach.max() / every) + 1.0) * every:
        ruler = shapely.LineString([step * across + way * ahead.min(), step * across + way * ahead.max()])
        cut = shapely.get_coordinates(shapely.intersection(area, ruler))
        if len(cut) == 2:
            yield Line(cut, THIN)


def _thickness(outline: Floats) -> float:
    """Return how narrow a convex outline is, mm: its area over its length."""
    first, last = _ends(outline)
    length = float(np.linalg.norm(last - first))
    return float(shapely.Polygon(outline).area) / length if length > 0.0 else 0.0


def _ends(outline: Floats) -> Floats:
    """Return the two places of an outline that are farthest apart."""
    if len(outline) < 2:
        return np.repeat(outline, 2, axis=0)
    apart = np.linalg.norm(outline[:, None, :] - outline[None, :, :], axis=2)
    one, other = np.unravel_index(int(np.argmax(apart)), apart.shape)
    return outline[[one, other]]
