"""The picture: exposures of every pixel, one linear layer for each head and one for the room.

The picture is exposed in tiles. Each pass takes more samples in the tiles that still look grainy: a tile's error is the
difference between two halves of its samples, seen after development, in 8-bit code values. Every pixel has one writer
and a quasi-random sequence of its own, so the same seed gives the same picture on any number of threads.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor, wait
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from throughlight.darkroom.tone import develop
from throughlight.readings.frame import exposure_per_luminance
from throughlight.setup import Setup
from throughlight.stage.build import build
from throughlight.trace.driver import Target, empty_tally, thread_count
from throughlight.trace.expose import PICTURE, expose
from throughlight.trace.tables import Stage

_TILE = 24  # pixels
_FIRST_PASS = 8  # samples a pixel, half for each half
_MOST_BYTES = 6 << 30
_REPLICATE = 1000  # keeps the picture's random numbers apart from the readings'

Array = NDArray[np.float64]
Progress = Callable[[float, int], None]
"""Called with the share of the present pass that is done, and the samples a pixel of this pass."""


@dataclass(frozen=True)
class Picture:
    """Exposures on the film, not yet developed.

    Attributes
    ----------
    layers
        (layers, h, w, 3) lx·s by head, the room last; without veil.
    names
        Names of the layers.
    coverage
        (h, w, 4) share of each pixel that sees subject, backdrop, support, other.
    samples
        (h, w) samples taken.
    finished
        Whether every tile reached the grain that was asked for.
    interrupted
        Whether Ctrl-C ended it early.
    """

    layers: NDArray[np.float32]
    names: tuple[str, ...]
    coverage: NDArray[np.float32]
    samples: NDArray[np.int64]
    finished: bool
    interrupted: bool

    @property
    def exposure(self) -> NDArray[np.float32]:
        """Return the sum of all layers, (h, w, 3) lx·s, without veil."""
        total: NDArray[np.float32] = self.layers.sum(axis=0)
        return total


def _tiles(width: int, height: int) -> list[NDArray[np.int64]]:
    """Return the pixels of each tile as row · width + column."""
    tiles = []
    for top in range(0, height, _TILE):
        for left in range(0, width, _TILE):
            rows = np.arange(top, min(top + _TILE, height))[:, None]
            columns = np.arange(left, min(left + _TILE, width))[None, :]
            tiles.append((rows * width + columns).ravel().astype(np.int64))
    return tiles


class _Film:
    """The sums of an exposure in progress: two halves for each pixel."""

    def __init__(self, stage: Stage, setup: Setup, seed: int) -> None:
        self.stage, self.seed = stage, seed
        self.width, self.height = setup.camera.pixels
        self.constant = exposure_per_luminance(setup.camera)
        self.iso = setup.camera.iso
        pixels, layers = self.width * self.height, len(stage.heads) + 1
        if 2 * pixels * layers * 3 * 8 > _MOST_BYTES:
            raise ValueError(
                f"a picture of {self.width}×{self.height} pixels with {layers} layers needs more than 6 GiB; "
                "fewer pixels would fit"
            )
        self.sums = np.zeros((2, pixels, layers, 3))
        self.counts = np.zeros((pixels, 4), np.int64)
        self.taken = np.zeros(pixels, np.int64)

    def expose_tile(self, tile: NDArray[np.int64], samples: int) -> None:
        """Take so many more samples in each pixel of a tile, half of them for each half."""
        target = Target(PICTURE, self.width, self.height, tile, 15)
        first = int(self.taken[tile[0]]) // 2
        for half in range(2):
            part = empty_tally(self.stage, target, 1)
            expose(
                self.stage, PICTURE, self.width, self.height, tile, first, samples // 2, self.seed,
                _REPLICATE + half, 15, part.cells[0], part.routes[0], part.counts[0], part.seen[0],
            )  # fmt: skip
            self.sums[half, tile] += part.cells[0]
            self.counts[tile] += part.counts[0]
        self.taken[tile] += samples

    def grain(self, tile: NDArray[np.int64]) -> float:
        """Return the RMS error of a tile's developed pixels, in 8-bit code values."""
        halves = self.sums[:, tile].sum(axis=2) * (self.constant / (self.taken[tile] / 2.0)[None, :, None])
        shades = [develop(half[None], self.iso, dither=False).astype(float) for half in halves]
        return float(np.sqrt(np.mean((shades[0] - shades[1]) ** 2)) / 2.0)

    def picture(self, names: tuple[str, ...], finished: bool, interrupted: bool) -> Picture:
        """Return the exposures so far."""
        taken = np.maximum(self.taken, 1)
        mean = (self.sums[0] + self.sums[1]) * (self.constant / taken)[:, None, None]
        shape = (self.height, self.width)
        layers = np.ascontiguousarray(mean.transpose(1, 0, 2).reshape(len(names), *shape, 3), dtype=np.float32)
        coverage = (self.counts / taken[:, None]).reshape(*shape, 4).astype(np.float32)
        return Picture(layers, names, coverage, self.taken.reshape(shape), finished, interrupted)


def expose_picture(
    setup: Setup,
    *,
    grain: float = 3.0,
    most_samples: int = 512,
    time_limit: float | None = None,
    seed: int | None = None,
    threads: int | None = None,
    progress: Progress | None = None,
) -> Picture:
    """Return a set's picture as linear exposures.

    Parameters
    ----------
    setup
        The checked description; its `[finish]` decides whether supports are in the picture.
    grain
        The RMS error in a tile to reach, 8-bit code values.
    most_samples
        The most samples of any pixel.
    time_limit
        Seconds after which no further pass is begun.
    seed, threads, progress
        As for `meter`.

    Raises
    ------
    ValueError
        When the picture's sums would need more than 6 GiB.
    """
    stage, cast = build(setup, supports=not setup.finish.hide_supports)
    film = _Film(stage, setup, setup.seed if seed is None else seed)
    tiles = _tiles(film.width, film.height)
    interrupted, finished = False, False
    try:
        finished = _expose_passes(film, tiles, grain, most_samples, time_limit, threads, progress)
    except KeyboardInterrupt:
        interrupted = True
    return film.picture((*cast.heads, "room light"), finished, interrupted)


def _expose_passes(
    film: _Film, tiles: list[NDArray[np.int64]], grain: float, most_samples: int, time_limit: float | None,
    threads: int | None, progress: Progress | None,
) -> bool:  # fmt: skip
    """Expose in passes that double until each tile is fine enough.

    Ctrl-C ends it at once and keeps what is exposed; so does the time limit, once every tile has had its first pass.
    """
    begun = time.monotonic()

    def late() -> bool:
        return time_limit is not None and time.monotonic() - begun > time_limit

    samples, waiting = _FIRST_PASS, tiles
    with ThreadPoolExecutor(thread_count(threads)) as pool:
        while waiting and film.taken[waiting[0][0]] + samples <= most_samples:
            first = film.taken[waiting[0][0]] == 0
            work = [pool.submit(film.expose_tile, tile, samples) for tile in waiting]
            try:
                for done, future in enumerate(work, 1):
                    future.result()
                    if progress is not None:
                        progress(done / len(work), samples)
                    if late() and not first:
                        break
            finally:
                for future in work:
                    future.cancel()
                wait(work)
            waiting = [tile for tile in waiting if film.grain(tile) > grain]
            if late():
                break
            samples = int(film.taken[waiting[0][0]]) if waiting else samples
    return not waiting
