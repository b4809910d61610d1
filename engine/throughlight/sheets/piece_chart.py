"""Thickness against stops as a chart: the middle, its 95 % band, what was read, and where the light runs out."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from throughlight.readings.piece import PieceReading
from throughlight.readings.thickness import losses
from throughlight.setup.mistakes import Mistake, SetupError
from throughlight.swatch.belief import NORMAL_95

if TYPE_CHECKING:
    from throughlight.readings.exposed import Exposed

_COLOURS = {"red": "#b2423d", "green": "#4f8f4a", "blue": "#3f6fb0"}
_INK, _READ = "#222222", "#d07b00"
_ENDINGS = (".svg", ".png")
_DEEPEST = 16.0


def draw_chart(reading: PieceReading, file: Path, shown: Exposed | None = None, up_to: float | None = None) -> None:
    """Draw stops less against thickness into an SVG or PNG file.

    Parameters
    ----------
    reading
        The piece's matter.
    file
        Ends in .svg or .png.
    shown
        What a set does with it; the thickness at which the light runs out is then drawn.
    up_to
        Greatest thickness, m; three times the thickest read when None.

    Raises
    ------
    SetupError
        When the file has another ending or cannot be written.
    """
    if file.suffix.lower() not in _ENDINGS:
        raise SetupError([Mistake(str(file), 0, 0, "", "a chart that ends in .svg or .png would fit")])
    import matplotlib

    matplotlib.use("agg")
    matplotlib.rcParams["svg.hashsalt"] = "throughlight"
    from matplotlib.figure import Figure

    most = _reach(reading, shown, up_to)
    found = losses(reading, np.linspace(most / 200.0, most, 200))
    d = 1e3 * found.thickness
    figure = Figure(figsize=(7.0, 4.6), layout="constrained")
    axes = figure.add_subplot()
    if not reading.neutral:
        for name, band in zip(_COLOURS, found.bands, strict=True):
            axes.fill_between(d, band[:, 1], band[:, 2], color=_COLOURS[name], alpha=0.15, linewidth=0)
            axes.plot(d, band[:, 0], color=_COLOURS[name], linewidth=1.0, label=name)
    axes.fill_between(d, found.whole[:, 1], found.whole[:, 2], color=_INK, alpha=0.18, linewidth=0, label="95 % band")
    axes.plot(d, found.whole[:, 0], color=_INK, linewidth=1.8, label="all light" if not reading.neutral else "middle")
    _readings(axes, reading)
    if shown is not None and shown.runs_out is not None:
        middle, thin, thick = (1e3 * one for one in shown.runs_out)
        label = "the light runs out" + (",\nin a wide slice" if shown.sideways else "")
        axes.axvspan(thin, min(thick, 1e3 * most), color="#7a4a9e", alpha=0.12, linewidth=0)
        axes.axvline(middle, color="#7a4a9e", linestyle="--", linewidth=1.2, label=label)
    deepest = float(np.nanmax(found.bands[..., 2]))
    axes.set(
        xlabel="thickness, mm",
        ylabel="stops less than the bare light",
        xlim=(0.0, 1e3 * most),
        ylim=(min(deepest, _DEEPEST) * 1.03, 0.0),
        title=reading.piece.name,
    )
    axes.grid(alpha=0.25, linewidth=0.6)
    axes.legend(frameon=False, loc="best")
    try:
        figure.savefig(file, dpi=160, metadata={"Date": None} if file.suffix.lower() == ".svg" else None)
    except OSError as trouble:
        raise SetupError([Mistake(str(file), 0, 0, "", f"it cannot be written ({trouble.strerror})")]) from None


def _reach(reading: PieceReading, shown: Exposed | None, up_to: float | None) -> float:
    if up_to is not None:
        return up_to
    most = 3.0 * reading.thickness
    if shown is not None and shown.runs_out is not None:
        most = max(most, min(1.25 * shown.runs_out[0], 12.0 * reading.thickness))
    return most


def _readings(axes: object, reading: PieceReading) -> None:
    """Draw what was read, in the colours of the bands where these differ."""
    for measured, colour in zip(reading.measured, [_READ] if reading.neutral else _COLOURS.values(), strict=False):
        for i, one in enumerate(one for one in measured if one.look != "card"):
            axes.errorbar(  # type: ignore[attr-defined]
                1e3 * one.thickness, one.stops, yerr=NORMAL_95 * one.error, xerr=1e3 * NORMAL_95 * one.thickness_error,
                color=colour, marker="o", markersize=4.5, capsize=2.5, linestyle="none", zorder=5,
                label="read" if reading.neutral and i == 0 else None,
            )  # fmt: skip
