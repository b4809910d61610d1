"""A plan arranged on a sheet: what is drawn in each view, and where each label stands, in mm on paper."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from throughlight.darkroom.names import short
from throughlight.readings.figures import significant
from throughlight.sheets.plan import Plan
from throughlight.sheets.plan_labels import Box, Placed, Wanted, place_labels
from throughlight.sheets.plan_layout import Layout, layout_of
from throughlight.sheets.plan_light import beam_marks, line_of, sight_marks
from throughlight.sheets.plan_pieces import Piece
from throughlight.sheets.plan_symbols import Area, Line, Symbol, symbol_of
from throughlight.sheets.plan_text import line_height, width_of
from throughlight.sheets.plan_views import ABOVE, SIDE, Panel
from throughlight.sheets.plan_words import Tape
from throughlight.sheets.plots import INK

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

Floats = NDArray[np.float64]

NAME_SIZE, SAID_SIZE = 6.4, 5.8  # points
LONGEST_NAME = 24
MOST_LABELS = 70
"""Of a view; more would hide what they name. The table lists all."""
_EDGE = 1.0  # mm
_ARROW = 5.0  # mm


class Label(NamedTuple):
    """A label in place: the numbers of what it names, the name beside them, the lines under it, its box and leader."""

    numbers: tuple[int, ...]
    name: str
    said: tuple[str, ...]
    box: Box
    leader: tuple[tuple[float, float], tuple[float, float]] | None

    @property
    def numeral(self) -> str:
        """Return its numbers as they are written."""
        return ", ".join(str(number) for number in self.numbers)


class Arranged(NamedTuple):
    """One view, ready to be drawn: light under the pieces, the pieces, labels; `unnamed` pieces had no room for one."""

    panel: Panel
    light: tuple[Line | Area, ...]
    symbols: tuple[Symbol, ...]
    labels: tuple[Label, ...]
    unnamed: tuple[int, ...]


def arrange(plan: Plan, width: float, height: float, tape: Tape) -> tuple[Layout, tuple[Arranged, ...]]:
    """Return the layout of a plan on a drawing of `width` × `height` mm, and each of its views."""
    layout = layout_of(plan.pieces, width, height, feet=tape.feet)
    return layout, tuple(_arranged(plan, layout, panel, tape) for panel in layout.panels)


def _arranged(plan: Plan, layout: Layout, panel: Panel, tape: Tape) -> Arranged:
    frame = shapely.box(*panel.box)
    shown = [piece for piece in plan.pieces if piece.number not in layout.far]
    symbols = [symbol_of(piece, panel) for piece in sorted(shown, key=lambda one: _depth(one, panel))]
    if panel is not layout.detail:
        symbols += [_far(piece, panel) for piece in plan.pieces if piece.number in layout.far]
    symbols = [one for one in symbols if one.outline.intersects(frame)]
    light = [*sight_marks(plan.sight, panel, _reach(plan, shown))]
    for piece in shown:
        light += beam_marks(piece, panel)
    groups = _groups(plan, layout, panel, symbols)
    wanted: list[Wanted] = []
    told: list[tuple[tuple[int, ...], str, tuple[str, ...]]] = []
    for group in groups[:MOST_LABELS]:
        name, said = _words(plan, layout, panel, group, tape)
        numeral = ", ".join(str(one.number) for one in group)
        told.append((tuple(one.number for one in group), name, said))
        outline = shapely.intersection(group[0].outline, frame)
        wanted.append(Wanted(len(wanted), outline, *label_size(numeral, name, said)))
    placed = place_labels(wanted, _inside(panel), (), _areas(symbols, frame), line_of(light))
    labels = [_label(one, *told[one.number]) for one in placed]
    named = {number for label in labels for number in label.numbers}
    unnamed = tuple(one.number for one in symbols if one.number not in named)
    return Arranged(panel, tuple(light), tuple(symbols), tuple(labels), unnamed)


def _depth(piece: Piece, panel: Panel) -> tuple[int, float]:
    """Return when a piece is drawn: the ground first, the subject last, between them what stands nearer later."""
    last = {"table": 0, "backdrop": 1, "support": 3, "subject": 4}
    return last.get(piece.kind, 2), float((piece.points @ np.array(panel.view.viewer)).max())


def _label(placed: Placed, numbers: tuple[int, ...], name: str, said: tuple[str, ...]) -> Label:
    return Label(numbers, name, said, placed.box, placed.leader)


def _areas(symbols: Sequence[Symbol], frame: BaseGeometry) -> BaseGeometry:
    return shapely.intersection(shapely.union_all([one.outline for one in symbols]), frame)


def _inside(panel: Panel) -> Box:
    left, bottom, right, top = panel.box
    return left + _EDGE, bottom + _EDGE, right - _EDGE, top - _EDGE


def _reach(plan: Plan, shown: Sequence[Piece]) -> Floats:
    """Return how deep each of the picture's edges is drawn, (4,): to the backdrop, or to the last thing."""
    lens = np.asarray(plan.setup.camera.at)
    last = np.full(4, max(float(((piece.points - lens) @ _ahead(plan)).max()) for piece in shown))
    drop = next((piece for piece in shown if piece.kind == "backdrop"), None)
    if drop is None:
        return last
    normal = drop.flats[0].normal
    slope = plan.sight.rays @ normal
    with np.errstate(divide="ignore"):
        depth = (np.asarray(drop.at) - lens) @ normal / slope
    return np.where(depth > 0.0, np.minimum(depth, 1.5 * last), last)


def _ahead(plan: Plan) -> Floats:
    lens = np.asarray(plan.setup.camera.at)
    aim = np.asarray(plan.setup.camera.aim)
    return np.asarray((aim - lens) / np.linalg.norm(aim - lens))


def _groups(plan: Plan, layout: Layout, panel: Panel, symbols: Sequence[Symbol]) -> list[list[Symbol]]:
    """Return what is named together: in the side elevation, things that stand behind one another there."""
    if panel is layout.detail:
        kept = ("subject", "support", "sheet")
        return [[one] for one in symbols if plan.pieces[one.number - 1].kind in kept]
    groups: dict[object, list[Symbol]] = {}
    for one in sorted(symbols, key=lambda one: one.number):
        bounds = tuple(round(side) for side in one.outline.bounds)
        groups.setdefault((bounds, one.number if panel.view is ABOVE else 0), []).append(one)
    return list(groups.values())


def _words(
    plan: Plan, layout: Layout, panel: Panel, group: Sequence[Symbol], tape: Tape
) -> tuple[str, tuple[str, ...]]:
    """Return a label's name and the lines under it."""
    piece = plan.pieces[group[0].number - 1]
    place = plan.place(piece.number)
    name = short(piece.name, LONGEST_NAME)
    if panel is layout.detail:
        return name, ()
    if panel.view is SIDE:
        return place.height_words(tape), ()
    said = [place.where_words(tape)] if piece.kind != "table" else []
    if piece.kind in ("backdrop", "window", "table"):
        said.append(tape.sides(*piece.size))
    if piece.kind == "camera":
        said.append(f"sees {_degrees(plan.sight.angle_width)} × {_degrees(plan.sight.angle_height)}")
    if piece.beam is not None:
        said.append(f"beam {_degrees(2.0 * piece.beam.half)}")
    if piece.number in layout.far:
        said.append("not to scale")
    return name, tuple(said)


def _degrees(angle: float) -> str:
    return f"{significant(math.degrees(angle), 3 if angle < 1.0 else 2)}°"


def numeral_width(numeral: str) -> float:
    """Return how wide the badge with a label's numbers is, with the gap behind it, mm."""
    return width_of(numeral, SAID_SIZE, bold=True) + 2.4


def label_size(numeral: str, name: str, said: Sequence[str]) -> tuple[float, float]:
    """Return width and height of a label, mm."""
    width = numeral_width(numeral) + max([width_of(name, NAME_SIZE), *(width_of(line, SAID_SIZE) for line in said)])
    return width + 0.4, line_height(NAME_SIZE) + len(said) * line_height(SAID_SIZE)


def _far(piece: Piece, panel: Panel) -> Symbol:
    """Return the arrow at the panel's edge that points to a piece beyond it."""
    mark, place = panel.place(np.array([[0.0, 0.0, 0.0], piece.at]))
    left, bottom, right, top = panel.box
    way = place - mark
    size = float(np.linalg.norm(way))
    way = way / size if size > 0.0 else np.array([0.0, 1.0])
    room = [
        ((right if way[0] > 0.0 else left) - mark[0]) / way[0] if way[0] else math.inf,
        ((top if way[1] > 0.0 else bottom) - mark[1]) / way[1] if way[1] else math.inf,
    ]
    tip = mark + way * (min(room) - 1.0)
    aside = np.array([-way[1], way[0]])
    head = np.array([tip, tip - 1.8 * way + 0.9 * aside, tip - 1.8 * way - 0.9 * aside])
    shaft = np.array([tip - _ARROW * way, tip - 1.8 * way])
    marks = (Line(shaft, 0.8), Area(head, fill=INK))
    return Symbol(piece.number, marks, shapely.MultiPoint(np.concatenate([head, shaft])).convex_hull)
