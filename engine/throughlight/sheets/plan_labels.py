"""Where labels go: beside what they name, clear of one another, of all symbols where that can be, and of the edge.

Each label tries places round its symbol, near ones first; what lies under it, how far it is off and what its leader
crosses have their price, another label has none: a place that touches one is out of the question. Labels are set in
turn, then each once more with all others in place. The same set gives the same places.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

Floats = NDArray[np.float64]
Shapes = NDArray[np.object_]
Box = tuple[float, float, float, float]
"""Left, bottom, right, top, mm."""

_GAPS = (1.2, 2.6, 4.5, 7.0, 10.0, 14.0, 19.0, 25.0, 32.0, 40.0)  # mm between symbol and label
_TURNS = 24
_APART = 0.7  # mm between labels
_ON_SYMBOL, _ON_LINE, _CROSSED, _TWISTED = 6.0, 0.35, 4.0, 60.0
_ROUNDS = 2


class Wanted(NamedTuple):
    """A label to be placed: which piece it names, its symbol on paper, and how large it is, mm."""

    number: int
    symbol: BaseGeometry
    width: float
    height: float


class Placed(NamedTuple):
    """A label in place: its box, and the leader from there to the symbol's rim, or None when it is near."""

    number: int
    box: Box
    leader: tuple[tuple[float, float], tuple[float, float]] | None


def place_labels(
    wanted: Sequence[Wanted], within: Box, taken: Sequence[Box], symbols: BaseGeometry, lines: BaseGeometry
) -> list[Placed]:
    """Return the labels that have a place, in the order given; those without one are left out.

    Parameters
    ----------
    wanted
        What is to be placed.
    within
        The box in which all must lie, mm.
    taken
        Boxes of other text.
    symbols, lines
        All that labels should not cover, areas, and what they may cover at need, lines; mm.
    """
    choices = [_choices(label, within, taken, symbols, lines) for label in wanted]
    chosen: dict[int, int] = {}
    # Those with the fewest good places choose first.
    order = sorted(range(len(wanted)), key=lambda at: (-_best(choices[at].cost), at))
    for _ in range(_ROUNDS):
        for at in order:
            others = [
                (choices[one].boxes[pick], choices[one].leaders[pick]) for one, pick in chosen.items() if one != at
            ]
            pick = _pick(choices[at], others)
            if pick is None:
                chosen.pop(at, None)
            else:
                chosen[at] = pick
    return [_placed(label, choices[at], chosen[at]) for at, label in enumerate(wanted) if at in chosen]


class _Choices(NamedTuple):
    """Places to choose from: boxes (n, 4), leaders (n, 4) from box to symbol, and what each costs (n,)."""

    boxes: Floats
    leaders: Floats
    cost: Floats


def _best(cost: Floats) -> float:
    return float(cost.min()) if len(cost) else math.inf


def _choices(label: Wanted, within: Box, taken: Sequence[Box], symbols: BaseGeometry, lines: BaseGeometry) -> _Choices:
    import shapely

    boxes = _around(label)
    left, bottom, right, top = within
    fits = (boxes[:, 0] >= left) & (boxes[:, 1] >= bottom) & (boxes[:, 2] <= right) & (boxes[:, 3] <= top)
    for box in taken:
        fits &= ~_touch(boxes, np.array(box))
    boxes = boxes[fits]
    shapes = shapely.box(*boxes.T)
    shapely.prepare(symbols)
    shapely.prepare(lines)
    shortest = shapely.shortest_line(shapes, label.symbol)
    ends = shapely.get_coordinates(shortest).reshape(-1, 4)
    length = shapely.length(shortest)
    covered = shapely.area(_shared(shapes, symbols))
    ruled = shapely.length(_shared(shapes, lines))
    crossed = shapely.length(_shared(shortest, symbols))
    cost = length + _ON_SYMBOL * covered + _ON_LINE * ruled + _CROSSED * crossed
    return _Choices(boxes, ends, np.asarray(cost))


def _shared(shapes: Shapes, other: BaseGeometry) -> Shapes:
    """Return what each shape has in common with another, worked out only where they meet."""
    import shapely

    shared = np.full(len(shapes), shapely.Point(), object)
    meet = shapely.intersects(other, shapes)
    shared[meet] = shapely.intersection(shapes[meet], other)
    return shared


def _around(label: Wanted) -> Floats:
    """Return boxes (n, 4) round a symbol's bounds, near ones first."""
    low_x, low_y, high_x, high_y = label.symbol.bounds
    cx, cy = 0.5 * (low_x + high_x), 0.5 * (low_y + high_y)
    half_x = 0.5 * (high_x - low_x + label.width)
    half_y = 0.5 * (high_y - low_y + label.height)
    places = []
    for gap in _GAPS:
        for turn in range(_TURNS):
            c, s = math.cos(2.0 * math.pi * turn / _TURNS), math.sin(2.0 * math.pi * turn / _TURNS)
            # on the rim of the box that is one gap wider than symbol and label together
            reach = min((half_x + gap) / max(abs(c), 1e-9), (half_y + gap) / max(abs(s), 1e-9))
            places.append((cx + reach * c, cy + reach * s))
    # A long symbol also has room along its own outline.
    for x, y in _rim(label.symbol):
        for gap in _GAPS[:5]:
            for turn in range(8):
                c, s = math.cos(0.25 * math.pi * turn), math.sin(0.25 * math.pi * turn)
                places.append((x + (0.5 * label.width + gap) * c, y + (0.5 * label.height + gap) * s))
    middles = np.array(places)
    half = 0.5 * np.array([label.width, label.height])
    return np.concatenate([middles - half, middles + half], axis=1)


def _rim(symbol: BaseGeometry) -> Floats:
    import shapely

    rim = symbol.boundary if symbol.geom_type == "Polygon" else symbol
    count = 12
    return np.asarray(shapely.get_coordinates(shapely.line_interpolate_point(rim, np.arange(count) / count, True)))


def _touch(boxes: Floats, other: Floats) -> NDArray[np.bool_]:
    """Return which boxes (n, 4) come too near to another one (4,) or others (n, 4)."""
    touching: NDArray[np.bool_] = (
        (boxes[:, 0] < other[..., 2] + _APART)
        & (boxes[:, 2] > other[..., 0] - _APART)
        & (boxes[:, 1] < other[..., 3] + _APART)
        & (boxes[:, 3] > other[..., 1] - _APART)
    )
    return touching


def _pick(choices: _Choices, others: Sequence[tuple[Floats, Floats]]) -> int | None:
    import shapely

    cost = choices.cost.copy()
    if not len(cost):
        return None
    leaders = shapely.linestrings(choices.leaders.reshape(-1, 2, 2))
    shapes = shapely.box(*choices.boxes.T)
    for box, leader in others:
        cost[_touch(choices.boxes, box)] = math.inf
        line = shapely.linestrings(leader.reshape(2, 2))
        cost += _TWISTED * shapely.intersects(leaders, shapely.box(*box))
        cost += _TWISTED * shapely.intersects(leaders, line)
        cost += _TWISTED * shapely.intersects(shapes, line)
    pick = int(np.argmin(cost))
    return pick if math.isfinite(cost[pick]) else None


_NEAR = 1.6  # mm; a label as near as this needs no leader


def _placed(label: Wanted, choices: _Choices, pick: int) -> Placed:
    left, bottom, right, top = (float(side) for side in choices.boxes[pick])
    x0, y0, x1, y1 = (float(part) for part in choices.leaders[pick])
    leader = ((x0, y0), (x1, y1)) if math.hypot(x1 - x0, y1 - y0) > _NEAR else None
    return Placed(label.number, (left, bottom, right, top), leader)
