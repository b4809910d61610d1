"""Development: linear exposures to the sRGB code values of the picture.

Linear light x = 0.18116·H/H_mid puts mid-grey (H_mid = 10/S) at code 118. Up to one stop over mid-grey the picture is
straight, so blacks are as black as the set makes them. From there to clip (78/S, 2.96 stops over) a shoulder

    f(x) = 1 − (1 − s)·((c − x)/(c − s))^p,    p = (c − s)/(1 − s),

joins the straight part with slope 1 at s and reaches white with slope 0 at clip c: once continuously differentiable
everywhere, monotone and concave.

Colour: the largest and the smallest band go through the curve and the middle one keeps its place between them. That
mixes a colour with white and nothing else, so a highlight pales as it brightens, as film and paper do, while its
dominant wavelength stays. Each band by itself would turn an amber highlight yellow; one factor for all bands would keep
it amber at any exposure, flat like paint (common practice of raw development, no source).

Encoding: IEC 61966-2-1. Before rounding to 8 bits a fixed pattern of less than half a code value is added, so that
dark gradients do not band; an additive recurrence on the golden ratio's plane sibling, 1/ρ and 1/ρ² with ρ³ = ρ + 1,
spreads its values evenly over any neighbourhood (M. Roberts, "The unreasonable effectiveness of quasirandom
sequences", 2018; from memory).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from throughlight.photometry.exposure import (
    CLIP_CONSTANT,
    MID_GREY_CONSTANT,
    MID_GREY_LINEAR,
    mid_grey,
    srgb_encode,
)

Floats = NDArray[np.float64]
Exposures = NDArray[np.floating]

SHOULDER_STOPS = 1.0
"""Stops over mid-grey up to which the picture is straight."""
SHOULDER = MID_GREY_LINEAR * 2.0**SHOULDER_STOPS
"""The same as linear light, s."""
CLIP = MID_GREY_LINEAR * CLIP_CONSTANT / MID_GREY_CONSTANT
"""Linear light of the exposure that saturates the sensor, c."""
POWER = (CLIP - SHOULDER) / (1.0 - SHOULDER)
PLASTIC = 1.32471795724474602596  # ρ, the real root of ρ³ = ρ + 1
DITHER_LEVELS = 256
_PIXELS_AT_ONCE = 1 << 18  # keeps the intermediate arrays of a large picture small


def shoulder(light: Exposures) -> Floats:
    """Return the tone curve f of linear light, any shape; 1 from clip on, 0 for what is not positive."""
    x = np.clip(np.asarray(light, dtype=np.float64), 0.0, CLIP)
    # The base is kept in range so that the branch not taken stays silent.
    left = np.minimum((CLIP - x) / (CLIP - SHOULDER), 1.0)
    return np.where(x <= SHOULDER, x, 1.0 - (1.0 - SHOULDER) * left**POWER)


def signal(H: Exposures, iso: float) -> Floats:
    """Return the sRGB signal of exposures, not yet rounded.

    Parameters
    ----------
    H : array (..., 3)
        Luminous exposures, lx·s, linear BT.709. Negative values (colours outside the gamut) and NaN count as no light.
    iso : float
        ISO speed.

    Returns
    -------
    array (..., 3)
        Signal in 0..1 (IEC 61966-2-1) after the tone curve.

    Raises
    ------
    ValueError
        When the last axis is not the three bands, or the ISO speed is not positive.
    """
    if H.ndim < 1 or H.shape[-1] != 3:
        raise ValueError(f"exposures need three bands on the last axis; found an array of shape {H.shape}")
    if not (math.isfinite(iso) and iso > 0.0):
        raise ValueError(f"the ISO speed must be positive; found {iso}")
    light = np.nan_to_num(np.asarray(H, dtype=np.float64) * (MID_GREY_LINEAR / mid_grey(iso)), nan=0.0)
    light = np.maximum(light, 0.0)
    high, low = light.max(axis=-1, keepdims=True), light.min(axis=-1, keepdims=True)
    span = high - low
    place = (light - low) / np.where(span > 0.0, span, 1.0)
    white, black = shoulder(high), shoulder(low)
    return srgb_encode(black + (white - black) * place)


def dither_pattern(rows: NDArray[np.integer], columns: NDArray[np.integer]) -> Floats:
    """Return what is added to a signal of 0..255 before it is cut to whole code values, in 0..1 (never 0 or 1).

    Parameters
    ----------
    rows, columns : integer arrays that broadcast together
        Pixel from the top and from the left. The same for all three bands, so that greys stay grey.
    """
    phase = np.modf(rows / PLASTIC + columns / PLASTIC**2)[0]
    pattern: Floats = (np.floor(phase * DITHER_LEVELS) + 0.5) / DITHER_LEVELS
    return pattern


def develop(H: Exposures, iso: float, *, dither: bool = True) -> NDArray[np.uint8]:
    """Return the 8-bit sRGB picture of linear exposures: mid-grey at code 118, white from clip on.

    Parameters
    ----------
    H : array (h, w, 3)
        Luminous exposures, lx·s, linear BT.709.
    iso : float
        ISO speed.
    dither : bool
        Whether the fixed pattern is added before rounding. Whole code values (118 at mid-grey, 0, 255) stay as they
        are with it and without.

    Returns
    -------
    array (h, w, 3) of uint8
        sRGB code values.

    Raises
    ------
    ValueError
        When the shape is not (h, w, 3), or the ISO speed is not positive.
    """
    if H.ndim != 3:
        raise ValueError(f"a picture needs the shape (h, w, 3); found {H.shape}")
    height, width = H.shape[:2]
    picture = np.empty((height, width, 3), np.uint8)
    columns = np.arange(width)[None, :]
    strip = max(1, _PIXELS_AT_ONCE // max(width, 1))
    for top in range(0, max(height, 1), strip):
        code = 255.0 * signal(H[top : top + strip], iso)
        rows = np.arange(top, top + code.shape[0])[:, None]
        lift = dither_pattern(rows, columns)[:, :, None] if dither else 0.5
        picture[top : top + strip] = np.floor(code + lift).astype(np.uint8)
    return picture
