"""The drawing of a plan: plan and side elevation, to scale, as SVG in the page's colours or in those of print."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING

import numpy as np

from throughlight.darkroom.names import seen
from throughlight.readings.figures import significant
from throughlight.setup import Setup
from throughlight.sheets import plots
from throughlight.sheets.house import Palette
from throughlight.sheets.plan import Plan, plan_of
from throughlight.sheets.plan_arranged import NAME_SIZE, SAID_SIZE, Arranged, Label, arrange, numeral_width
from throughlight.sheets.plan_layout import HEADING, STRIP, Layout
from throughlight.sheets.plan_legend import LEFT, SIZE, bar_of, legend
from throughlight.sheets.plan_sight import leans
from throughlight.sheets.plan_symbols import FINE, PLAIN, THIN, Area, Line
from throughlight.sheets.plan_text import line_height
from throughlight.sheets.plan_views import ABOVE, Panel
from throughlight.sheets.plan_words import INCH, Tape
from throughlight.sheets.plots import FAINT, INK, PAPER, QUIET

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.patches import Patch

DRAWING = (269.0, 169.5)
"""mm, for a page on a screen: what an A4 sheet has room for."""
_INCH = 25.4
_HEADING_SIZE = 7.5
_NAME = "plan"


def plan_svg(setup: Setup, *, feet: bool = False, name: str = _NAME) -> str:
    """Return plan and side elevation of a set as one SVG element whose colours are the page's CSS variables.

    Parameters
    ----------
    setup
        The checked description; nothing is traced.
    feet
        Whether lengths are told in feet and inches.
    name
        A name of its own on the page, letters and digits: two plans on one page need two.

    Raises
    ------
    OSError
        If the file of a subject's mesh cannot be opened.
    """
    plan, tape = plan_of(setup), Tape(feet)
    return drawing_svg(plan, tape, arrange(plan, *DRAWING, tape), name=name)


def drawing_svg(
    plan: Plan, tape: Tape, arranged: tuple[Layout, tuple[Arranged, ...]], *, paper: str = "", name: str = _NAME
) -> str:
    """Return a drawing, as it was arranged, in the page's CSS variables.

    `paper` is what it will be printed on, where it will be: the scale then stands beside its bar.
    """
    layout, views = arranged
    width, height = layout.width, layout.height
    with plots.drawing(width / _INCH, height / _INCH) as (figure, axes):
        axes.set_position((0.0, 0.0, 1.0, 1.0))
        axes.set(xlim=(0.0, width), ylim=(0.0, height))
        axes.axis("off")
        for view in views:
            _draw_view(axes, plan, layout, view, tape)
        _draw_strip(axes, plan, layout, tape, paper)
        words = f"Plan and side elevation of the set “{seen(plan.setup.title)}”"
        return plots.svg(figure, name, words)


def in_print(svg: str, palette: Palette, width: float, height: float) -> bytes:
    """Return a drawing as a file of its own: colours resolved, as large as it is on paper."""
    coloured = re.sub(r"var\(--([a-z]+)\)", lambda match: str(getattr(palette, match[1])), svg)
    spaces = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
    opened = f'<svg {spaces} width="{width:g}mm" height="{height:g}mm" '
    return coloured.replace("<svg ", opened, 1).encode("utf-8", errors="replace")


def _draw_view(axes: Axes, plan: Plan, layout: Layout, view: Arranged, tape: Tape) -> None:
    from matplotlib.patches import Rectangle

    panel = view.panel
    clip = Rectangle((panel.left, panel.bottom), panel.width, panel.height, transform=axes.transData)
    for mark in view.light:
        draw_mark(axes, mark, clip)
    _draw_floor(axes, plan, panel, tape)
    for symbol in view.symbols:
        for mark in symbol.marks:
            draw_mark(axes, mark, clip)
    _draw_mark_of_subject(axes, panel)
    for label in view.labels:
        _draw_label(axes, label)
    _draw_heading(axes, plan, layout, panel, tape, 0 if panel is layout.detail else len(view.unnamed))
    left, bottom, right, top = panel.box
    frame = np.array([[left, bottom], [right, bottom], [right, top], [left, top]])
    draw_mark(axes, Area(frame, edge=FAINT, width=THIN))


def draw_mark(axes: Axes, mark: Line | Area, clip: Patch | None = None) -> None:
    """Draw a line or an area."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Polygon

    style = (0.0, mark.dashes) if mark.dashes is not None else "solid"
    artist: Line2D | Polygon
    if isinstance(mark, Line):
        artist = Line2D(*mark.points.T, color=mark.colour, linewidth=mark.width, linestyle=style)
        artist.set(dash_capstyle="butt", solid_capstyle="round" if len(mark.points) < 3 else "butt")
        axes.add_artist(artist)
    else:
        edge = "none" if mark.edge is None else mark.edge
        artist = Polygon(
            mark.points, closed=True, facecolor="none" if mark.fill is None else mark.fill, edgecolor=edge,
            linewidth=mark.width, linestyle=style, joinstyle="miter",
        )  # fmt: skip
        if mark.opacity != 1.0:
            artist.set_alpha(mark.opacity)
        axes.add_artist(artist)
    if clip is not None:
        artist.set_clip_path(clip)


def _write(axes: Axes, x: float, y: float, text: str, size: float, colour: str = INK, **how: object) -> None:
    axes.text(x, y, text, fontsize=size, color=colour, parse_math=False).set(**{"va": "baseline", **how})


def _draw_mark_of_subject(axes: Axes, panel: Panel) -> None:
    x, y = panel.place(np.zeros((1, 3)))[0]
    for dx, dy in ((1.6, 0.0), (0.0, 1.6)):
        draw_mark(axes, Line(np.array([[x - dx, y - dy], [x + dx, y + dy]]), THIN))


def _draw_label(axes: Axes, label: Label) -> None:
    left, bottom, far, top = label.box
    room = np.array([[left, bottom], [far, bottom], [far, top], [left, top]])
    draw_mark(axes, Area(room, fill=PAPER, edge=None, opacity=0.7))
    if label.leader is not None:
        draw_mark(axes, Line(np.array(label.leader), THIN, QUIET))
    base = top - 0.8 * line_height(NAME_SIZE)
    right = left + numeral_width(label.numeral)
    badge = np.array([[left, base - 0.65], [right - 0.8, base - 0.65], [right - 0.8, top - 0.1], [left, top - 0.1]])
    draw_mark(axes, Area(badge, fill=PAPER, edge=INK, width=FINE))
    _write(axes, 0.5 * (left + right - 0.8), base, label.numeral, SAID_SIZE, weight="bold", ha="center")
    _write(axes, right, base, label.name, NAME_SIZE)
    for at, line in enumerate(label.said, 1):
        _write(axes, right, base - at * line_height(SAID_SIZE), line, SAID_SIZE, QUIET)


def _draw_heading(axes: Axes, plan: Plan, layout: Layout, panel: Panel, tape: Tape, unnamed: int) -> None:
    top = panel.bottom + panel.height + HEADING
    heading, note = panel.view.heading, "distances level from the mark; bearings round it, 0° at the camera"
    if panel is layout.detail:
        heading, note = (
            f"The subject from above, {significant(layout.scale / panel.scale, 3)} times larger",
            _sharp(plan, tape),
        )
    elif panel.view is not ABOVE:
        note = (
            "heights of middles over the mark"
            if plan.setup.mark_height is None
            else "heights of middles over the floor"
        )
    if unnamed:
        note = f"{note}; {unnamed} without room for a label, see the table"
    _write(axes, panel.left, top - 2.9, heading, _HEADING_SIZE, weight="bold")
    _write(axes, panel.left, top - 5.8, note, SAID_SIZE, QUIET)


def ratio(scale: int, tape: Tape) -> str:
    """Return a scale in words: 1 : 20; 1 : 24 (½ in to the foot)."""
    inches = 12.0 / scale
    if not tape.feet or inches < 0.125:
        return f"1 : {scale}"
    return f"1 : {scale} ({tape.length(inches * INCH).removesuffix('″')} in to the foot)"


def _sharp(plan: Plan, tape: Tape) -> str:
    near, far, total = plan.camera.depth_of_field
    focus = tape.length(plan.camera.focus)
    if leans(plan.setup.camera):
        return f"focus {focus} from the lens; it leans, so what is sharp is a wedge"
    if not math.isfinite(total):
        return f"focus {focus} from the lens, sharp from {tape.length(near)} on"
    return f"focus {focus} from the lens, sharp from {tape.length(near)} to {tape.length(far)}"


def _draw_floor(axes: Axes, plan: Plan, panel: Panel, tape: Tape) -> None:
    height = plan.setup.mark_height
    if panel.view is ABOVE or height is None:
        return
    left, bottom, right, _ = panel.box
    y = float(panel.place(np.array([[0.0, -height, 0.0]]))[0, 1])
    words = f"floor, {tape.length(height)} under the mark"
    if y >= bottom + 0.5:
        draw_mark(axes, Line(np.array([[left, y], [right, y]]), PLAIN, QUIET))
    else:
        words += " (below this view)"
    _write(axes, right - 1.0, max(y, bottom) + 1.0, words, SAID_SIZE, QUIET, ha="right")


def _draw_strip(axes: Axes, plan: Plan, layout: Layout, tape: Tape, paper: str) -> None:
    bar = bar_of(layout.scale, tape)
    part, low, high = bar.paper / bar.parts, STRIP - 6.4, STRIP - 5.0
    for at in range(bar.parts):
        left = at * part
        box = np.array([[left, low], [left + part, low], [left + part, high], [left, high]])
        draw_mark(axes, Area(box, fill=INK if at % 2 == 0 else PAPER, edge=INK, width=FINE))
    _write(axes, 0.0, high + 0.9, "0", SIZE)
    _write(axes, bar.paper, high + 0.9, bar.words, SIZE, ha="right")
    if paper:
        _write(axes, 0.0, low - 3.4, f"{ratio(layout.scale, tape)} {paper}", _HEADING_SIZE, weight="bold")
    for at, line in enumerate(_notes(plan, tape)):
        _write(axes, 0.0, low - 6.6 - 2.8 * at, line, SIZE, QUIET)
    for entry in legend(plan, LEFT, STRIP - 3.0, layout.width - LEFT):
        for mark in entry.marks:
            draw_mark(axes, mark)
        _write(axes, *entry.at, entry.words, SIZE, va="center_baseline")


def _notes(plan: Plan, tape: Tape) -> list[str]:
    ambient, sharp = plan.setup.ambient, _sharp(plan, tape)
    room = "No room light is told."
    if ambient is not None:
        lux, kelvin = significant(ambient.illuminance, 3), f"{ambient.temperature:.0f}"
        room = f"Room light from all sides: {lux} lx, {kelvin} K."
    return [f"{sharp[:1].upper()}{sharp[1:]}.", room]
