"""The plots of a study: what each key does, and what candidates trade against each other."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from throughlight.darkroom.names import seen, short
from throughlight.readings.figures import significant
from throughlight.sheets import plots
from throughlight.study.effects import Effect, Effects
from throughlight.study.pareto import Front, Objective
from throughlight.study.said import amounts, minus

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_MOST_TICKS = 7
_MOST_NUMBERED = 5


class Panel(NamedTuple):
    """One plot: its heading, a line under it, and the SVG element."""

    heading: str
    line: str
    svg: str


def effect_panels(effects: Effects, keys: Sequence[str], name: str) -> list[Panel]:
    """Return one plot for each key's effect on one reading, in the order of `keys`, all to the same scale."""
    ends = [end for effect in effects.keys for level in effect.levels for end in (level.effect.low, level.effect.high)]
    low, high = min([0.0, *ends]), max([0.0, *ends])
    margin = max(0.05, 0.06 * (high - low))
    reach = low - margin, high + margin
    return [
        Panel(effect.key, _effect_line(effect, effects.unit), _effect_svg(effect, reach, f"{name}k{at}"))
        for at, effect in enumerate(sorted(effects.keys, key=lambda effect: keys.index(effect.key)))
    ]  # fmt: skip


def _effect_line(effect: Effect, unit: str) -> str:
    span = f"{100.0 * effect.span:.1f} %" if unit == "share" else f"{effect.span:.2f} stops"
    return f"{span} from end to end, {100.0 * effect.share:.0f} % of what moves"


def _effect_svg(effect: Effect, ends: tuple[float, float], name: str) -> str:
    words = f"Effect of {seen(effect.key, 80)}: " + ", ".join(
        f"{seen(level.said, 40)} {amounts(level.effect, sign=True)}" for level in effect.levels
    )
    with plots.drawing(3.4, 1.9) as (figure, axes):
        places = [level.place for level in effect.levels]
        axes.axhline(0.0, color=plots.FAINT, linewidth=0.6)
        if effect.unit is not None:
            axes.plot(places, [level.effect.value for level in effect.levels], color=plots.ACCENT)
        for level in effect.levels:
            axes.plot([level.place] * 2, [level.effect.low, level.effect.high], color=plots.ACCENT, linewidth=0.9)
            axes.plot(level.place, level.effect.value, "o", color=plots.ACCENT, markersize=3.6, markeredgewidth=0.0)
        axes.set_ylim(*ends)
        _places(axes, effect, places)
        return plots.svg(figure, name, words)


def _places(axes: Axes, effect: Effect, places: Sequence[float]) -> None:
    """Write the levels under the axis; of many only every second, or third."""
    shown = shown_every(len(places))
    room = 0.08 * (max(places) - min(places))
    axes.set_xlim(min(places) - room, max(places) + room)
    if effect.unit is None:
        longest = max(6, 36 // len(shown))
        axes.set_xlim(min(places) - 0.5, max(places) + 0.5)
        axes.set_xticks([places[at] for at in shown], [short(effect.levels[at].said, longest) for at in shown])
        return
    axes.set_xticks([places[at] for at in shown], [minus(significant(places[at], 4)) for at in shown])
    axes.set_xlabel(short(effect.unit, 20), labelpad=2.0)


def shown_every(count: int) -> range:
    """Return which of so many places get words: all, or every second, or third, so that no more than seven do."""
    return range(0, count, math.ceil(count / _MOST_TICKS))


def trade_panels(front: Front, best: int | None) -> list[Panel]:
    """Return plots of the backdrop, or the first thing that counts, against each other thing; `best` is ringed."""
    if len(front.rows) == 0 or len(front.objectives) < 2:
        return []
    upright = next((one for one in front.objectives if one.name == "backdrop"), front.objectives[0])
    others = [one for one in front.objectives if one.name != upright.name]
    return [
        Panel(_axis_words(one), "", _trade_svg(front, one, upright, best, f"trade{at}"))
        for at, one in enumerate(others)
    ]


def _axis_words(objective: Objective) -> str:
    return f"{objective.label}, {objective.unit}"


def _trade_svg(front: Front, across: Objective, upright: Objective, best: int | None, name: str) -> str:
    kept = int(front.left.sum())
    words = (
        f"{_axis_words(upright)} against {_axis_words(across)}: {len(front.rows)} candidates, of which {kept} are not "
        "beaten at 95 %"
    )
    with plots.drawing(3.4, 2.8) as (figure, axes):
        shown = np.isfinite(across.value) & np.isfinite(upright.value)
        maybe, sure = front.left & ~front.by_value & shown, front.by_value & shown
        beaten = ~front.left & shown
        axes.plot(
            across.value[beaten], upright.value[beaten], "o", color=plots.FAINT, markersize=2.4, markeredgewidth=0.0
        )
        axes.plot(
            across.value[maybe], upright.value[maybe], "o", markerfacecolor=plots.PAPER, markeredgecolor=plots.SECOND,
            markersize=4.0, markeredgewidth=0.9,
        )  # fmt: skip
        axes.plot(across.value[sure], upright.value[sure], "o", color=plots.ACCENT, markersize=4.6, markeredgewidth=0.0)
        if across.unit == "lx·s" and np.all(across.value[shown] > 0.0):
            _logarithmic(axes, across.value[shown])
        _number(axes, front, across, upright, best)
        axes.set_xlabel(_axis_words(across), labelpad=2.0)
        return plots.svg(figure, name, words)


def _logarithmic(axes: Axes, values: np.ndarray) -> None:
    """Make the level axis logarithmic, with 1, 2, 5 on it, written plainly."""
    decades = range(math.floor(math.log10(values.min())), math.ceil(math.log10(values.max())) + 1)
    axes.set_xscale("log")
    span = values.min() / 1.15, values.max() * 1.15
    marks = [m * 10.0**d for d in decades for m in (1.0, 2.0, 5.0) if span[0] <= m * 10.0**d <= span[1]]
    axes.set_xlim(*span)
    axes.set_xticks(marks, [significant(mark, 1) for mark in marks])
    axes.set_xticks([], minor=True)


def _number(axes: Axes, front: Front, across: Objective, upright: Objective, best: int | None) -> None:
    """Write the numbers of the best of the front beside their points, where no other number stands; ring the best."""
    from matplotlib.patheffects import withStroke

    taken: list[tuple[float, float]] = []
    for at in np.flatnonzero(front.by_value)[: 3 * _MOST_NUMBERED]:
        x, y = float(across.value[at]), float(upright.value[at])
        if not (math.isfinite(x) and math.isfinite(y)):
            continue
        if front.rows[at].number == best:
            axes.plot(x, y, "o", markerfacecolor="none", markeredgecolor=plots.INK, markersize=8.5, markeredgewidth=0.9)
        place = axes.transData.transform((x, y))
        close = any(abs(place[0] - other[0]) < 34.0 and abs(place[1] - other[1]) < 15.0 for other in taken)
        if len(taken) < _MOST_NUMBERED and not close:
            taken.append((float(place[0]), float(place[1])))
            axes.annotate(
                str(front.rows[at].number), (x, y), xytext=(5.0, 3.5), textcoords="offset points", fontsize=7.5,
                color=plots.INK, path_effects=[withStroke(linewidth=2.0, foreground=plots.PAPER)],
            )  # fmt: skip
