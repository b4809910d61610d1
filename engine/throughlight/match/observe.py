"""The photo by the prediction's cells: mean luminance over mid-grey, and how far it may be off.

Noise is estimated from the frame itself. In blocks of pixels the mask

     1 −2  1
    −2  4 −2
     1 −2  1

takes out what is even or slanting, and leaves six times the noise (J. Immerkær, "Fast noise variance estimation",
Comput. Vis. Image Underst. 64, 1996). Its median square by level gives σ² = a + b·H + c·H²: what the sensor reads dark,
photons, and what goes with the light, as uneven pixels do. Rounding to code values counts by itself: noise of σ codes
leaves a mean off by up to exp(−2π²σ²)/π code (the first harmonic of a rounding's sawtooth, B. Widrow, "A study of rough
amplitude quantization", 1956; from memory), and without noise all cells of one code are off together by up to half of
it. What a file's ends take away or add, at full and at black, is put right in the mean, and doubted.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from throughlight.darkroom.capture import Capture
from throughlight.match.align import Alignment
from throughlight.match.ends import full_pixels, lift_of, missing_light, squares_of_grain
from throughlight.match.neighbours import round_about
from throughlight.readings.frame import LUMINANCE
from throughlight.readings.regions import Grid

Array = NDArray[np.float64]

_MEDIAN_OF_SQUARES = 0.4549  # median of a standard normal's square
_LEVELS = 12
_LEAST_FILLED = 0.6  # of a cell's usual pixels
_LEAST_BLACK = 1e-3  # of the pixels round about: with fewer nothing is cut off
_DOUBT = 0.5  # of what cutting off at black has added, one sigma


class Noise(NamedTuple):
    """Variance of one pixel's luminance, over mid-grey: floor + slope · exposure + share · exposure²."""

    floor: float
    slope: float
    share: float = 0.0

    def variance(self, exposure: Array) -> Array:
        """Return the variance of a pixel at these exposures."""
        light = np.maximum(exposure, 0.0)
        return self.floor + (self.slope + self.share * light) * light


class Observed(NamedTuple):
    """mean: (cells,) over mid-grey. variance: of the mean, by noise. offset: by how much code values may shift it.

    used: where it means something. clipped: where it is beyond what is believed. pixels: in each cell. step: of the
    file's code values there.
    """

    mean: Array
    variance: Array
    offset: Array
    used: NDArray[np.bool_]
    clipped: NDArray[np.bool_]
    pixels: Array
    step: Array
    noise: Noise


def luminance_of(capture: Capture) -> Array:
    """Return a photo's luminance over mid-grey, (h, w)."""
    return np.asarray(capture.linear @ LUMINANCE.astype(np.float32), np.float64) / capture.grey


def shrunk(picture: Array, factor: int) -> Array:
    """Return a picture averaged over squares of `factor` pixels; what is left over at the edges is dropped."""
    rows, columns = picture.shape[0] // factor, picture.shape[1] // factor
    cut = picture[: rows * factor, : columns * factor]
    return np.asarray(cut.reshape(rows, factor, columns, factor).mean(axis=(1, 3)))


def as_fine(picture: Array, across: int) -> Array:
    """Return a picture averaged to `across` pixels along its longer side; one that has fewer stays as it is.

    For alignment photo and cells have to be equally coarse: an averaged edge looks wider on the bright side.
    """
    from PIL import Image

    share = across / max(picture.shape)
    if share >= 1.0:
        return picture
    size = (max(2, round(picture.shape[1] * share)), max(2, round(picture.shape[0] * share)))
    averaged = Image.fromarray(picture.astype(np.float32)).resize(size, Image.Resampling.BOX)
    return np.asarray(averaged, np.float64)


def noise_of(luminance: Array, clipped: NDArray[np.bool_], block: int) -> Noise:
    """Return the noise of a photo's pixels, as it shows in the means of blocks of `block` pixels."""
    field = shrunk(luminance, block)
    full = shrunk(clipped.astype(np.float64), block) > 0.0
    # By the mean round about, which this grain does not sort: of even noise both are independent.
    around = np.lib.stride_tricks.sliding_window_view(field, (3, 3)).mean(axis=(2, 3))
    kept = ~full[1:-1, 1:-1].ravel()
    squares, level = squares_of_grain(field)[1:-1, 1:-1].ravel()[kept], around.ravel()[kept]
    if len(level) < 8 * _LEVELS:
        return Noise(float(np.median(squares)) / _MEDIAN_OF_SQUARES * block**2 if len(level) else 0.0, 0.0)
    bins = np.array_split(np.argsort(level), _LEVELS)
    variances = np.array([np.median(squares[one]) for one in bins]) * (block**2 / _MEDIAN_OF_SQUARES)
    return _curve(np.array([max(float(np.median(level[one])), 0.0) for one in bins]), variances)


def _curve(level: Array, variance: Array) -> Noise:
    """Return the curve through variances by level, weighed by their own size; no part of it is negative."""
    from scipy.optimize import nnls

    weight = 1.0 / np.maximum(variance, 1e-3 * float(np.median(variance)) + 1e-30)
    design = np.stack([np.ones_like(level), level, level**2], axis=1) * weight[:, None]
    size = np.maximum(np.linalg.norm(design, axis=0), 1e-30)
    floor, slope, share = nnls(design / size, variance * weight)[0] / size
    return Noise(float(floor), float(slope), float(share))


def observe(capture: Capture, grid: Grid, alignment: Alignment) -> Observed:
    """Return the photo by cells.

    Parameters
    ----------
    capture
        The photo.
    grid
        The prediction's cells.
    alignment
        Where the frame lies in the photo.
    """
    luminance = luminance_of(capture)
    cell = _cells(luminance.shape, grid, alignment).ravel()
    inside = cell >= 0
    cell = cell[inside]

    def total(picture: NDArray[Any]) -> Array:
        return np.asarray(np.bincount(cell, picture.ravel()[inside], grid.cells), np.float64)

    pixels = total(np.ones_like(luminance))
    usual = float(np.median(pixels[pixels > 0])) if (pixels > 0).any() else 0.0
    many, block = np.maximum(pixels, 1.0), max(1, round(math.sqrt(usual) / 3.0))
    full = full_pixels(capture)
    missing = missing_light(capture, full, total, grid)
    noise = noise_of(luminance, full, block)
    mean = (total(luminance) + missing.light) / many
    lifted = _lifted(capture, full, total, many, block, grid)
    used = (pixels >= max(1.0, _LEAST_FILLED * usual)) & ~missing.unknown
    step = _step(capture, mean)
    offset = np.hypot(
        _offset(step, np.sqrt(noise.variance(mean)) * capture.shrunk), np.hypot(missing.doubt / many, _DOUBT * lifted)
    )
    mean = mean - lifted
    return Observed(mean, noise.variance(mean) / many, offset, used, missing.unknown, pixels, step, noise)


def _lifted(
    capture: Capture, full: NDArray[np.bool_], total: Callable[[NDArray[Any]], Array], many: Array, block: int,
    grid: Grid,
) -> Array:  # fmt: skip
    """Return by how much what is cut off below black may have lifted the means of cells."""
    found = np.zeros(grid.cells)
    if capture.kind == "raw":  # which goes below black
        return found
    black = np.moveaxis(capture.at_black, 2, 0)
    for band, dark, weight in zip(np.moveaxis(capture.linear, 2, 0), black, LUMINANCE, strict=True):
        share = round_about(total(dark), grid) / np.maximum(round_about(many, grid), 1.0)
        if (share < _LEAST_BLACK).all():
            continue
        light = band.astype(np.float64) / capture.grey
        mean = total(light) / many
        sigma = np.sqrt(noise_of(light, full, block).variance(mean)) * capture.shrunk
        wide = sigma > 0.5 * _step(capture, mean)  # else it is rounding
        found += weight * wide * lift_of(mean, sigma, share)
    return found


def _cells(shape: tuple[int, int], grid: Grid, alignment: Alignment) -> NDArray[np.int64]:
    """Return the cell that each pixel lies in; −1 outside the frame."""
    height, width = shape
    long, cells = max(height, width), max(grid.columns, grid.rows)
    x = ((np.arange(width) + 0.5) - width / 2.0) / long
    y = ((np.arange(height) + 0.5) - height / 2.0) / long
    u, v = alignment.to_frame(x[None, :], y[:, None])
    column = np.floor(u * cells + grid.columns / 2.0).astype(np.int64)
    row = np.floor(v * cells + grid.rows / 2.0).astype(np.int64)
    inside = (column >= 0) & (column < grid.columns) & (row >= 0) & (row < grid.rows)
    return np.where(inside, row * grid.columns + column, -1)


def _step(capture: Capture, mean: Array) -> Array:
    """Return how much one code value makes at these exposures, over mid-grey."""
    return capture.step(np.maximum(mean * capture.grey, 0.0)) / capture.grey


def _offset(step: Array, sigma: Array) -> Array:
    """Return by how much rounding to code values may shift a mean, one sigma, of pixels of this noise."""
    harmonic = np.exp(-2.0 * math.pi**2 * (sigma / np.maximum(step, 1e-30)) ** 2) / (math.pi * math.sqrt(2.0))
    return np.asarray(np.minimum(harmonic, 1.0 / math.sqrt(12.0)) * step)
