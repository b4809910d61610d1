"""A set's frame by cells: image-forming light of each head and the veil that it makes, replicate by replicate.

The film is divided four times as finely as patches are, 96 squares along its short side. Each square is exposed in
replicates that are independent randomisations, as for readings, so that the prediction's own noise is known. Two sets
that differ in one thing are traced with the same random numbers: their difference has little noise.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from throughlight.photometry.exposure import mid_grey
from throughlight.photometry.veil import veiling_luminance
from throughlight.readings.frame import exposure_per_luminance, illuminance_per_luminance, luminance
from throughlight.readings.regions import Grid, grids
from throughlight.setup import Setup
from throughlight.stage.build import build
from throughlight.trace.driver import Tally, Target, empty_tally, run, thread_count
from throughlight.trace.expose import FRONT, PICTURE, expose
from throughlight.trace.tables import Stage

Array = NDArray[np.float64]
Progress = Callable[[str, float], None]

REPLICATES = 8
_FIRST_REPLICATE = 2000  # keeps these random numbers apart from those of readings and pictures
_CELLS_AT_ONCE = 512
_ALL = 15


class Frame(NamedTuple):
    """A traced frame, exposures over mid-grey's (1 is mid-grey), of luminance.

    image: (replicates, layers, cells) without veil. veil: (replicates, layers). coverage: (cells, 4) by region.
    names: of the layers; the room is the last.
    """

    grid: Grid
    image: Array
    veil: Array
    coverage: Array
    names: tuple[str, ...]

    @property
    def mean_image(self) -> Array:
        """Return the mean over replicates, (layers, cells)."""
        return np.asarray(self.image.mean(axis=0))

    @property
    def mean_veil(self) -> Array:
        """Return the mean over replicates, (layers,)."""
        return np.asarray(self.veil.mean(axis=0))


class _Work(NamedTuple):
    cells: NDArray[np.int64]
    replicate: int


def match_grid(setup: Setup, fineness: int = 2) -> Grid:
    """Return the grid of cells: `fineness` times as fine as the readings' fine squares."""
    fine, _ = grids(setup)
    return Grid(fineness * fine.columns, fineness * fine.rows)


def trace_frame(
    setup: Setup, grid: Grid, *, samples: int, fronts: int, seed: int, threads: int | None = None,
    progress: Callable[[float], None] | None = None,
) -> Frame:  # fmt: skip
    """Trace a frame.

    Parameters
    ----------
    setup
        The checked description.
    grid
        How the film is divided.
    samples
        Of each cell and replicate.
    fronts
        Paths to the front element of each replicate.
    seed
        Start of the random numbers.
    threads, progress
        How many threads; called with the share that is done.
    """
    stage, cast = build(setup)
    sums, counts = _film(stage, grid, samples, seed, threads, progress)
    front = Target(FRONT, 1, 1, np.zeros(1, np.int64), _ALL)
    outcome = run(
        stage, {"front": front}, lambda _: {"front"}, seed=seed, threads=threads, most_paths=fronts,
        replicates=REPLICATES,
    )  # fmt: skip
    if outcome.reason == "interrupted":
        raise KeyboardInterrupt
    tally: Tally = outcome.tallies["front"]
    camera, unit = setup.camera, mid_grey(setup.camera.iso)
    inside = sums.mean(axis=2) / samples * illuminance_per_luminance(camera)
    outside = luminance(tally.cells[:, 0]) / tally.rays
    constant = exposure_per_luminance(camera)
    return Frame(
        grid,
        sums * (constant / samples / unit),
        veiling_luminance(camera.glare, 1.0) * (inside + outside) * (constant / unit),
        counts / counts.sum(axis=1, keepdims=True),
        (*cast.heads, "room light"),
    )


def _film(
    stage: Stage, grid: Grid, samples: int, seed: int, threads: int | None, progress: Callable[[float], None] | None
) -> tuple[Array, Array]:
    """Return sums of luminance (replicates, layers, cells) and rays by region (cells, 4)."""
    sums = np.zeros((REPLICATES, len(stage.heads) + 1, grid.cells))
    counts = np.zeros((grid.cells, 4))
    pieces = math.ceil(grid.cells / _CELLS_AT_ONCE)
    parts = np.array_split(np.arange(grid.cells, dtype=np.int64), pieces)
    works = [_Work(cells, replicate) for replicate in range(REPLICATES) for cells in parts]

    def trace(work: _Work) -> Tally:
        target = Target(PICTURE, grid.columns, grid.rows, work.cells, _ALL)
        part = empty_tally(stage, target, 1)
        expose(
            stage, PICTURE, grid.columns, grid.rows, work.cells, 0, samples, seed, _FIRST_REPLICATE + work.replicate,
            _ALL, part.cells[0], part.routes[0], part.counts[0], part.seen[0],
        )  # fmt: skip
        return part

    with ThreadPoolExecutor(thread_count(threads)) as pool:
        tasks = [pool.submit(trace, work) for work in works]
        try:
            for done, (task, work) in enumerate(zip(tasks, works, strict=True), 1):
                part = task.result()
                sums[work.replicate][:, work.cells] = luminance(part.cells[0]).T
                counts[work.cells] += part.counts[0]
                if progress is not None:
                    progress(done / len(tasks))
        finally:
            for task in tasks:
                task.cancel()
    return sums, counts
