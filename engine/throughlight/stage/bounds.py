"""The smallest upright box around each exact shape, a little enlarged so that no ray is rejected by rounding."""

from __future__ import annotations

import numpy as np

from throughlight.stage.frames import Array
from throughlight.trace.tables import ShapeKind

_MARGIN = 1e-6


def bounds_of(kind: ShapeKind, origin: Array, frame: Array, sizes: tuple[float, float, float]) -> tuple[Array, Array]:
    """Return the lowest and the highest corner, m, of a shape in the world.

    Parameters
    ----------
    kind
        Which shape; sizes are as in `throughlight.trace.tables.ShapeKind`.
    origin
        (3,) its centre, m.
    frame
        (3, 3) its axes as columns.
    sizes
        Its three sizes, m.
    """
    a, b, c = sizes
    if kind == ShapeKind.SPHERE:
        half = np.full(3, a)
    elif kind in (ShapeKind.DISC, ShapeKind.ROUND, ShapeKind.TUBE):
        # A circle of radius a about the axis reaches a·√(1 − n²) along each world axis.
        axis = frame[:, 2]
        half = a * np.sqrt(np.maximum(0.0, 1.0 - axis**2)) + np.abs(axis) * (0.0 if kind == ShapeKind.DISC else c)
    else:
        depth = c if kind == ShapeKind.BOX else 0.0
        half = np.abs(frame) @ np.array([a, b, depth])
    return origin - half - _MARGIN, origin + half + _MARGIN
