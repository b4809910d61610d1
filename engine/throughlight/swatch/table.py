"""The bare light table of a photo, evened out: a smooth surface through what is seen of it.

No table is quite even, and a lens darkens the corners. From the brightest even patches the table is followed outward
as long as the light changes little from patch to patch and keeps its colour; the piece's edge is a jump. Through the
logarithm of all its patches goes a surface of the second degree (least squares), where the table lies on either side of
the piece both ways; else the table counts as even. How much the surface makes of the table where the piece lies is
believed to a quarter (common sense, no source).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Mask = NDArray[np.bool_]

_STEP = 0.06  # of the light, from one patch of the table to the next
_COLOUR = 0.05  # of a band's part in the light
_ENOUGH = 30  # patches for a surface
_DIMMEST = 0.2  # of the brightest patch
_UNSURE = 0.25  # of what the surface makes


class Table(NamedTuple):
    """Light of the bare table everywhere: coefficients (6, 3) of its natural logarithm by band."""

    terms: Array

    def light(self, rows: int, columns: int) -> Array:
        """Return the light at the middles of so many even parts of the frame, (rows, columns, 3)."""
        return np.asarray(np.exp(_terms(rows, columns) @ self.terms))

    def made(self, places: Mask, seen: Mask) -> float:
        """Return by how many stops the table is told to be brighter at some patches than where it is seen."""
        light = np.log2(self.light(*places.shape)).mean(axis=2)
        return float(light[places].mean() - light[seen].mean())


def even_table(light: Array) -> Table:
    """Return a table that is the same everywhere, (3,)."""
    terms = np.zeros((6, 3))
    terms[0] = np.log(light)
    return Table(terms)


def followed(means: Array, even: Mask, start: Mask) -> Mask:
    """Return the patches that hang together with the brightest ones by small steps.

    Parameters
    ----------
    means
        (p, q, 3) mean light of each patch.
    even, start
        (p, q) whether it is even, and is surely bare.
    """
    grey = np.maximum(means.mean(axis=2), 1e-12)
    colour = means / grey[..., None]
    like = np.abs(colour / np.maximum(colour[start].mean(axis=0), 1e-12) - 1.0).max(axis=2) < _COLOUR
    fit = even & like & (grey > _DIMMEST * grey[start].mean())
    found = start & fit
    while True:
        more = found.copy()
        for axis in (0, 1):
            for step in (1, -1):
                near = np.roll(found, step, axis) & (np.abs(grey / np.roll(grey, step, axis) - 1.0) < _STEP)
                edge = [slice(None), slice(None)]
                edge[axis] = slice(0, 1) if step == 1 else slice(-1, None)
                near[tuple(edge)] = False
                more |= near & fit
        if np.array_equal(more, found):
            return np.asarray(found, np.bool_)
        found = more


def surface(means: Array, seen: Mask) -> Table:
    """Return the surface through the patches where the table is seen."""
    if seen.sum() < _ENOUGH:
        return even_table(means[seen].mean(axis=0))
    terms = _terms(*seen.shape)[seen]
    found, *_ = np.linalg.lstsq(terms, np.log(np.maximum(means[seen], 1e-12)), rcond=None)
    return Table(np.asarray(found, np.float64))


def about(piece: Mask, seen: Mask) -> bool:
    """Return whether the table is seen on either side of the piece, both ways."""
    for axis in (0, 1):
        ours, theirs = (np.flatnonzero(one.any(axis=axis)) for one in (piece, seen))
        if not theirs[0] <= ours.mean() <= theirs[-1]:
            return False
    return True


def unsure(made: float) -> float:
    """Return how far what a surface makes may be off, stops."""
    return _UNSURE * abs(made)


def _terms(rows: int, columns: int) -> Array:
    y = ((np.arange(rows) + 0.5) / rows * 2.0 - 1.0)[:, None] + np.zeros(columns)
    x = ((np.arange(columns) + 0.5) / columns * 2.0 - 1.0)[None, :] + np.zeros((rows, 1))
    return np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=-1)
