"""A photo of a piece on a light table: where the bare table and the piece are, and what share of the light passes.

The picture is cut into patches. The bare table is what is bright and even, followed outward and evened out (`table`);
the piece is the largest group of darker patches, less a border of one patch, so that its edge is left out. T = light of
the piece / light of the bare table, band by band. What stays uneven of the table, and the veil that a lens lays over a
dark piece beside a bright table (about 1 % of the light: common practice, no source), are given as standard deviations
in stops.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from throughlight.swatch.table import Table, about, even_table, followed, surface, unsure

Array = NDArray[np.float64]
Light = NDArray[np.float32]
Box = tuple[float, float, float, float]

_ACROSS = 48  # patches along the longer side
_EVEN = 0.06  # standard deviation over mean within an even patch
_BARE = 0.85  # of the brightest even patches
_PIECE = 0.80  # of the bare table, any band
_CLIPPED = 0.02  # of the bare table: more of it pulls its mean down
_DARK = 0.004
_VEIL = 0.01


class Passed(NamedTuple):
    """What a photo tells.

    Attributes
    ----------
    share
        (3,) transmittance by band.
    error
        (3,) standard deviation of its logarithm, stops: unevenness of the table and veil.
    bare, piece
        Box round either: shares of the frame from the left, from the top, width, height.
    floor
        (3,) whether a band is as dark as the photo can tell.
    table
        Linear light of the bare table, everywhere.
    made
        Stops by which the table is told to be brighter where the piece lies than where it is seen.
    """

    share: Array
    error: Array
    bare: Box
    piece: Box
    floor: NDArray[np.bool_]
    table: Table
    made: float


def passed(
    light: Light, least: float, bare: Box | None = None, piece: Box | None = None, *,
    clipped: NDArray[np.bool_] | None = None,
) -> Passed:  # fmt: skip
    """Return what share of the light passes the piece.

    Parameters
    ----------
    light
        (rows, columns, 3) linear light, white is 1.
    least
        The least light that the photo's steps can tell.
    bare, piece
        Where they are, shares of the frame; looked for when None.
    clipped
        (rows, columns) where the light is known only from below; None: nowhere.

    Raises
    ------
    ValueError
        When one of the two is not found, or the bare table is clipped or black; says so in a sentence.
    """
    means, even = _patches(light)
    bright = _inside(means.shape[:2], bare) if bare is not None else _bare(means, even)
    mean = means[bright].mean(axis=0)
    if clipped is not None and _cut(clipped).mean(axis=(1, 3))[bright].mean() > _CLIPPED:
        raise ValueError("the bare light table is clipped in the photo; a shorter exposure would fit")
    if mean.min() < _DARK:
        raise ValueError("the bare patch is black; a patch of the bare light table would fit")
    table = even_table(mean)
    if bare is None:
        seen = followed(means, even, bright)
        table, bright = (surface(means, seen), seen) if seen.sum() > bright.sum() // 2 else (table, bright)
    dark = _piece(means / table.light(*bright.shape), bright) if piece is None else _inside(bright.shape, piece)
    if bare is None and not about(dark, bright):
        table = even_table(means[bright].mean(axis=0))
    bare_light = table.light(*dark.shape)
    through, made = means[dark].mean(axis=0), table.made(dark, bright)
    share = np.maximum(means[dark] / bare_light[dark], least / mean).mean(axis=0)
    if share.min() > 1.0:
        raise ValueError("the piece is brighter than the bare patch; were the two exchanged?")
    uneven = (means[bright] / bare_light[bright]).std(axis=0) if bright.sum() > 1 else np.zeros(3)
    error = np.hypot(np.hypot(uneven, _VEIL * bright.mean() / share) / np.log(2.0), unsure(made))
    return Passed(np.minimum(share, 1.0), error, _box(bright), _box(dark), through <= least, table, made)


def _patches(light: Light) -> tuple[Array, NDArray[np.bool_]]:
    """Return the mean light of each patch (p, q, 3) and whether it is even."""
    cut = _cut(light).astype(np.float64)
    means = cut.mean(axis=(1, 3))
    grey = cut.mean(axis=4)
    return means, grey.std(axis=(1, 3)) <= _EVEN * np.maximum(grey.mean(axis=(1, 3)), 1e-9)


def _cut(values: NDArray[Any]) -> NDArray[Any]:
    """Return what belongs to each patch, (p, rows of a patch, q, columns of a patch, ...)."""
    rows, columns = values.shape[:2]
    size = max(1, max(rows, columns) // _ACROSS)
    p, q = max(1, rows // size), max(1, columns // size)
    return values[: p * size, : q * size].reshape(p, min(size, rows), q, min(size, columns), *values.shape[2:])


def _bare(means: Array, even: NDArray[np.bool_]) -> NDArray[np.bool_]:
    grey = means.mean(axis=2)
    if not even.any():
        raise ValueError("no even patch of bare light table is in view; its region bare would say where it is")
    found = even & (grey >= _BARE * np.quantile(grey[even], 0.98))
    return np.asarray(found, np.bool_)


def _piece(share: Array, table: NDArray[np.bool_]) -> NDArray[np.bool_]:
    dark = (share.min(axis=2) < _PIECE) & ~table
    if not dark.any():
        words = "no piece is told from a bare table: nothing is darker than the brightest even part of the frame"
        raise ValueError(f"{words}; both in view, or their regions bare and piece, would fit")
    if dark.mean() > 0.98:
        raise ValueError("no bare light table is in view beside the piece; its region bare would say where it is")
    largest = max(_groups(dark), key=len)
    group = np.zeros(dark.shape, np.bool_)
    group[tuple(np.transpose(largest))] = True
    padded = np.pad(group, 1, constant_values=True)  # what runs out of the frame has no edge there
    inner = group & padded[:-2, 1:-1] & padded[2:, 1:-1] & padded[1:-1, :-2] & padded[1:-1, 2:]
    return inner if inner.any() else group


def _groups(mask: NDArray[np.bool_]) -> list[list[tuple[int, int]]]:
    """Return the patches of each group that hangs together by its sides."""
    left = {(int(i), int(j)) for i, j in np.argwhere(mask)}
    groups = []
    while left:
        group, edge = [], [left.pop()]
        while edge:
            i, j = edge.pop()
            group.append((i, j))
            for near in ((i - 1, j), (i + 1, j), (i, j - 1), (i, j + 1)):
                if near in left:
                    left.remove(near)
                    edge.append(near)
        groups.append(group)
    return groups


def _inside(shape: tuple[int, ...], box: Box) -> NDArray[np.bool_]:
    """Return the patches whose middle lies in a box, at least the one at its middle."""
    x, y, width, height = box
    down, across = (np.arange(shape[0]) + 0.5) / shape[0], (np.arange(shape[1]) + 0.5) / shape[1]
    found = np.outer((down >= y) & (down <= y + height), (across >= x) & (across <= x + width))
    middle = min(int((y + 0.5 * height) * shape[0]), shape[0] - 1), min(int((x + 0.5 * width) * shape[1]), shape[1] - 1)
    found[middle] = True
    return found


def _box(mask: NDArray[np.bool_]) -> Box:
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    p, q = mask.shape
    return (
        float(columns[0]) / q,
        float(rows[0]) / p,
        float(columns[-1] + 1 - columns[0]) / q,
        float(rows[-1] + 1 - rows[0]) / p,
    )
