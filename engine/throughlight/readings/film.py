"""The film while it is exposed: sums in two halves for each pixel, and how grainy the developed picture still is.

The grain of a block of pixels is the RMS error of its developed pixels in 8-bit code values, from the difference
between the two halves of its samples. Where it decides what is exposed further it is the greater of a block's own and
its neighbourhood's: a block that looks quiet by luck among grainy ones isn't passed over, nor is an edge that its quiet
neighbours would hide. So many pixels share a decision that it hardly leans on any one pixel's light: the bias that it
brings is measured in the tests.
"""

from __future__ import annotations

import threading
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from throughlight.darkroom.tone import signal
from throughlight.readings.frame import exposure_per_luminance
from throughlight.setup import Setup
from throughlight.trace.driver import Target, empty_tally, make_ready
from throughlight.trace.expose import PICTURE, expose
from throughlight.trace.tables import Stage

BLOCK = 8
"""Side of a block, pixels."""
_MOST_BYTES = 6 << 30
_REPLICATE = 1000  # keeps the picture's random numbers apart from the readings'
_LOOKS = 4  # rays through a pixel for the layers that guide a denoiser

Array = NDArray[np.float64]
Cells = NDArray[np.int64]


class Guides(NamedTuple):
    """What a denoiser is guided by, each (h, w, 3): mean albedo by band, and normal (right, up, toward the camera)."""

    albedo: NDArray[np.float32]
    normal: NDArray[np.float32]


class Film:
    """The sums of an exposure in progress. Each pixel has one writer at a time and a quasi-random sequence of its own.

    Parameters
    ----------
    stage, setup, seed
        What is exposed, on which camera, and where the random numbers begin.
    guided
        Whether albedo and normal are noted too.

    Raises
    ------
    ValueError
        When the sums would need more than 6 GiB.
    """

    def __init__(self, stage: Stage, setup: Setup, seed: int, *, guided: bool = False) -> None:
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
        self.looks = np.zeros((2, pixels if guided else 0, 3))
        self._writing = threading.Lock()
        rows, columns = -(-self.height // BLOCK), -(-self.width // BLOCK)
        self.squared_grain = np.full((rows, columns), np.inf)
        self.block_of = (
            (np.arange(self.height)[:, None] // BLOCK) * columns + np.arange(self.width)[None, :] // BLOCK
        ).ravel()

    def make_ready(self) -> None:
        """Have all that an exposure needs compiled, or loaded."""
        make_ready(self.stage)
        if self.looks.shape[1] > 0:
            self._look(np.zeros(0, np.int64))

    def expose(self, cells: Cells, samples: int) -> None:
        """Take so many more samples (even) in each of these pixels, which all have equally many; half for each half."""
        target = Target(PICTURE, self.width, self.height, cells, 15)
        taken = int(self.taken[cells[0]])
        parts = [empty_tally(self.stage, target, 1) for _ in range(2)]
        for half, part in enumerate(parts):
            expose(
                self.stage, PICTURE, self.width, self.height, cells, taken // 2, samples // 2, self.seed,
                _REPLICATE + half, 15, part.cells[0], part.routes[0], part.counts[0], part.seen[0],
            )  # fmt: skip
        looks = self._look(cells) if taken == 0 and self.looks.shape[1] > 0 else None
        with self._writing:  # so that a look at the whole film never finds one half without the other
            for half, part in enumerate(parts):
                self.sums[half, cells] += part.cells[0]
                self.counts[cells] += part.counts[0]
            if looks is not None:
                self.looks[:, cells] = looks
            self.taken[cells] += samples

    def _look(self, cells: Cells) -> Array:
        from throughlight.trace.layers import look

        looks = np.zeros((2, len(cells), 3))
        look(self.stage, self.width, self.height, cells, _LOOKS, self.seed, _REPLICATE, looks[0], looks[1])
        return looks / _LOOKS

    def measure(self, blocks: NDArray[np.intp]) -> None:
        """Note the grain of these blocks, given by their numbers."""
        chosen = np.zeros(self.squared_grain.size, np.bool_)
        chosen[blocks] = True
        cells = np.flatnonzero(chosen[self.block_of])
        halves = self.sums[:, cells].sum(axis=2) * (self.constant / (self.taken[cells] / 2.0)[None, :, None])
        shades = 255.0 * signal(halves, self.iso)
        squared = np.mean((shades[0] - shades[1]) ** 2, axis=1) / 4.0
        number = self.block_of[cells]
        sums = np.bincount(number, squared, self.squared_grain.size)
        pixels = np.bincount(number, minlength=self.squared_grain.size)
        self.squared_grain.flat[blocks] = sums[blocks] / pixels[blocks]

    def grain(self) -> Array:
        """Return the grain of each block (rows, columns of blocks), code values: its own or its neighbourhood's."""
        own = self.squared_grain
        around, many = np.zeros_like(own), np.zeros_like(own)
        for down in (-1, 0, 1):
            for across in (-1, 0, 1):
                to = (_shifted(down), _shifted(across))
                source = (_shifted(-down), _shifted(-across))
                around[to] += own[source]
                many[to] += 1.0
        grain: Array = np.sqrt(np.maximum(own, around / many))
        return grain

    def cells_of(self, block: int) -> Cells:
        """Return the pixels of a block, as row · width + column."""
        columns = self.squared_grain.shape[1]
        top, left = block // columns * BLOCK, block % columns * BLOCK
        rows = np.arange(top, min(top + BLOCK, self.height))[:, None]
        across = np.arange(left, min(left + BLOCK, self.width))[None, :]
        cells: Cells = (rows * self.width + across).ravel().astype(np.int64)
        return cells

    def now(self) -> tuple[NDArray[np.float32], NDArray[np.float32], Cells, Guides | None]:
        """Return layers (layers, h, w, 3) in lx·s, coverage (h, w, 4), samples (h, w) and guides, as exposed so far."""
        with self._writing:
            taken = self.taken.copy()
            total = self.sums[0] + self.sums[1]
            counts, looks = self.counts.copy(), self.looks.astype(np.float32)
        many, shape = np.maximum(taken, 1), (self.height, self.width)
        mean = total * (self.constant / many)[:, None, None]
        layers = np.ascontiguousarray(mean.transpose(1, 0, 2).reshape(-1, *shape, 3), dtype=np.float32)
        coverage = (counts / many[:, None]).reshape(*shape, 4).astype(np.float32)
        guides = Guides(*looks.reshape(2, *shape, 3)) if looks.shape[1] > 0 else None
        return layers, coverage, taken.reshape(shape), guides


def _shifted(by: int) -> slice:
    """Return which rows have a neighbour `by` rows before them."""
    return slice(max(by, 0), by if by < 0 else None)
