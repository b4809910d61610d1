"""The picture: exposures of every pixel, one linear layer for each head and one for the room.

Every pixel is exposed a little first: all at once, or, where somebody looks on, every n-th first and finer lattices
after it. Passes then take more samples in the blocks that are still too grainy. A sample lowers the squared error of a
block by error²/samples, so those where that is largest come first, whatever ends the exposure early. A block is given
what its grain asks for, at most as much as it has. Every pixel has one writer and a quasi-random sequence of its own,
so the same seed gives the same picture on any number of threads and whichever pixels came first.
"""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor, wait
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from throughlight.readings.film import BLOCK, Cells, Film, Guides
from throughlight.readings.lattice import groups, strides
from throughlight.setup import Setup
from throughlight.stage.build import build
from throughlight.trace.driver import thread_count

_FIRST_PASS = 8  # samples a pixel, half for each half
_TOGETHER = 0.25  # blocks are exposed in one pass whose gain is at least this part of the greatest
_COARSEST = 10000  # pixels of the first lattice, where somebody looks on: less than a second's work
_LOOK_AGAIN = 4.0  # seconds between looks at a pass in progress

Progress = Callable[[float, int], None]
"""Called with the share of the present pass that is done, and the most samples a pixel in this pass."""


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
        Whether every block reached the grain that was asked for.
    interrupted
        Whether Ctrl-C ended it early.
    stride
        All pixels whose row and column are multiples of it are exposed; 0 when not even that is so.
    worst_grain
        Of any block, 8-bit code values; None before every pixel is exposed.
    guides
        Albedo and normal, where a denoiser will want them.
    """

    layers: NDArray[np.float32]
    names: tuple[str, ...]
    coverage: NDArray[np.float32]
    samples: NDArray[np.int64]
    finished: bool
    interrupted: bool
    stride: int = 1
    worst_grain: float | None = None
    guides: Guides | None = None

    @property
    def exposure(self) -> NDArray[np.float32]:
        """Return the sum of all layers, (h, w, 3) lx·s, without veil."""
        total: NDArray[np.float32] = self.layers.sum(axis=0)
        return total


Watch = Callable[[Picture], None]
"""Called with the picture as it stands."""


def expose_picture(
    setup: Setup,
    *,
    grain: float = 3.0,
    most_samples: int = 512,
    time_limit: float | None = None,
    seed: int | None = None,
    threads: int | None = None,
    guided: bool = False,
    progress: Progress | None = None,
    watch: Watch | None = None,
) -> Picture:
    """Return a set's picture as linear exposures.

    Parameters
    ----------
    setup
        The checked description; its `[finish]` decides whether supports are in the picture.
    grain
        The RMS error in a block of pixels to reach, 8-bit code values.
    most_samples
        The most samples of any pixel.
    time_limit
        Seconds after which no further pass is begun, counted from when the tracer is compiled.
    seed, threads, progress
        As for `meter`.
    guided
        Whether to note albedo and normal for a denoiser.
    watch
        Where given, coarse lattices of pixels are exposed first, and it is called with the picture after each lattice
        and pass, and every few seconds in between.

    Raises
    ------
    ValueError
        When the picture's sums would need more than 6 GiB.
    """
    stage, cast = build(setup, supports=setup.finish.support_shadows or not setup.finish.hide_supports)
    film = Film(stage, setup, setup.seed if seed is None else seed, guided=guided)
    work = _Exposure(film, (*cast.heads, "room light"), grain, most_samples, time_limit, threads, progress, watch)
    try:
        work.run()
    except KeyboardInterrupt:
        work.interrupted = True
    return work.picture()


class _Exposure:
    """Passes over the film until each block is fine enough.

    Ctrl-C ends it at once and keeps what is exposed; so does the time limit, once every pixel (or, where somebody looks
    on, the coarsest lattice) has had its first samples.
    """

    def __init__(
        self, film: Film, names: tuple[str, ...], grain: float, most_samples: int, time_limit: float | None,
        threads: int | None, progress: Progress | None, watch: Watch | None,
    ) -> None:  # fmt: skip
        self.film, self.names, self.limit, self.most = film, names, grain, most_samples
        self.threads, self.progress, self.watch = threads, progress, watch
        self.time_limit, self.deadline = time_limit, math.inf
        self.stride = 0
        self.worst: float | None = None
        self.finished = self.interrupted = False
        self.looked = 0.0

    def picture(self) -> Picture:
        """Return the picture as it stands."""
        layers, coverage, samples, guides = self.film.now()
        return Picture(
            layers, self.names, coverage, samples, self.finished, self.interrupted, self.stride, self.worst, guides
        )

    def run(self) -> None:
        """Expose until all is fine enough, or time is up."""
        self.film.make_ready()
        if self.time_limit is not None:
            self.deadline = time.monotonic() + self.time_limit
        with ThreadPoolExecutor(thread_count(self.threads)) as pool:
            if not self._first_samples(pool):
                return
            fresh: NDArray[np.intp] = np.arange(self.film.squared_grain.size)
            while len(fresh) > 0:
                self.film.measure(fresh)
                grain = self.film.grain().ravel()
                self.worst = float(grain.max())
                self.finished = self.worst <= self.limit
                self._show()
                fresh, more = self._next_pass(grain)
                work = [(self.film.cells_of(int(block)), int(n)) for block, n in zip(fresh, more, strict=True)]
                if self._late() or not self._expose(pool, work, hurried=True):
                    return

    def _first_samples(self, pool: ThreadPoolExecutor) -> bool:
        """Give every pixel its first samples, coarse lattices first where somebody looks on; False when time is up."""
        width, height = self.film.width, self.film.height
        coarser = None
        for stride in [1] if self.watch is None else strides(width, height, _COARSEST):
            work = [(cells, _FIRST_PASS) for cells in groups(width, height, stride, coarser)]
            if not self._expose(pool, work, hurried=coarser is not None):
                return False
            self.stride = coarser = stride
            if stride > 1:
                self._show()
        return True

    def _next_pass(self, grain: NDArray[np.float64]) -> tuple[NDArray[np.intp], NDArray[np.int64]]:
        """Return the blocks to expose next, those first that gain most, and how many samples more each is to get."""
        first = self.film.width * BLOCK * np.arange(self.film.squared_grain.shape[0])
        across = BLOCK * np.arange(self.film.squared_grain.shape[1])
        taken = self.film.taken[(first[:, None] + across[None, :]).ravel()]
        gain = np.where((grain > self.limit) & (taken + 2 <= self.most), grain**2 / taken, 0.0)
        order = np.argsort(-gain, kind="stable")
        waiting = int(np.count_nonzero(gain))
        alike = int(np.count_nonzero(gain >= _TOGETHER * gain[order[0]]))
        chosen = order[: min(waiting, max(alike, waiting // 8))]
        have = taken[chosen]
        asked = have * ((grain[chosen] / self.limit) ** 2 - 1.0)
        step = 2 * np.maximum(have // 8, 1)
        more = np.clip(np.ceil(asked / step).astype(np.int64) * step, step, have)
        return chosen, np.minimum(more, (self.most - have) // 2 * 2)

    def _expose(self, pool: ThreadPoolExecutor, work: Sequence[tuple[Cells, int]], *, hurried: bool) -> bool:
        """Give groups of pixels so many more samples each; return False when time ran out before the end."""
        most = max((samples for _, samples in work), default=0)
        tasks = [pool.submit(self.film.expose, cells, samples) for cells, samples in work]
        try:
            for done, task in enumerate(tasks, 1):
                task.result()
                if self.progress is not None:
                    self.progress(done / len(tasks), most)
                if self.stride in (1, 2) and time.monotonic() - self.looked > _LOOK_AGAIN:
                    self._show()
                if hurried and self._late():
                    return False
        finally:
            for task in tasks:
                task.cancel()
            wait(tasks)
        return True

    def _late(self) -> bool:
        return time.monotonic() > self.deadline

    def _show(self) -> None:
        if self.watch is not None:
            self.watch(self.picture())
            self.looked = time.monotonic()
