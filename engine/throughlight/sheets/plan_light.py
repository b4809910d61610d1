"""The lines that light draws on a plan: the picture's edges with the sharp range, and the heads' beams."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
import shapely
from numpy.typing import NDArray

from throughlight.sheets.plan_pieces import Beam, Piece
from throughlight.sheets.plan_sight import Sight
from throughlight.sheets.plan_symbols import CHAIN, DASHED, FINE, THIN, Area, Line
from throughlight.sheets.plan_views import ABOVE, Panel
from throughlight.sheets.plots import ACCENT, FAINT, QUIET

Floats = NDArray[np.float64]

_BEAM_SHARE = 0.6
"""Of the way to its aim, how far a beam's edges are drawn."""
SHARP = 0.4
"""Opacity of the sharp range."""
_END_ON = 0.05
"""Sine of the angle to the line of sight under which a beam shows no edges."""
_UPRIGHT = 1e-6
"""Of the depth of focus, how much it may differ from one side of the picture to the other."""
_WIDEST = math.radians(178.0)


def sight_marks(sight: Sight, panel: Panel, reach: Floats) -> Iterator[Line | Area]:
    """Give the picture's edges, each ray `reach` (4,) m deep, and what is sharp unless it leans to the viewer.

    What is sharp before a leaning lens is a wedge; from a side to which it leans a strip would tell of one height only.
    """
    pair, others = ([0, 1], [2, 3]) if panel.view is ABOVE else ([2, 3], [0, 1])
    if np.ptp(sight.focus[others]) <= _UPRIGHT * sight.focus[others].min():
        yield from _sharp_marks(sight, panel, reach, pair)
    lens = panel.place(sight.lens[None, :])
    for end in panel.place(sight.at(reach))[pair]:
        yield Line(np.concatenate([lens, end[None, :]]), THIN, ACCENT)


def _sharp_marks(sight: Sight, panel: Panel, reach: Floats, pair: list[int]) -> Iterator[Line | Area]:
    """Give the sharp range and the plane of focus between two of the rays."""
    near, far = (panel.place(sight.at(np.minimum(depth, reach)))[pair] for depth in (sight.near, sight.far))
    yield Area(np.array([near[0], near[1], far[1], far[0]]), fill=FAINT, edge=None, opacity=SHARP)
    focus = panel.place(sight.at(np.minimum(sight.focus, reach)))[pair]
    over = 0.12 * (focus[1] - focus[0])
    yield Line(np.array([focus[0] - over, focus[1] + over]), FINE, ACCENT, CHAIN)


def beam_marks(piece: Piece, panel: Panel) -> Iterator[Line]:
    """Give a head's axis to its aim, and the edges of its beam part of the way."""
    beam = piece.beam
    if piece.kind in ("head", "camera") and piece.aim is not None:
        ends = panel.place(np.array([piece.at, piece.aim], float))
        yield Line(ends, THIN, QUIET, CHAIN)
    if beam is None or 2.0 * beam.half > _WIDEST:
        return
    for edge in _edges(beam, panel):
        yield Line(edge, FINE, QUIET, DASHED)


def _edges(beam: Beam, panel: Panel) -> Iterator[Floats]:
    """Give the edges of a beam as a cut along its axis shows them, the cut that the viewer sees most squarely."""
    aside = np.cross(beam.axis, panel.view.viewer)
    size = float(np.linalg.norm(aside))
    if size < _END_ON:
        return
    reach = _BEAM_SHARE * beam.reach
    for side in (-1.0, 1.0):
        edge = math.cos(beam.half) * beam.axis + side * math.sin(beam.half) * aside / size
        yield panel.place(np.array([beam.apex, beam.apex + reach * edge]))


def line_of(marks: list[Line | Area]) -> shapely.MultiLineString:
    """Return all lines among some marks, for labels to keep off."""
    return shapely.MultiLineString([mark.points for mark in marks if isinstance(mark, Line) and len(mark.points) > 1])
