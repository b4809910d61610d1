"""Sums over the cells round about each cell."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from throughlight.readings.regions import Grid

Array = NDArray[np.float64]

_ABOUT = 3  # cells each way: the neighbourhood that a cell is judged by


def sums_about(field: Array, reach: int) -> Array:
    """Return the sums over squares of 2·reach + 1 cells, (rows, columns); at the edges over what there is."""
    span = 2 * reach + 1
    wide = np.pad(field, reach)
    for axis in (0, 1):
        wide = np.lib.stride_tricks.sliding_window_view(wide, span, axis).sum(axis=-1)
    return np.asarray(wide)


def round_about(sums: Array, grid: Grid) -> Array:
    """Return the sums over the neighbourhood of each cell, (cells,) → (cells,)."""
    return sums_about(sums.reshape(grid.rows, grid.columns), _ABOUT).ravel()
