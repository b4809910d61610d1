"""How large text comes out, by the drawing library's own type; a script that it lacks is taken as wide as its boxes."""

from __future__ import annotations

import warnings
from functools import cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from matplotlib.backends.backend_agg import RendererAgg

POINT = 25.4 / 72.0
"""mm in a point."""
_DPI = 288.0
LEADING = 1.22
"""Height of a line over its type size."""


@cache
def _renderer() -> RendererAgg:
    from matplotlib.backends.backend_agg import RendererAgg

    return RendererAgg(16, 16, _DPI)


@cache
def width_of(text: str, size: float, *, bold: bool = False) -> float:
    """Return how wide a line of text is, mm, set in so many points."""
    from matplotlib.font_manager import FontProperties

    type_face = FontProperties(family="DejaVu Sans", size=size, weight="bold" if bold else "normal")
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph .* missing")
        width, _, _ = _renderer().get_text_width_height_descent(text, type_face, False)
    return float(width) / _DPI * 25.4


def line_height(size: float) -> float:
    """Return how high a line is, mm, set in so many points."""
    return LEADING * size * POINT
