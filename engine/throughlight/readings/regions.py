"""What the film sees where: the parts of the frame that each reading looks at, and the samplers that look.

The film is divided into squares, 48 along its short side; two by two of them make a patch, the square of 1/24
of the short side that the worst patch is told by. A short look with regular rays through the pupil sorts the squares by
what they see; each reading then samples only the squares that matter to it.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from throughlight.setup import Setup, Spot
from throughlight.trace.driver import Target
from throughlight.trace.expose import FILM, FRONT, sort_film
from throughlight.trace.tables import Region, Stage

PATCHES = 24
"""Patches along the short side of the frame."""

_RAYS = 6  # along each side of a fine square


class Grid(NamedTuple):
    """A division of the film into columns × rows squares."""

    columns: int
    rows: int

    @property
    def cells(self) -> int:
        """Return the number of squares."""
        return self.columns * self.rows


class Regions(NamedTuple):
    """What each square of the film sees.

    Attributes
    ----------
    fine, patches
        The two grids.
    coverage
        (fine squares, 4) share of each square's rays that meet subject, backdrop, support, other first.
    parts
        (parts,) share of the frame that each part of the set fills.
    """

    fine: Grid
    patches: Grid
    coverage: NDArray[np.float64]
    parts: NDArray[np.float64]

    def patch_coverage(self, region: Region) -> NDArray[np.float64]:
        """Return the share of each patch that sees the region, (patches,)."""
        fine = self.coverage[:, region].reshape(self.patches.rows, 2, self.patches.columns, 2)
        means: NDArray[np.float64] = fine.mean(axis=(1, 3)).ravel()
        return means


def grids(setup: Setup) -> tuple[Grid, Grid]:
    """Return the fine grid and the grid of patches for this sensor's shape."""
    width, height = setup.camera.sensor_width, setup.camera.sensor_height
    short = min(width, height)
    patches = Grid(max(1, round(PATCHES * width / short)), max(1, round(PATCHES * height / short)))
    return Grid(2 * patches.columns, 2 * patches.rows), patches


def sort_regions(stage: Stage, setup: Setup) -> Regions:
    """Sort the film's squares by what they see."""
    fine, patches = grids(setup)
    counts = np.zeros((fine.cells, 4), np.int64)
    touched = np.zeros(len(stage.parts), np.int64)
    sort_film(stage, fine.columns, fine.rows, _RAYS, counts, touched)
    return Regions(fine, patches, counts / _RAYS**2, touched / (fine.cells * _RAYS**2))


def _looking(grid: Grid, sees: NDArray[np.bool_], *regions: Region) -> Target:
    mask = sum(1 << region for region in regions)
    return Target(FILM, grid.columns, grid.rows, np.flatnonzero(sees).astype(np.int64), mask)


def spot_cell(grid: Grid, spot: Spot) -> int:
    """Return the square that a spot lies in."""
    column = min(int(spot.x * grid.columns), grid.columns - 1)
    return min(int(spot.y * grid.rows), grid.rows - 1) * grid.columns + column


def targets(regions: Regions, spots: tuple[Spot, ...]) -> dict[str, Target]:
    """Return the samplers of all readings by name; a region that isn't in the frame has none."""
    fine, cover = regions.fine, regions.coverage
    rest = cover[:, Region.SUPPORT] + cover[:, Region.OTHER]
    wanted = {
        "subject": _looking(fine, cover[:, Region.SUBJECT] > 0, Region.SUBJECT),
        "backdrop": _looking(regions.patches, regions.patch_coverage(Region.BACKDROP) > 0, Region.BACKDROP),
        "rest": _looking(fine, rest > 0, Region.SUPPORT, Region.OTHER),
    }
    found = {name: target for name, target in wanted.items() if len(target.cells)}
    found["front"] = Target(FRONT, 1, 1, np.zeros(1, np.int64), 15)
    for number, spot in enumerate(spots):
        cell = np.array([spot_cell(fine, spot)], np.int64)
        found[f"spot {number}"] = Target(FILM, fine.columns, fine.rows, cell, 15)
    return found
