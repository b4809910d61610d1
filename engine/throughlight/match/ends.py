"""What a file's ends do to means: pixels that are full lack light, and what is cut off below black is light too many.

**Full.** What is left out for being bright must not be chosen by its own grain: of a grainy photo only the darker
grains would be left. So a cell is judged by its neighbourhood, and a full pixel in a cell that is kept counts as what
such pixels would be in the mean. Values of grain thin out beyond a level at least as fast as exp(−t/m) does, whose mean
excess is m; how many of the pixels beyond two thirds of the limit are full tells m there. It is no more than some
grain: a smooth place whose middle is full has full pixels too. In raw and linear files each band is looked at by
itself. A developed file bends all bands of a pixel of which one is beyond the straight part, so there the brightest
band is followed, and the others keep the share of it that they have nearby.

**Black.** Normal noise with mean zσ, cut off below 0, reads 0 in a share Φ(−z) of the pixels; what is left has the mean
m = σ·(φ(z) + z·Φ(z)), and σ²·((1 + z²)·Φ(z) + z·φ(z)) as that of its square (moments of a censored normal variable,
e.g. W. H. Greene, "Econometric Analysis", theorem 19.3; from memory). So both the share of pixels at 0 and the noise of
what is left tell z, and the mean is too high by m − zσ. The lesser of both counts: grain that thins out slowly has much
noise, and coarse code values have many zeros, but neither has both.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from throughlight.darkroom.capture import Capture
from throughlight.match.neighbours import round_about
from throughlight.readings.frame import LUMINANCE
from throughlight.readings.regions import Grid

Array = NDArray[np.float64]
Total = Callable[[NDArray[Any]], Array]
"""Returns sums over the pixels of each cell."""

_MASK_SQUARES = 36.0  # the sum of the mask's squares
_DOUBT = 1.0  # of what is beyond the limit, one sigma: grain thins out in many ways
_BELIEVED = 0.93  # of the value up to which a file is believed
_BRIGHT = 2.0 / 3.0  # of the limit: where pixels begin to be counted
_FULLEST = 0.5  # of those: where more are full it is no grain but a bright place
_MOST_MISSING = 0.08  # of the light: what full pixels may lack
_MOST_GRAIN = 2.0  # standard deviations of what the mask finds, which finds half of grain that neighbours share
_DARK = 0.05  # of the limit: a cell whose mean is less is not near it, whatever its grain


def full_pixels(capture: Capture) -> NDArray[np.bool_]:
    """Return the pixels of which some band is beyond what is believed, or full."""
    return np.asarray(capture.clipped | (capture.linear.max(axis=2) > _BELIEVED * capture.believed))


class Missing(NamedTuple):
    """By cell, over mid-grey times pixels: light that full pixels lack, and how far it may be off, one sigma.

    unknown: where too many are full for that to be known.
    """

    light: Array
    doubt: Array
    unknown: NDArray[np.bool_]


class _Followed(NamedTuple):
    """Of one band, or of all by the brightest: what is missing, what is beyond the limit, all light with that."""

    missing: Array
    beyond: Array
    light: Array
    vague: NDArray[np.bool_]


def missing_light(capture: Capture, full: NDArray[np.bool_], total: Total, grid: Grid) -> Missing:
    """Return how much light the full pixels of each cell lack."""
    limit = _BELIEVED * capture.believed
    if capture.kind == "developed":
        found = _by_brightest(capture, full, total, grid, limit)
    else:
        found = _by_band(capture, full, total, grid, limit)
    lack = round_about(found.missing, grid) > _MOST_MISSING * round_about(found.light, grid)
    # A black backdrop beside a bright subject is not bright.
    near = found.light > _DARK * limit * total(np.ones(full.shape))
    unknown = np.asarray((found.vague | lack) & near)
    return Missing(found.missing / capture.grey, _DOUBT * found.beyond / capture.grey, unknown)


def _by_band(capture: Capture, full: NDArray[np.bool_], total: Total, grid: Grid, limit: float) -> _Followed:
    """Follow each band by itself."""
    brightest = capture.linear.max(axis=2)
    partly = full & (brightest <= limit)  # averaged of several, of which at least one was full, in the brightest band
    missing, beyond, light = np.zeros(grid.cells), np.zeros(grid.cells), np.zeros(grid.cells)
    vague = np.zeros(grid.cells, np.bool_)
    for band, weight in zip(np.moveaxis(capture.linear, 2, 0), LUMINANCE, strict=True):
        lacking = total(band > limit) + total(partly & (band >= brightest)) / capture.shrunk**2
        excess, unknown = _excess(band, lacking, total, grid, limit)
        vague |= unknown
        # What was told of values beyond the limit is taken as the limit.
        missing += weight * (lacking * excess - total(np.maximum(band - limit, 0.0)))
        beyond += weight * lacking * excess
        light += weight * (total(np.minimum(band, limit)) + lacking * excess)
    return _Followed(missing, beyond, light, vague)


def _by_brightest(capture: Capture, full: NDArray[np.bool_], total: Total, grid: Grid, limit: float) -> _Followed:
    """Follow the brightest band of a file that bends all bands of a full pixel."""
    brightest = capture.linear.max(axis=2)
    luminance = capture.linear @ LUMINANCE.astype(np.float32)
    lacking = total(full)
    excess, vague = _excess(brightest, lacking, total, grid, limit)
    bright = ~full & (brightest > _BRIGHT * limit)
    followed = round_about(total(brightest * bright), grid)
    share = np.where(followed > 0.0, round_about(total(luminance * bright), grid) / np.maximum(followed, 1e-30), 1.0)
    whole = lacking * share * (limit + excess)
    light = total(luminance * ~full) + whole
    return _Followed(whole - total(luminance * full), lacking * share * excess, light, vague)


def _excess(
    band: NDArray[np.float32], lacking: Array, total: Total, grid: Grid, limit: float
) -> tuple[Array, NDArray[np.bool_]]:
    """Return by how much full pixels are beyond the limit in the mean, and where too many are for that to be known."""
    bright, within = (round_about(one, grid) for one in (total(band > _BRIGHT * limit), lacking))
    ratio = np.maximum(bright / np.maximum(within, 1e-9), 1.0 / _FULLEST)
    excess = limit * (1.0 - _BRIGHT) / np.log(ratio)
    many = np.maximum(round_about(total(np.ones_like(band)), grid), 1.0)
    grain = np.sqrt(round_about(total(squares_of_grain(band)), grid) / many)
    return np.minimum(excess, _MOST_GRAIN * grain), within > _FULLEST * bright


def squares_of_grain(band: NDArray[np.floating]) -> NDArray[np.floating]:
    """Return estimates of a picture's variance, pixel by pixel, by Immerkær's mask (see `observe`); 0 at the edges."""
    core = band[1:-1, 1:-1]
    corners = band[:-2, :-2] + band[:-2, 2:] + band[2:, :-2] + band[2:, 2:]
    sides = band[:-2, 1:-1] + band[2:, 1:-1] + band[1:-1, :-2] + band[1:-1, 2:]
    found = np.zeros_like(band)
    found[1:-1, 1:-1] = (4.0 * core + corners - 2.0 * sides) ** 2 / _MASK_SQUARES
    return found


def lift_of(mean: Array, sigma: Array, black: Array) -> Array:
    """Return by how much the mean of what is left of normal noise, cut off below 0, is too high.

    Parameters
    ----------
    mean, sigma
        Mean and standard deviation of what is left; light is not negative, so the true mean isn't either.
    black
        The share of it that is 0.
    """
    z = np.linspace(0.0, 6.0, 601)
    density = np.exp(-0.5 * z**2) / math.sqrt(2.0 * math.pi)
    above = np.array([0.5 * math.erfc(-one / math.sqrt(2.0)) for one in z])
    left = density + z * above
    spread = np.sqrt((1.0 + z**2) * above + z * density - left**2) / left
    lift, light = 1.0 - z / left, np.maximum(mean, 0.0)
    by_noise = np.interp(sigma / np.maximum(light, 1e-30), spread[::-1], lift[::-1])
    by_share = np.interp(black, (1.0 - above)[::-1], lift[::-1])
    return np.asarray(light * np.minimum(by_noise, by_share))
