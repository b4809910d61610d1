"""The two views of a plan: from above, and from the side; what is projected where, at which scale.

From above the camera stands at the foot of the sheet and the backdrop at its head. The side elevation is seen from
camera right: the camera stands at its left end.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from throughlight.sheets.plan_pieces import Piece

Floats = NDArray[np.float64]

METRIC_SCALES = (1, 2, 5, 10, 20, 25, 50, 100, 200, 500, 1000, 2000, 5000, 10000, 20000, 50000)
"""One over the scale; those of ISO 5455, and 25 and 200."""
FEET_SCALES = (1, 2, 4, 8, 12, 16, 24, 32, 48, 96, 192, 384, 768, 1536, 3072, 6144, 12288, 24576, 49152)
"""One over the scale: 12 is 1 in to the foot, 24 ½ in to the foot (the marks of a builder's scale rule)."""
_FAR = 2.0
_NEVER_FAR = 2.0  # m


class View(NamedTuple):
    """A direction to look from: rows that give right and up on paper, and the way to the viewer."""

    name: str
    heading: str
    across: tuple[float, float, float]
    upward: tuple[float, float, float]
    viewer: tuple[float, float, float]

    def flat(self, points: Floats) -> Floats:
        """Return points (n, 3), m, as (n, 2): right and up in this view, m."""
        flat: Floats = np.asarray(points, float) @ np.array([self.across, self.upward]).T
        return flat


ABOVE = View("plan", "Plan, from above", (1.0, 0.0, 0.0), (0.0, 0.0, -1.0), (0.0, 1.0, 0.0))
SIDE = View("side", "Side elevation, from camera right", (0.0, 0.0, -1.0), (0.0, 1.0, 0.0), (1.0, 0.0, 0.0))


class Panel(NamedTuple):
    """A view on paper: its box, mm from the drawing's lower left corner; `middle` (m) stands in the box's middle."""

    view: View
    left: float
    bottom: float
    width: float
    height: float
    scale: float
    middle: tuple[float, float]

    @property
    def box(self) -> tuple[float, float, float, float]:
        """Return left, bottom, right, top, mm."""
        return self.left, self.bottom, self.left + self.width, self.bottom + self.height

    def place(self, points: Floats) -> Floats:
        """Return where points (n, 3), m, come to lie on paper, (n, 2) mm."""
        centre = np.array([self.left + 0.5 * self.width, self.bottom + 0.5 * self.height])
        placed: Floats = centre + (self.view.flat(points) - np.array(self.middle)) * (1000.0 / self.scale)
        return placed


class Extent(NamedTuple):
    """The smallest upright box round what a view has to show, m."""

    low: Floats
    high: Floats

    @property
    def size(self) -> Floats:
        """Return width and height, m."""
        return self.high - self.low

    @property
    def middle(self) -> tuple[float, float]:
        """Return its middle, m."""
        x, y = 0.5 * (self.low + self.high)
        return float(x), float(y)


def extent(view: View, pieces: Sequence[Piece]) -> Extent:
    """Return the box round some pieces and the mark."""
    flat = view.flat(np.concatenate([np.zeros((1, 3)), *(piece.points for piece in pieces)]))
    return Extent(flat.min(axis=0), flat.max(axis=0))


def far_pieces(pieces: Sequence[Piece]) -> frozenset[int]:
    """Return the numbers of the pieces that stand so far off that showing them in place would shrink all others.

    Such a piece is farther away, by its nearest point, than twice the reach of all that stand nearer.
    """
    spans = {piece.number: np.linalg.norm(piece.points, axis=1) for piece in pieces}
    order = sorted(pieces, key=lambda piece: float(spans[piece.number].max()), reverse=True)
    far: list[int] = []
    for piece, rest in ((piece, order[at + 1 :]) for at, piece in enumerate(order)):
        reach = max((float(spans[one.number].max()) for one in rest), default=math.inf)
        if piece.kind == "table" or float(spans[piece.number].min()) <= max(_FAR * reach, _NEVER_FAR):
            break
        far.append(piece.number)
    return frozenset(far)
