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
it. A file that cuts off below black lifts a mean of z sigmas by σ·(φ(z) − z·Φ(−z)).

What is left out for being bright must not be chosen by its own grain: of a grainy photo only the darker grains would be
left. So a cell is judged by its neighbourhood, and a full pixel in a cell that is kept counts as what such pixels would
be in the mean. Values of grain thin out beyond a level at least as fast as exp(−t/m) does, whose mean excess is m; how
many of the pixels beyond two thirds of the limit are full tells m there. Half of what is so added may be wrong.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from throughlight.darkroom.capture import Capture
from throughlight.match.align import Alignment
from throughlight.readings.frame import LUMINANCE
from throughlight.readings.regions import Grid

Array = NDArray[np.float64]

_MASK_SQUARES = 36.0
_MEDIAN_OF_SQUARES = 0.4549  # median of a standard normal's square
_LEVELS = 12
_BELIEVED = 0.93  # of the value up to which a file is believed
_LEAST_FILLED = 0.6  # of a cell's usual pixels
_ABOUT = 3  # cells each way: the neighbourhood that a cell is judged by
_BRIGHT = 2.0 / 3.0  # of the limit: where pixels begin to be counted
_FULLEST = 0.5  # of those: where more are full it is no grain but a bright place
_MOST_MISSING = 0.08  # of the light: what full pixels may lack
_DARK = 0.05  # of the limit: a cell whose mean is less is not near it, whatever its grain
_DOUBT = 0.5  # of what is added for them, one sigma


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

    used: where it means something. clipped: where it is beyond what is believed. pixels: in each cell.
    """

    mean: Array
    variance: Array
    offset: Array
    used: NDArray[np.bool_]
    clipped: NDArray[np.bool_]
    pixels: Array
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
    core = field[1:-1, 1:-1]
    corners = field[:-2, :-2] + field[:-2, 2:] + field[2:, :-2] + field[2:, 2:]
    sides = field[:-2, 1:-1] + field[2:, 1:-1] + field[1:-1, :-2] + field[1:-1, 2:]
    left = 4.0 * core + corners - 2.0 * sides
    around = (core + corners + sides) / 9.0  # by this grain is not sorted by itself: of even noise both are independent
    kept = ~full[1:-1, 1:-1].ravel()
    squares, level = left.ravel()[kept] ** 2 / _MASK_SQUARES, around.ravel()[kept]
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
    full = _full(capture)
    missing, over = _missing(capture, full, total, grid)
    many = np.maximum(pixels, 1.0)
    mean = total(luminance) / many + missing / many
    noise = noise_of(luminance, full, max(1, round(math.sqrt(usual) / 3.0)))
    used = (pixels >= max(1.0, _LEAST_FILLED * usual)) & ~over
    variance = noise.variance(mean) / many
    offset = np.hypot(_offset(capture, mean, noise), _DOUBT * missing / many)
    return Observed(mean, variance, offset, used, over, pixels, noise)


def _full(capture: Capture) -> NDArray[np.bool_]:
    """Return the pixels of which some band is beyond what is believed, or full."""
    return np.asarray(capture.clipped | (capture.linear.max(axis=2) > _BELIEVED * capture.believed))


def _missing(
    capture: Capture, full: NDArray[np.bool_], total: Callable[[NDArray[Any]], Array], grid: Grid
) -> tuple[Array, NDArray[np.bool_]]:
    """Return how much light the full pixels of each cell lack, over mid-grey, and the cells where that is unknown."""
    limit = _BELIEVED * capture.believed
    brightest = capture.linear.max(axis=2)
    partly = full & (brightest <= limit)  # averaged of several, of which at least one was full, in the brightest band
    missing, light, vague = np.zeros(grid.cells), np.zeros(grid.cells), np.zeros(grid.cells, np.bool_)
    for band, weight in zip(np.moveaxis(capture.linear, 2, 0), LUMINANCE, strict=True):
        beyond = band > limit
        lacking = total(beyond) + total(partly & (band >= brightest)) / capture.shrunk**2
        bright, within = (_round_about(one, grid) for one in (total(band > _BRIGHT * limit), lacking))
        vague |= within > _FULLEST * bright
        excess = limit * (1.0 - _BRIGHT) / np.log(np.maximum(bright / np.maximum(within, 1e-9), 1.0 / _FULLEST))
        known = total(np.minimum(band, limit))
        # What was told of values beyond the limit is taken as the limit.
        missing += weight * (lacking * excess - total(np.maximum(band - limit, 0.0)))
        light += weight * (known + lacking * excess)
    lack = _round_about(missing, grid) > _MOST_MISSING * _round_about(light, grid)
    # A black backdrop beside a bright subject is not bright.
    near = light > _DARK * limit * total(np.ones_like(brightest))
    return missing / capture.grey, (vague | lack) & near


def _round_about(sums: Array, grid: Grid) -> Array:
    """Return the sums over the neighbourhood of each cell."""
    span = 2 * _ABOUT + 1
    wide = np.pad(sums.reshape(grid.rows, grid.columns), _ABOUT)
    for axis in (0, 1):
        wide = np.lib.stride_tricks.sliding_window_view(wide, span, axis).sum(axis=-1)
    return np.asarray(wide.ravel())


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


def _offset(capture: Capture, mean: Array, noise: Noise) -> Array:
    """Return by how much code values may shift a cell's mean, one sigma: by rounding, and by their end at black."""
    step = capture.step(np.maximum(mean * capture.grey, 0.0)) / capture.grey
    sigma = np.sqrt(noise.variance(mean)) * capture.shrunk  # of one of the file's own pixels
    off = np.zeros_like(mean)
    if capture.levels > 0:
        harmonic = np.exp(-2.0 * math.pi**2 * (sigma / step) ** 2) / (math.pi * math.sqrt(2.0))
        off = np.minimum(harmonic, 1.0 / math.sqrt(12.0)) * step
    return np.asarray(off if capture.kind == "raw" else np.hypot(off, _lifted(mean, sigma)))


def _lifted(mean: Array, sigma: Array) -> Array:
    """Return by how much a normal variable's mean rises when what is under zero is cut off."""
    z = np.minimum(np.maximum(mean, 0.0) / np.maximum(sigma, 1e-30), 30.0)
    below = np.array([0.5 * math.erfc(one / math.sqrt(2.0)) for one in z.ravel()]).reshape(z.shape)
    lifted: Array = sigma * (np.exp(-0.5 * z**2) / math.sqrt(2.0 * math.pi) - z * below)
    return np.maximum(lifted, 0.0)
