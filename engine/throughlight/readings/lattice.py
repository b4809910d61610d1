"""Every n-th pixel first: nested lattices of a picture's pixels, and a smooth picture from what is exposed of them.

A lattice of stride s holds the pixels whose row and column are multiples of s; each is part of the next finer one. What
a coarse lattice knows is carried to the next finer one as a uniform cubic B-spline with its values as control points
(de Boor 1978, "A Practical Guide to Splines"): it never overshoots, and in each direction it halves the variance of
grain at the lattice's own points ((1/6)² + (4/6)² + (1/6)² = 1/2), at the price of some sharpness.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.floating]
Cells = NDArray[np.int64]

_TOGETHER = 8  # lattice points along each side of what is exposed together


def strides(width: int, height: int, most: int) -> list[int]:
    """Return strides from the coarsest, the first power of two whose lattice has at most so many pixels, down to 1."""
    stride = 1
    while (-(-width // stride)) * (-(-height // stride)) > most:
        stride *= 2
    return [stride >> step for step in range(stride.bit_length())]


def groups(width: int, height: int, stride: int, coarser: int | None) -> list[Cells]:
    """Return the pixels of a lattice, as row · width + column, that a coarser one lacks, in groups of neighbours.

    Groups come from the middle of the frame outward, where most pictures have their subject.
    """
    rows, columns = np.arange(0, height, stride)[:, None], np.arange(0, width, stride)[None, :]
    side = stride * _TOGETHER
    across = -(-width // side)
    number = (rows // side) * across + columns // side
    fresh = np.ones(number.shape, np.bool_)
    if coarser is not None:
        fresh = (rows % coarser != 0) | (columns % coarser != 0)
    cells, number = (rows * width + columns)[fresh].astype(np.int64), number[fresh]
    order = np.argsort(number, kind="stable")
    starts = np.flatnonzero(np.diff(number[order])) + 1
    found = np.split(cells[order], starts)

    def from_middle(group: Cells) -> float:
        row, column = divmod(int(group[len(group) // 2]), width)
        return (row - height / 2) ** 2 + (column - width / 2) ** 2

    return sorted(found, key=from_middle)


def _twice_down(values: Floats, rows: int) -> Floats:
    """Return the spline through a lattice's rows at twice as many of them, cut to `rows`."""
    padded = np.concatenate([values[:1], values, values[-1:], values[-1:]])
    before, here, after, beyond = padded[:-3], padded[1:-2], padded[2:-1], padded[3:]
    finer = np.empty((2 * len(values), *values.shape[1:]), values.dtype)
    finer[0::2] = (before + 4.0 * here + after) / 6.0
    finer[1::2] = (before + 23.0 * here + 23.0 * after + beyond) / 48.0
    return finer[:rows]


def enlarged(values: Floats, stride: int, width: int, height: int) -> Floats:
    """Return a lattice's values at every pixel of the picture, smooth between its points.

    Parameters
    ----------
    values
        (rows, columns, bands) at the points of the lattice.
    stride
        Of the lattice, a power of two; with 1 the values come back as they are.
    width, height
        Of the picture, pixels.
    """
    while stride > 1:
        stride //= 2
        values = _twice_down(values, -(-height // stride))
        values = _twice_down(values.swapaxes(0, 1), -(-width // stride)).swapaxes(0, 1)
    return values
