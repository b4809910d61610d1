"""Development: linear exposures become the code values of an sRGB picture.

With x the largest band's exposure over mid-grey (10/ISO) and a the linear value of code 118 (ISO 12232:2006),

    y = a·x                                 up to x₀ = 2, one stop over mid-grey: a straight line, blacks included,
    y = 1 − (1 − a·x₀)·(1 − s)^p            s = (x − x₀)/(x₁ − x₀), up to clip, x₁ = 7.8 (78/ISO); 1 beyond.

p = a·(x₁ − x₀)/(1 − a·x₀) makes the slopes meet at x₀; at clip the slope is 0, so no edge shows there either. The other
bands keep their ratio to the largest, which keeps the hue; but what the shoulder takes from the largest band whitens:
each band is moved to y by the share 1 − y/(a·x). A sensor does so too, since its other bands go on rising when one is
full; without it a bright coloured light would be a flat patch of pure colour, and so would each stray bright sample.
The linear values are then encoded as IEC 61966-2-1 (sRGB) says.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from throughlight.photometry.exposure import CLIP_CONSTANT, MID_GREY_CODE, MID_GREY_CONSTANT

Floats = NDArray[np.float64]

SHOULDER = 2.0
"""Exposure over mid-grey at which the shoulder begins."""
_CLIP = CLIP_CONSTANT / MID_GREY_CONSTANT
_FURTHEST = 1e12  # keeps an infinite exposure from turning into 0·∞


def encode(linear_value: ArrayLike) -> Floats:
    """Return sRGB-encoded values, 0 to 1, of display-linear ones, 0 to 1 (IEC 61966-2-1:1999)."""
    value = np.asarray(linear_value, dtype=np.float64)
    return np.where(value <= 0.0031308, 12.92 * value, 1.055 * np.maximum(value, 0.0031308) ** (1 / 2.4) - 0.055)


def decode(encoded: ArrayLike) -> Floats:
    """Return display-linear values, 0 to 1, of sRGB-encoded ones, 0 to 1 (IEC 61966-2-1:1999)."""
    value = np.asarray(encoded, dtype=np.float64)
    return np.where(value <= 0.04045, value / 12.92, ((np.maximum(value, 0.04045) + 0.055) / 1.055) ** 2.4)


MID_GREY_LINEAR = float(decode(MID_GREY_CODE / 255.0))
"""Display-linear value of mid-grey, 0.181164."""


def curve(over_mid_grey: ArrayLike) -> Floats:
    """Return the display-linear value, 0 to 1, of an exposure that is so many times mid-grey."""
    x = np.asarray(over_mid_grey, dtype=np.float64)
    foot = MID_GREY_LINEAR * SHOULDER
    power = MID_GREY_LINEAR * (_CLIP - SHOULDER) / (1.0 - foot)
    rest = np.clip((_CLIP - x) / (_CLIP - SHOULDER), 0.0, 1.0)
    return np.where(x <= SHOULDER, MID_GREY_LINEAR * x, 1.0 - (1.0 - foot) * rest**power)


def linear(exposure: NDArray[np.floating], iso: float) -> Floats:
    """Return display-linear values of exposures.

    Parameters
    ----------
    exposure : (..., 3) array
        lx·s in linear BT.709 bands. Negative bands count as no light, and so does what is not a number.
    iso : float
        ISO speed.

    Returns
    -------
    (..., 3) array
        0 to 1; mid-grey is 0.181164, clip is 1.
    """
    x = np.asarray(exposure, dtype=np.float64) * (iso / MID_GREY_CONSTANT)
    x = np.clip(np.nan_to_num(x, nan=0.0, posinf=_FURTHEST), 0.0, _FURTHEST)
    largest = x.max(axis=-1, keepdims=True)
    shown = curve(largest)
    divisor = np.where(largest > 0.0, largest, 1.0)
    taken = np.where(largest > SHOULDER, 1.0 - shown / (MID_GREY_LINEAR * divisor), 0.0)
    ratio = x / divisor
    bands: Floats = shown * (ratio + (1.0 - ratio) * taken)
    return bands


def develop(exposure: NDArray[np.floating], iso: float, *, dither: bool = True) -> NDArray[np.uint8]:
    """Return an sRGB picture of exposures.

    Parameters
    ----------
    exposure : (h, w, 3) array
        lx·s in linear BT.709 bands.
    iso : float
        ISO speed.
    dither
        Whether to round up or down by a pattern fixed to the pixels' places, at most half a code from the true value on
        average, so that smooth backdrops show no bands. Whole codes stay what they are.

    Returns
    -------
    (h, w, 3) array of uint8
        Mid-grey (10/ISO) is 118, clip (78/ISO) is 255.
    """
    codes = 255.0 * encode(linear(exposure, iso))
    threshold = _pattern(codes.shape[0], codes.shape[1])[:, :, None] if dither else 0.5
    # a hair above, so that 118 that comes out as 117.99999999 is not rounded down
    return np.clip(np.floor(codes + threshold + 1e-6), 0, 255).astype(np.uint8)


def _pattern(height: int, width: int) -> Floats:
    """Return evenly spread thresholds, 0 to 1, one a pixel: the R2 lattice (Roberts 2018, plastic number 1.3247…).

    The same for the three bands, so that grey stays grey.
    """
    plastic = 1.324717957244746
    rows, columns = np.arange(height)[:, None], np.arange(width)[None, :]
    spread: Floats = (0.5 + columns / plastic + rows / plastic**2) % 1.0
    return np.minimum(spread, 1.0 - 2e-6)
