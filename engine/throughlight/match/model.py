"""What the frame would be for any changes together, cell by cell, over mid-grey.

    H = 2^(−v·r²) · Σ_k s_k·I_k + (1 + g) · Σ_k s_k·V_k,

s_k the strength of head k, I_k its image and V_k its veil, both with the slopes of the other changes added, g by how
much of itself the glare index is more. What is weak, as room light and veil are, is told by its factor and not by its
stops, because the frame is straight in that: the interval of a weak thing reaches to nothing at all. v is the lens's
own vignetting in the corners, in stops beyond what the prediction has (r is 1 there): no cause of its own, but always
let loose, because lenses differ in it. The last number of a vector of changes is v, the one before it the level of
everything together, which only a single change may move.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from throughlight.match.templates import Templates

Array = NDArray[np.float64]

_VIGNETTING_SIGMA, _LEVEL_SIGMA = 0.3, 0.5  # stops (common practice, no source)
_FEW = 1e-9  # over mid-grey: what counts as no light


@dataclass(frozen=True)
class Model:
    """The frame as a function of the changes.

    templates: what each change does. radius: (cells,) distance from the middle over that of a corner, squared.
    image, veil, slopes_of: the base and what changes add, means over the replicates of these numbers.
    """

    templates: Templates
    radius: Array
    image: Array
    veil: Array
    slopes_of: dict[int, tuple[tuple[Array, Array], ...]]
    numbers: tuple[int, ...]

    @property
    def count(self) -> int:
        """Return how many numbers a vector of changes has: the changes, the level, the vignetting."""
        return len(self.templates.changes) + 2

    @property
    def level(self) -> int:
        """Return the place of the level of everything."""
        return self.count - 2

    @property
    def vignetting(self) -> int:
        """Return the place of the vignetting."""
        return self.count - 1

    @property
    def sigmas(self) -> Array:
        """Return how far each number is usually off."""
        return np.array([*(one.sigma for one in self.templates.changes), _LEVEL_SIGMA, _VIGNETTING_SIGMA])

    @property
    def bounds(self) -> tuple[Array, Array]:
        """Return the lowest and the highest of each number."""
        lows = [*(one.low for one in self.templates.changes), -6.0, -1.0]
        highs = [*(one.high for one in self.templates.changes), 6.0, 4.0]
        return np.array(lows), np.array(highs)

    @property
    def joint(self) -> list[int]:
        """Return the places that may move together: all but the level."""
        return [place for place in range(self.count) if place != self.level]

    @cached_property
    def single(self) -> tuple[Model, ...]:
        """Return the models of one replicate each."""
        return tuple(self._of([one]) for one in self.numbers)

    @cached_property
    def without_one(self) -> tuple[Model, ...]:
        """Return the models that leave out one replicate each."""
        return tuple(self._of([one for one in self.numbers if one != left]) for left in self.numbers)

    @cached_property
    def halves(self) -> tuple[Model, Model]:
        """Return the models of every other replicate and of the rest, whose images' noise is independent.

        Their veils are those of all: an error that all cells have in common would not average out of a product.
        """
        one, other = (self._of(list(self.numbers[first::2])) for first in (0, 1))
        return one.with_veils_of(self), other.with_veils_of(self)

    def with_veils_of(self, other: Model) -> Model:
        """Return the model with another's veils."""
        slopes = {
            place: tuple((image, veil) for (image, _), (_, veil) in zip(some, other.slopes_of[place], strict=True))
            for place, some in self.slopes_of.items()
        }
        return replace(self, veil=other.veil, slopes_of=slopes)

    def _of(self, numbers: list[int]) -> Model:
        return _model(self.templates, self.radius, numbers)

    def parts(self, x: Array, layers: Collection[int] | None = None) -> tuple[Array, float]:
        """Return image (cells,) and veil for changes x, of all layers or of some, over mid-grey."""
        image, veil = self.image.copy(), self.veil.copy()
        strength = np.ones(len(veil))
        glare = 1.0
        for place, change in enumerate(self.templates.changes):
            if change.kind == "glare":
                glare = 1.0 + x[place]
            elif change.kind == "added room":
                strength[change.layer] = x[place]
            elif change.kind == "room":
                strength[change.layer] = 1.0 + x[place]
            elif place not in self.slopes_of:
                strength[change.layer] = 2.0 ** x[place]
            elif x[place] != 0.0:
                weights = (x[place], x[place] ** 2)
                for weight, (more_image, more_veil) in zip(weights, self.slopes_of[place], strict=False):
                    image += weight * more_image
                    veil += weight * more_veil
        if layers is not None:
            strength *= np.isin(np.arange(len(strength)), list(layers))
        strength *= 2.0 ** x[self.level]
        dimmed = 2.0 ** (-x[self.vignetting] * self.radius)
        return np.maximum(strength @ image, 0.0) * dimmed, max(float(strength @ veil) * glare, 0.0)

    def exposure(self, x: Array, layers: Collection[int] | None = None) -> Array:
        """Return the exposure of each cell over mid-grey, veil included."""
        image, veil = self.parts(x, layers)
        return np.maximum(image + veil, _FEW)

    def slopes(self, x: Array, places: Collection[int], layers: Collection[int] | None = None) -> Array:
        """Return the derivative of each cell's exposure by some of the numbers, (cells, places)."""
        step = 1e-4
        columns = []
        for place in places:
            ends = [x.copy(), x.copy()]
            ends[0][place] -= step
            ends[1][place] += step
            low, high = (self.exposure(end, layers) for end in ends)
            columns.append((high - low) / (2.0 * step))
        return np.stack(columns, axis=1) if columns else np.zeros((len(self.radius), 0))


def model_of(templates: Templates, radius: Array | None = None) -> Model:
    """Return the model of traced templates; `radius` where it is not that of the cells' own middles."""
    rows, columns = templates.base.grid.rows, templates.base.grid.columns
    squared = squared_radius(columns, rows) if radius is None else radius
    return _model(templates, squared, list(range(len(templates.base.image))))


def squared_radius(columns: int, rows: int) -> Array:
    """Return the distance of each cell from the frame's middle over that of a corner, squared, (cells,)."""
    down = (np.arange(rows) + 0.5) / rows * 2.0 - 1.0
    across = (np.arange(columns) + 0.5) / columns * 2.0 - 1.0
    aspect = columns / rows
    squared = (across[None, :] ** 2 * aspect**2 + down[:, None] ** 2) / (aspect**2 + 1.0)
    return np.asarray(squared.ravel())


def _model(templates: Templates, radius: Array, numbers: list[int]) -> Model:
    """Return the model of the mean of some replicates."""

    def mean(replicates: Array) -> Array:
        return np.asarray(replicates[numbers].mean(axis=0))

    slopes = {
        place: tuple((mean(image), mean(veil)) for image, veil in some) for place, some in templates.slopes.items()
    }
    return Model(templates, radius, mean(templates.base.image), mean(templates.base.veil), slopes, tuple(numbers))
