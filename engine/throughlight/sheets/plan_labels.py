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

from throughlight.sheets import plan_meets as meets

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

Floats = NDArray[np.float64]
Box = tuple[float, float, float, float]
"""Left, bottom, right, top, mm."""

_GAPS = (1.2, 2.6, 4.5, 7.0, 10.0, 14.0, 19.0, 25.0, 32.0, 40.0)  # mm between symbol and label
_TURNS = 20
_APART = 0.7  # mm between labels
_ON_SYMBOL, _ON_LINE, _CROSSED, _TWISTED = 12.0, 6.0, 4.0, 60.0
_CLEAR = 0.9  # mm kept free round a symbol; a thin wire would else slip between the places that are looked at
_MOST_PLACES = 200
_GRID = np.array([[x, y] for x in np.linspace(0.0, 1.0, 9) for y in np.linspace(0.0, 1.0, 5)])
_ALONG = np.linspace(0.02, 0.98, 25)[:, None] * np.ones(2)
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
    wide = symbols.buffer(_CLEAR)
    choices = [_choices(label, within, taken, wide, lines) for label in wanted]
    chosen: dict[int, int] = {}
    # Those with the fewest good places choose first.
    order = sorted(range(len(wanted)), key=lambda at: (-_best(choices[at].cost), at))
    for _ in range(_ROUNDS):
        for at in order:
            others = [(one, pick) for one, pick in chosen.items() if one != at]
            boxes = np.array([choices[one].boxes[pick] for one, pick in others]).reshape(-1, 4)
            leaders = np.array([choices[one].leaders[pick] for one, pick in others]).reshape(-1, 4)
            pick = _pick(choices[at], boxes, leaders)
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
    if taken:
        fits &= ~meets.boxes_and_boxes(boxes, np.array(taken), _APART).any(axis=1)
    boxes = boxes[fits]
    near = shapely.shortest_line(shapely.box(*boxes.T), label.symbol)
    leaders = shapely.get_coordinates(near).reshape(-1, 4)
    covered = _share_on(symbols, boxes[:, :2], boxes[:, 2:], _GRID) * label.width * label.height
    length = np.linalg.norm(leaders[:, 2:] - leaders[:, :2], axis=1)
    crossed = _share_on(symbols, leaders[:, :2], leaders[:, 2:], _ALONG) * length
    cost = length + _ON_SYMBOL * covered + _CROSSED * crossed
    best = np.argsort(cost, kind="stable")[:_MOST_PLACES]
    ruled = meets.segments_and_boxes(_segments(lines), boxes[best]).sum(axis=0)
    return _Choices(boxes[best], leaders[best], cost[best] + _ON_LINE * ruled)


def _share_on(area: BaseGeometry, low: Floats, high: Floats, shares: Floats) -> Floats:
    """Return which part of some places between corners (n, 2) lies on an area; `shares` (k, 2) says where."""
    import shapely

    shapely.prepare(area)
    places = low[:, None, :] + shares * (high - low)[:, None, :]
    return np.asarray(shapely.contains_xy(area, places[..., 0], places[..., 1]).mean(axis=1))


def _segments(lines: BaseGeometry) -> Floats:
    import shapely

    parts = [shapely.get_coordinates(part) for part in shapely.get_parts(lines)]
    pairs = [np.column_stack([part[:-1], part[1:]]) for part in parts]
    return np.concatenate(pairs) if pairs else np.empty((0, 4))


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
        for gap in _GAPS[:3]:
            for turn in range(8):
                c, s = math.cos(0.25 * math.pi * turn), math.sin(0.25 * math.pi * turn)
                places.append((x + (0.5 * label.width + gap) * c, y + (0.5 * label.height + gap) * s))
    middles = np.array(places)
    half = 0.5 * np.array([label.width, label.height])
    return np.concatenate([middles - half, middles + half], axis=1)


def _rim(symbol: BaseGeometry) -> Floats:
    """Return places along the outline of a symbol, about a dozen."""
    import shapely

    corners = shapely.get_coordinates(symbol.convex_hull.segmentize(max(symbol.length / 12.0, 0.1)))
    return np.asarray(corners[:: max(1, len(corners) // 12)])


def _pick(choices: _Choices, boxes: Floats, leaders: Floats) -> int | None:
    """Return the best choice beside the labels that are in place, or None when every one touches one of them."""
    if not len(choices.cost):
        return None
    cost = choices.cost + _TWISTED * (
        meets.segments_and_segments(choices.leaders, leaders).sum(axis=1)
        + meets.segments_and_boxes(choices.leaders, boxes).sum(axis=1)
        + meets.segments_and_boxes(leaders, choices.boxes).sum(axis=0)
    )
    cost[meets.boxes_and_boxes(choices.boxes, boxes, _APART).any(axis=1)] = math.inf
    pick = int(np.argmin(cost))
    return pick if math.isfinite(cost[pick]) else None


_NEAR = 1.6  # mm; a label as near as this needs no leader


def _placed(label: Wanted, choices: _Choices, pick: int) -> Placed:
    left, bottom, right, top = (float(side) for side in choices.boxes[pick])
    x0, y0, x1, y1 = (float(part) for part in choices.leaders[pick])
    leader = ((x0, y0), (x1, y1)) if math.hypot(x1 - x0, y1 - y0) > _NEAR else None
    return Placed(label.number, (left, bottom, right, top), leader)
