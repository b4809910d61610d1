"""The ground of a study drawn in squares: the lower the loss the lighter, in the project's own stops colours."""

from __future__ import annotations

import math

import numpy as np

from throughlight.darkroom import scale
from throughlight.darkroom.names import seen, short
from throughlight.readings.figures import significant
from throughlight.sheets import plots
from throughlight.sheets.study_plots import Panel, shown_every
from throughlight.study.ground import Ground, Line, Sheet
from throughlight.study.said import minus

_BEST, _WORST = 2.5, -9.0  # where on the scale of stops no loss and the most loss stand
_STEPS = 5  # of the legend


def ground_panels(ground: Ground, best: int | None) -> list[Panel]:
    """Return one plot for each sheet; the candidate `best` is ringed."""
    most = most_loss(ground)
    return [
        Panel(minus(sheet.said), "", _svg(ground, sheet, most, best, f"ground{at}"))
        for at, sheet in enumerate(ground.sheets)
    ]


def most_loss(ground: Ground) -> float:
    """Return the loss that is drawn darkest, stops: a round number that three quarters of the squares lie under."""
    losses = np.concatenate([sheet.losses[np.isfinite(sheet.losses)] for sheet in ground.sheets])
    most = float(np.quantile(losses, 0.75)) if losses.size > 0 else 1.0
    if most <= 0.0:
        return 1.0
    step = 10.0 ** math.floor(math.log10(most))
    return next(m * step for m in (1.0, 2.0, 5.0, 10.0) if m * step >= most)


def legend(ground: Ground) -> list[tuple[str, str]]:
    """Return colours with what they stand for: "0", …, "2 or more" stops of loss."""
    most = most_loss(ground)
    losses = [most * step / (_STEPS - 1) for step in range(_STEPS)]
    words = [significant(loss, 3) for loss in losses]
    return [
        (_colour(loss, most), said) for loss, said in zip(losses, [*words[:-1], f"{words[-1]} or more"], strict=True)
    ]


def _colour(loss: float, most: float) -> str:
    place = _BEST + (_WORST - _BEST) * min(1.0, max(0.0, loss / most))
    return "#" + "".join(f"{int(value):02x}" for value in scale.colours(np.array([place]))[0])


def _svg(ground: Ground, sheet: Sheet, most: float, best: int | None, name: str) -> str:
    from matplotlib.patches import Rectangle

    rows, columns = sheet.losses.shape
    words = f"Loss over {seen(ground.across.key, 80)} and {seen(ground.upright.key, 80)}; {_lowest(ground, sheet)}"
    height = min(4.2, max(1.6, 0.62 + 2.88 * rows / columns))
    with plots.drawing(3.4, height) as (figure, axes):
        for row in range(rows):
            for column in range(columns):
                corner = column - 0.47, row - 0.47
                if sheet.failed[row, column]:
                    axes.plot(column, row, "x", color=plots.FAINT, markersize=3.0, markeredgewidth=0.8)
                elif np.isfinite(sheet.losses[row, column]):
                    axes.add_patch(
                        Rectangle(
                            corner, 0.94, 0.94, color=_colour(float(sheet.losses[row, column]), most), linewidth=0.0
                        )
                    )
                if best is not None and sheet.numbers[row, column] == best:
                    axes.add_patch(
                        Rectangle(corner, 0.94, 0.94, fill=False, edgecolor=plots.INK, linewidth=1.6, zorder=3)
                    )
        axes.set_xlim(-0.6, columns - 0.4)
        axes.set_ylim(-0.6, rows - 0.4)
        for line, set_ticks in ((ground.across, axes.set_xticks), (ground.upright, axes.set_yticks)):
            shown = shown_every(len(line.said))
            set_ticks(list(shown), [minus(short(line.said[at], 8)) for at in shown])
        axes.set_xlabel(_axis_words(ground.across), labelpad=2.0)
        return plots.svg(figure, name, words)


def _axis_words(line: Line) -> str:
    return short(line.key, 40) if not line.unit else f"{short(line.key, 40)}, {short(line.unit, 10)}"


def upright_words(ground: Ground) -> str:
    """Return what stands beside the squares."""
    return _axis_words(ground.upright)


def _lowest(ground: Ground, sheet: Sheet) -> str:
    if not np.any(np.isfinite(sheet.losses)):
        return "nothing is read yet"
    row, column = np.unravel_index(int(np.nanargmin(sheet.losses)), sheet.losses.shape)
    place = f"{seen(ground.across.said[column], 40)} and {seen(ground.upright.said[row], 40)}"
    return f"lowest at {place}, {sheet.losses[row, column]:.2f} stops"
