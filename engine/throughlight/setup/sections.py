"""Half sections of bodies of revolution: profile, wall, base, rim, the liquid in a vessel, a coat's core.

A section lies in the half plane of radius r ≥ 0 (x) and height (y). All is worked out on the whole section, mirrored
at the axis, and then cut there. A layer along a line is put together from a rectangle for each straight piece and a
sector for each corner that opens toward it, so that every point of it is within its thickness of the line (the
Minkowski sum of line and disc, one side of it).
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from throughlight.setup.curves import STEEPEST, through

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

Array = NDArray[np.float64]
Profile = tuple[tuple[float, float], ...]

_SAME = 1e-6
"""Corners closer than this part of the size are one."""


class Form(NamedTuple):
    """What makes a body of revolution: see `throughlight.setup.shapes.Revolve`."""

    profile: Profile
    smooth: bool = False
    wall: float | None = None
    base: float | None = None
    round_rim: bool = True
    closed: bool = False


class Vessel(NamedTuple):
    """The parts of a hollow body's whole section.

    body: the wall, base and rim. cavity: what it holds, up to far above an open rim. middle: the same up to the middle
    of the wall. floor: lowest height of the cavity, m. rim: height up to which it can be filled, m.
    """

    body: BaseGeometry
    cavity: BaseGeometry
    middle: BaseGeometry
    floor: float
    rim: float


def right_half(form: Form) -> Array:
    """Return the profile from the axis at the bottom to its last corner (n, 2), curves cut into steps.

    A profile that runs downward is taken from its other end.
    """
    points = np.array(form.profile, float)
    if points[0, 1] > points[-1, 1]:
        points = points[::-1]
    if form.smooth and len(points) > 1:
        points = through(points, _beyond(points[0], points[1]), _beyond(points[-1], points[-2]))
        if points[:, 0].min() < -_SAME * np.ptp(points):
            raise ValueError("the smooth curve crosses the axis; more points near the axis would fit")
        points[:, 0] = np.maximum(points[:, 0], 0.0)
    return points if points[0, 0] == 0.0 else np.concatenate([[[0.0, points[0, 1]]], points])


def _beyond(end: Array, inner: Array) -> Array:
    """Return the point beyond an end: its neighbour mirrored at the axis there, or on along the same line."""
    return inner * [-1.0, 1.0] if end[0] == 0.0 else 2.0 * end - inner


def _mirrored(right: Array) -> Array:
    """Return the whole line, from the left end through the bottom to the right one; what it holds lies to its left."""
    left = right[::-1] * [-1.0, 1.0]
    return np.concatenate([left[:-1] if right[0, 0] == 0.0 else left, right])


def _layer(line: Array, thickness: float, closed: bool = False) -> BaseGeometry:
    """Return the layer along the left side of a line (n, 2); closed: from the last corner back to the first, too."""
    import shapely

    start = line if closed else line[:-1]
    end = np.roll(line, -1, axis=0) if closed else line[1:]
    along = end - start
    aside = thickness * np.column_stack([-along[:, 1], along[:, 0]]) / np.linalg.norm(along, axis=1)[:, None]
    pieces = list(shapely.polygons(np.stack([start, end, end + aside, start + aside], axis=1)))
    before = np.roll(aside, 1, axis=0)
    turn = np.arctan2(
        before[:, 0] * aside[:, 1] - before[:, 1] * aside[:, 0], np.einsum("ij,ij->i", before, aside)
    )  # of each corner, at the start of its piece; to the right it is negative and opens a gap on the left
    for i in np.flatnonzero(turn < -1e-12):
        if i > 0 or closed:
            pieces.append(_sector(start[i], before[i], aside[i], float(turn[i])))
    return shapely.union_all(pieces)


def _sector(corner: Array, first: Array, last: Array, turn: float) -> BaseGeometry:
    import shapely

    steps = max(1, math.ceil(-turn / STEEPEST))
    angle = turn * np.arange(1, steps)[:, None] / steps
    x, y = first
    arc = corner + np.concatenate([np.cos(angle) * x - np.sin(angle) * y, np.sin(angle) * x + np.cos(angle) * y], 1)
    return shapely.Polygon(np.concatenate([[corner, corner + first], arc, [corner + last]]))


def shrunk(area: BaseGeometry, thickness: float) -> BaseGeometry:
    """Return an area less a layer along its whole rim."""
    import shapely
    from shapely.geometry.polygon import orient

    from throughlight.setup.islands import polygons_in

    layers = []
    for part in polygons_in(area):
        turned = orient(part, 1.0)
        for ring in (turned.exterior, *turned.interiors):
            layers.append(_layer(np.asarray(ring.coords)[:-1], thickness, closed=True))
    return area.difference(shapely.union_all(layers)) if layers else area


def _solid(form: Form) -> BaseGeometry:
    """Return the whole section that the profile and the axis enclose.

    Raises
    ------
    ValueError
        When it crosses itself or has no area.
    """
    from shapely.geometry import Polygon

    ring = _mirrored(right_half(form))
    area = Polygon(ring) if len(ring) >= 3 else Polygon()
    if not area.is_valid or not area.area > 0.0:
        raise ValueError("the profile crosses itself or encloses nothing; one with an inside would fit")
    return area


@lru_cache(maxsize=32)
def vessel(form: Form) -> Vessel:
    """Return the parts of a hollow body.

    Raises
    ------
    ValueError
        When the profile crosses itself, or the wall leaves no room; says so in a sentence.
    """
    import shapely

    from throughlight.setup.islands import polygons_in

    assert form.wall is not None
    if form.closed:
        whole = _solid(form)
        solid, middle = [whole.difference(shrunk(whole, form.wall))], shrunk(whole, 0.5 * form.wall)
        right = right_half(form)
    else:
        right = _cut_back(right_half(form), 0.5 * form.wall if form.round_rim else 0.0)
        line = _mirrored(right)
        whole = _with_room_above(line, form.wall)
        solid = [_layer(line, form.wall).intersection(whole)]
        middle = whole.difference(_layer(line, 0.5 * form.wall))
        if form.round_rim:
            solid += [_rim(line[-1], line[-1] - line[-2], form.wall), _rim(line[0], line[1] - line[0], form.wall)]
    if form.base is not None:
        low, wide = float(whole.bounds[1]), float(whole.bounds[2])
        solid.append(whole.intersection(shapely.box(-2.0 * wide, low, 2.0 * wide, right[0, 1] + form.base)))
    rooms = polygons_in(whole.difference(shapely.union_all(solid)))
    held = rooms if form.closed else [room for room in rooms if room.bounds[3] >= whole.bounds[3] * (1.0 - 1e-12)]
    cavity = shapely.union_all(held)
    rim = float(cavity.bounds[3]) if form.closed else _middle_of_rim(line, form.wall)
    if cavity.is_empty or not cavity.bounds[1] < rim:
        raise ValueError("the wall leaves no room inside; a thinner wall would fit")
    pockets = [room for room in rooms if room not in held]
    return Vessel(shapely.union_all(solid + pockets), cavity, middle, float(cavity.bounds[1]), rim)


def _cut_back(line: Array, length: float) -> Array:
    """Return a line without the last part of it."""
    along = np.linalg.norm(np.diff(line, axis=0), axis=1)
    left = np.cumsum(along[::-1])
    if not left[-1] > length:
        raise ValueError("the profile is no longer than its wall is thick; a thinner wall would fit")
    i = int(np.searchsorted(left, length, side="right"))
    piece = len(along) - 1 - i
    share = (left[i] - length) / along[piece]
    return np.concatenate([line[: piece + 1], [line[piece] + share * (line[piece + 1] - line[piece])]])


def _with_room_above(line: Array, wall: float) -> BaseGeometry:
    """Return what lies inside of an open line, with a well up from its ends."""
    from shapely.geometry import Polygon

    edge, top = float(line[-1, 0]), float(line[:, 1].max()) + 4.0 * wall
    if edge < wall:
        raise ValueError(
            "the profile ends on the axis, where a vessel is open; a profile that ends at its rim, "
            "or closed = true, would fit"
        )
    area = Polygon(np.concatenate([line, [[edge, top], [-edge, top]]]))
    if not area.is_valid:
        raise ValueError("the profile crosses itself, or passes over its own rim; one that ends at its rim would fit")
    return area


def _left_of(direction: Array) -> Array:
    return np.array([-direction[1], direction[0]]) / math.hypot(*direction)


def _rim(end: Array, direction: Array, wall: float) -> BaseGeometry:
    """Return the disc that rounds a wall's end; two of its corners are the wall's own."""
    import shapely

    aside = -0.5 * wall * _left_of(direction)
    angle = np.linspace(0.0, 2.0 * math.pi, 2 * math.ceil(math.pi / STEEPEST), endpoint=False)[:, None]
    round_it = np.cos(angle) * aside + np.sin(angle) * [-aside[1], aside[0]]
    return shapely.Polygon(end - aside + round_it)


def _middle_of_rim(line: Array, wall: float) -> float:
    return float(line[-1, 1] + 0.5 * wall * _left_of(line[-1] - line[-2])[1])


def liquid(form: Form, level: float) -> BaseGeometry:
    """Return the whole section of a liquid that stands `level`, m, over the inside bottom; its rim lies in the wall.

    Raises
    ------
    ValueError
        When it would run over; says so in a sentence.
    """
    import shapely

    from throughlight.setup.islands import polygons_in

    parts = vessel(form)
    deepest = parts.rim - parts.floor
    if not level <= deepest:
        raise ValueError(f"the vessel holds {deepest * 1e3:.4g} mm up to its rim; a level up to that would fit")
    low, wide = float(parts.body.bounds[1]), float(parts.body.bounds[2])
    below = shapely.box(-2.0 * wide, low - 1.0, 2.0 * wide, parts.floor + level)
    wet = parts.cavity.intersection(below)
    return shapely.union_all([room for room in polygons_in(parts.middle.intersection(below)) if room.intersects(wet)])


def section(form: Form) -> BaseGeometry:
    """Return the whole section of a body, solid or hollow.

    Raises
    ------
    ValueError
        When it cannot be made; says why in a sentence.
    """
    return _solid(form) if form.wall is None else vessel(form).body


def core(area: BaseGeometry, thickness: float) -> BaseGeometry:
    """Return what a coat of that thickness leaves of a section.

    Raises
    ------
    ValueError
        When it leaves nothing.
    """
    inner = shrunk(area, thickness)
    if not inner.area > 0.0:
        raise ValueError("the coat is thicker than the body; a thinner one would fit")
    return inner


def half(area: BaseGeometry) -> BaseGeometry:
    """Return the half of a section at r ≥ 0; corners that coincide are one, those on the axis are exactly there."""
    import shapely

    x_low, y_low, x_high, y_high = area.bounds
    size = max(x_high - x_low, y_high - y_low)
    right = area.intersection(shapely.box(0.0, y_low - size, x_high + size, y_high + size))
    tidied = shapely.remove_repeated_points(right, _SAME * size)

    def settled(corners: Array) -> Array:
        return np.column_stack([np.where(corners[:, 0] < _SAME * size, 0.0, corners[:, 0]), corners[:, 1]])

    return shapely.transform(tidied, settled)
