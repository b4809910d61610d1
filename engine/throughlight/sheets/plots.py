"""Plots in the house style: matplotlib's SVG with the page's own colours and type, so that print has its own.

Text stays text. Colours are written as the page's CSS variables; a plot therefore follows its page.
"""

from __future__ import annotations

import io
import re
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure as Drawing

INK, QUIET, FAINT, ACCENT, SECOND, PAPER = "#010101", "#020202", "#030303", "#040404", "#050505", "#060606"
"""Stand-ins for the page's colours while matplotlib draws."""

_VARIABLES = {INK: "ink", QUIET: "quiet", FAINT: "faint", ACCENT: "accent", SECOND: "second", PAPER: "paper"}
_STYLE = {
    "svg.fonttype": "none", "text.parse_math": False, "font.size": 8.0, "axes.edgecolor": FAINT, "axes.linewidth": 0.6,
    "axes.labelcolor": QUIET, "text.color": INK, "xtick.color": QUIET, "ytick.color": QUIET, "xtick.major.width": 0.6,
    "ytick.major.width": 0.6, "xtick.major.size": 2.5, "ytick.major.size": 2.5, "axes.spines.top": False,
    "axes.spines.right": False, "figure.facecolor": "none", "axes.facecolor": "none", "lines.linewidth": 1.2,
}  # fmt: skip


@contextmanager
def drawing(width: float, height: float, left: float = 0.42) -> Iterator[tuple[Drawing, Axes]]:
    """Give a drawing with one pair of axes, sizes in inches; `left` is the room beside the axes."""
    import matplotlib
    from matplotlib.figure import Figure as Drawing

    with matplotlib.rc_context(_STYLE):
        figure = Drawing(figsize=(width, height))
        axes = figure.add_axes((left / width, 0.4 / height, 1.0 - (left + 0.08) / width, 1.0 - 0.5 / height))
        yield figure, axes


def svg(figure: Drawing, name: str, words: str) -> str:
    """Return a drawing as an SVG element for a page.

    Parameters
    ----------
    figure
        The drawing, made within `drawing`.
    name
        A name of its own on the page, letters and digits; parts of the drawing are called after it.
    words
        What it shows, for those who don't see it.
    """
    import matplotlib

    file = io.StringIO()
    nothing: dict[str, Any] = dict.fromkeys(("Date", "Creator", "Format", "Type"))
    with matplotlib.rc_context({**_STYLE, "svg.hashsalt": name}), warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph .* missing")  # the page's own type will have it
        figure.savefig(file, format="svg", metadata=nothing, transparent=True)
    text = file.getvalue()
    text = text[text.index("<svg") :]
    text = re.sub(r"<metadata>.*?</metadata>", "", text, flags=re.DOTALL)
    text = re.sub(r'\bid="([^"]+)"', rf'id="{name}-\1"', text)
    text = re.sub(r'(xlink:href="#|url\(#)([^")]+)', rf"\1{name}-\2", text)
    for stand_in, variable in _VARIABLES.items():
        text = text.replace(stand_in, f"var(--{variable})")
    text = re.sub(
        r'<svg [^>]*?viewBox="([^"]+)"[^>]*>',
        rf'<svg viewBox="\1" role="img" aria-label="{_plain(words)}">',
        text,
        count=1,
    )
    return re.sub(r"\n\s*", "\n", text).replace("\n\n", "\n")


def _plain(text: str) -> str:
    from markupsafe import escape

    return str(escape(text)).replace("\\", "&#92;")
