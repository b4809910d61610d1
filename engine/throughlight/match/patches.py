"""From cells to patches: what is compared, prediction and photo averaged over the same cells.

A patch is the square of 1/24 of the frame's short side that readings use. Of its cells only those count that see one
region alone, with neighbours that do so too (an edge a pixel off would be a difference of stops), and of the regions in
a patch the one that has most of it. Many small cells would hold no more light and shade, but more of the prediction's
noise, in which least squares loses its way.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from throughlight.match.fit import Data, evened, prediction_variance
from throughlight.match.model import Model, fields_of, model_of
from throughlight.match.observe import Observed
from throughlight.match.templates import Templates
from throughlight.match.tracing import Frame
from throughlight.readings.regions import Grid
from throughlight.trace.tables import Region

Array = NDArray[np.float64]

_PURE = 0.97
_LEAST = 0.25  # of a patch's cells
_LEAST_SHARE = 0.2  # of a difference: where the twin is less, light comes by a way that the base hardly has
_CODES = 8.0  # code values: patches that are darker than these are all of one level, as what rounding does to them
_COMPARED = (Region.SUBJECT, Region.BACKDROP, Region.OTHER)


class Patches(NamedTuple):
    """Model and photo by patches. region: (patches,) which one each shows, −1 none. pixels: of the photo in each."""

    model: Model
    data: Data
    region: NDArray[np.int64]
    pixels: Array


def pure_cells(coverage: Array, grid: Grid) -> NDArray[np.int64]:
    """Return which region each cell sees alone, its neighbours too; −1 where it sees several, or a support."""
    region = np.full((grid.rows, grid.columns), -1, np.int64)
    for one in _COMPARED:
        pure = (coverage[:, one] >= _PURE).reshape(grid.rows, grid.columns)
        padded = np.pad(pure, 1, mode="edge")
        inner = np.ones_like(pure)
        for down in range(3):
            for across in range(3):
                inner &= padded[down : down + grid.rows, across : across + grid.columns]
        region[inner] = int(one)
    return region.ravel()


def gather(templates: Templates, observed: Observed, side: int) -> Patches:
    """Average templates and photo over patches of `side` by `side` cells."""
    base = templates.base
    grid = base.grid
    region = np.where(observed.used, pure_cells(base.coverage, grid), -1)
    patches = Grid(grid.columns // side, grid.rows // side)
    patch = _patch_of(grid, patches, side)
    counts = np.stack([np.bincount(patch[region == one], minlength=patches.cells) for one in _COMPARED])
    main = np.array(_COMPARED, np.int64)[counts.argmax(axis=0)]
    kept = region == main[patch]
    many = np.bincount(patch[kept], minlength=patches.cells).astype(np.float64)
    share = np.where(kept, 1.0 / np.maximum(many, 1.0)[patch], 0.0)

    def mean(cells: Array) -> Array:
        flat = cells.reshape(-1, grid.cells)
        rows = [np.bincount(patch, one * share, patches.cells) for one in flat]
        return np.asarray(np.stack(rows).reshape(*cells.shape[:-1], patches.cells))

    used = many >= _LEAST * side * side
    cover = np.zeros((patches.cells, 4))
    cover[np.arange(patches.cells), main] = 1.0
    frame = base._replace(grid=patches, image=mean(base.image), coverage=cover)
    twin = templates.twin._replace(grid=patches, image=mean(templates.twin.image), coverage=cover)
    slopes = {
        place: tuple(_as_shares((mean(image), veil), twin, frame) for image, veil in some)
        for place, some in templates.slopes.items()
    }
    y = mean(observed.mean)
    pixels = np.asarray(np.bincount(patch, observed.pixels * kept, patches.cells), np.float64)
    # Noise by the light round about: by its own, a patch whose grain is dark would weigh more.
    own = observed.noise.variance(evened(y, patches.columns)) / np.maximum(pixels, 1.0)
    noise = own + _together(y + _CODES * mean(observed.step), mean(observed.offset), used)
    traced = prediction_variance(frame.image.sum(axis=1), frame.veil.sum(axis=1), patches.columns)
    data = Data(y, noise + traced, traced, used, patches.columns)
    model = model_of(templates._replace(base=frame, twin=twin, slopes=slopes), mean(fields_of(grid.columns, grid.rows)))
    return Patches(model, data, np.where(used, main, -1), pixels)


def _as_shares(slope: tuple[Array, Array], twin: Frame, frame: Frame) -> tuple[Array, Array]:
    """Return a slope as the share that it is of its twin, taken of the base.

    Twin and variant have the same paths, so their ratio has next to no noise while their difference has all of it: what
    is left is that of the base, the same in each change.
    """
    told = []
    for more, here, base in zip(slope, (twin.image, twin.veil), (frame.image, frame.veil), strict=True):
        middle, whole = more.mean(axis=0), here.mean(axis=0)
        seen = whole > _LEAST_SHARE * np.abs(middle)
        share = np.where(seen, middle / np.where(seen, whole, 1.0), 0.0)
        told.append(np.where(seen, base * share, more))
    return told[0], told[1]


def _patch_of(grid: Grid, patches: Grid, side: int) -> NDArray[np.int64]:
    """Return the patch of each cell; cells left over at an edge belong to the last."""
    row = np.minimum(np.arange(grid.rows) // side, patches.rows - 1)
    column = np.minimum(np.arange(grid.columns) // side, patches.columns - 1)
    return (row[:, None] * patches.columns + column[None, :]).ravel()


def _together(level: Array, offset: Array, used: NDArray[np.bool_]) -> Array:
    """Return the variance of offsets that patches of about one level share: together they are worth one."""
    code = np.floor(np.log2(np.maximum(level, 1e-9)) * 8.0).astype(np.int64)
    code = np.where(used, code, np.iinfo(np.int64).min)
    _, number, alike = np.unique(code, return_inverse=True, return_counts=True)
    return np.asarray(offset**2 * alike[number])
