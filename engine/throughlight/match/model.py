"""What the frame would be for any changes together, cell by cell, over mid-grey.

    H = 2^(u − v·r²) · Σ_k s_k·I_k + (1 + g)·(1 + w) · Σ_k s_k·V_k,

s_k the strength of head k, I_k its image and V_k its veil, both with the slopes of the other changes added, g by how
much of itself the glare index is more. What is weak, as room light and veil are, is told by its factor and not by its
stops, because the frame is straight in that: the interval of a weak thing reaches to nothing at all.

Three fields stand for what no prediction has: the lens's own vignetting, v stops in the corners beyond the predicted;
u, unevenness of the image, and w, unevenness of the veil, which is not as even in a lens as in the model. Both are
small polynomials over the frame, that of the image without a constant part and without r², which v has, and the veil's
constant as small as the prediction's own error in it. They are no causes, but always let loose: without them, what is
merely smooth and small would be laid to the heads with great certainty. A vector of changes holds the changes, the
level of everything together, which only a single change may move, v, and the parts of u and w.
"""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from throughlight.match.templates import Templates

Array = NDArray[np.float64]

# How far such things are usually off, one sigma (common practice, no source): stops, stops, stops, share of the veil.
_LEVEL_SIGMA, _VIGNETTING_SIGMA, _UNEVEN_SIGMA, _VEIL_SIGMA = 0.5, 0.25, 0.04, 0.15
_VIGNETTING = 0.25  # stops: what is usual; no lens is brighter in the corners than cos⁴ has it
_UNEVEN, _VEIL = 4, 4
"""How many parts the unevenness of image and veil have."""
_SURE = 1e-5  # a share: no veil is better known
_LN2 = float(np.log(2.0))
_FEW = 1e-9  # over mid-grey: what counts as no light


@dataclass(frozen=True)
class Model:
    """The frame as a function of the changes.

    templates: what each change does. fields: (1 + parts of u, cells) r² and the polynomials.
    image, veil, slopes_of: the base and what changes add, means over the replicates of these numbers.
    """

    templates: Templates
    fields: Array
    image: Array
    veil: Array
    slopes_of: dict[int, tuple[tuple[Array, Array], ...]]
    numbers: tuple[int, ...]

    @property
    def count(self) -> int:
        """Return how many numbers a vector of changes has."""
        return self.vignetting + 1 + _UNEVEN + _VEIL + 1

    @property
    def level(self) -> int:
        """Return the place of the level of everything."""
        return len(self.templates.changes)

    @property
    def vignetting(self) -> int:
        """Return the place of the vignetting, after which come the parts of the unevenness."""
        return self.level + 1

    @property
    def fields_free(self) -> list[int]:
        """Return the places that are no causes and always let loose."""
        return list(range(self.vignetting, self.count))

    @property
    def sigmas(self) -> Array:
        """Return how far each number is usually off."""
        fields = (
            _LEVEL_SIGMA, _VIGNETTING_SIGMA, *(_UNEVEN_SIGMA,) * _UNEVEN, *(_VEIL_SIGMA,) * _VEIL, self._veil_error,
        )  # fmt: skip
        return np.array([*(one.sigma for one in self.templates.changes), *fields])

    @cached_property
    def _veil_error(self) -> float:
        """Return the standard error of the predicted veil, as a share of it."""
        replicates = self.templates.base.veil.sum(axis=1)
        error = float(replicates.std(ddof=1)) / math.sqrt(len(replicates))
        return max(error / max(float(replicates.mean()), 1e-30), _SURE)

    @property
    def usual(self) -> Array:
        """Return what each number usually is: nothing but for the vignetting."""
        usual = np.zeros(self.count)
        usual[self.vignetting] = _VIGNETTING
        return usual

    @property
    def bounds(self) -> tuple[Array, Array]:
        """Return the lowest and the highest of each number."""
        fields = [(-6.0, 6.0), (-1.0, 4.0), *[(-0.5, 0.5)] * (_UNEVEN + _VEIL + 1)]
        ends = np.array([*((one.low, one.high) for one in self.templates.changes), *fields])
        return ends[:, 0], ends[:, 1]

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

        Their veils are those of all: an error that all cells have in common does not average out of a product.
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
        return _model(self.templates, self.fields, numbers)

    def parts(self, x: Array, layers: Collection[int] | None = None) -> tuple[Array, Array]:
        """Return image and veil, (cells,) each, for changes x, of all layers or of some, over mid-grey."""
        lit = self._lit(x, layers)
        dimmed, veiled = self._unevenness(x)
        return np.maximum(lit.strength @ lit.image, 0.0) * dimmed, max(lit.shine * lit.glare, 0.0) * veiled

    def _lit(self, x: Array, layers: Collection[int] | None) -> _Lit:
        """Return the layers as the changes leave them."""
        image, veil, strength, glare = self.image, self.veil, np.ones(len(self.veil)), 1.0
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
                    image = image + weight * more_image
                    veil = veil + weight * more_veil
        shining = np.full(len(strength), 2.0 ** x[self.level])
        if layers is not None:
            shining *= np.isin(np.arange(len(strength)), list(layers))
        return _Lit(image, veil, strength * shining, shining, glare)

    def _unevenness(self, x: Array) -> tuple[Array, Array]:
        """Return what the fields make of the image and of the veil, (cells,) each."""
        first = self.vignetting + 1
        uneven = x[first : first + _UNEVEN] @ self.fields[1 : 1 + _UNEVEN]
        veiled = 1.0 + x[first + _UNEVEN : -1] @ self.fields[:_VEIL] + x[-1]
        return np.asarray(2.0 ** (uneven - x[self.vignetting] * self.fields[0])), np.asarray(veiled)

    def exposure(self, x: Array, layers: Collection[int] | None = None) -> Array:
        """Return the exposure of each cell over mid-grey, veil included."""
        image, veil = self.parts(x, layers)
        return np.maximum(image + veil, _FEW)

    def slopes(self, x: Array, places: Collection[int], layers: Collection[int] | None = None) -> Array:
        """Return the derivative of each cell's exposure by some of the numbers, (cells, places)."""
        lit, (dimmed, veiled) = self._lit(x, layers), self._unevenness(x)
        seen = np.maximum(lit.strength @ lit.image, 0.0) * dimmed
        found, first = np.empty((self.fields.shape[1], len(places))), self.vignetting + 1
        for column, place in enumerate(places):
            if place == self.vignetting:
                slope = -_LN2 * self.fields[0] * seen
            elif place == self.count - 1:
                slope = np.full(len(seen), lit.shine * lit.glare)
            elif place >= first + _UNEVEN:
                slope = self.fields[place - first - _UNEVEN] * (lit.shine * lit.glare)
            elif place >= first:
                slope = _LN2 * self.fields[1 + place - first] * seen
            else:
                more_image, more_shine = self._more(x, place, lit)
                slope = more_image * dimmed + more_shine * veiled
            found[:, column] = slope
        return found

    def _more(self, x: Array, place: int, lit: _Lit) -> tuple[Array | float, float]:
        """Return the derivatives of image (even) and veil by a change, or by the level."""
        if place == self.level:
            return _LN2 * (lit.strength @ lit.image), _LN2 * lit.shine * lit.glare
        change = self.templates.changes[place]
        if change.kind == "glare":
            return 0.0, lit.shine
        if place in self.slopes_of:
            weights = (1.0, 2.0 * x[place])
            pairs = list(zip(weights, self.slopes_of[place], strict=False))
            image = sum(weight * (lit.strength @ more) for weight, (more, _) in pairs)
            return image, lit.glare * sum(weight * float(lit.strength @ more) for weight, (_, more) in pairs)
        factor = change.kind in ("room", "added room")
        per = lit.shining[change.layer] if factor else _LN2 * lit.strength[change.layer]
        return per * lit.image[change.layer], per * float(lit.veil[change.layer]) * lit.glare


class _Lit(NamedTuple):
    """Layers as changes leave them.

    image: (layers, cells). veil, strength: (layers,). shining: (layers,) what strength would be of layers as described.
    glare: by how much the lens's counts.
    """

    image: Array
    veil: Array
    strength: Array
    shining: Array
    glare: float

    @property
    def shine(self) -> float:
        """Return the veil of all layers, for the glare as described."""
        return float(self.strength @ self.veil)


def model_of(templates: Templates, fields: Array | None = None) -> Model:
    """Return the model of traced templates; `fields` where they are not those of the cells' own middles."""
    grid = templates.base.grid
    own = fields_of(grid.columns, grid.rows) if fields is None else fields
    return _model(templates, own, list(range(len(templates.base.image))))


def fields_of(columns: int, rows: int) -> Array:
    """Return r², 1 in the corners, and the polynomials x, y, x² − y² and xy over the frame; (5, cells)."""
    down = ((np.arange(rows) + 0.5) / rows * 2.0 - 1.0)[:, None] * np.ones(columns)
    across = ((np.arange(columns) + 0.5) / columns * 2.0 - 1.0)[None, :] * np.ones((rows, 1))
    aspect = columns / rows
    squared = (across**2 * aspect**2 + down**2) / (aspect**2 + 1.0)
    return np.stack([one.ravel() for one in (squared, across, down, across**2 - down**2, across * down)])


def _model(templates: Templates, fields: Array, numbers: list[int]) -> Model:
    """Return the model of the mean of some replicates."""

    def mean(replicates: Array) -> Array:
        return np.asarray(replicates[numbers].mean(axis=0))

    slopes = {
        place: tuple((mean(image), mean(veil)) for image, veil in some) for place, some in templates.slopes.items()
    }
    return Model(templates, fields, mean(templates.base.image), mean(templates.base.veil), slopes, tuple(numbers))
