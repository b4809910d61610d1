"""Exposures shown as colour: a scale of stops over mid-grey, evenly spaced to the eye.

The scale is a path in OKLab (Ottosson 2020) on which every stop is the same distance, √(ΔL² + Δa² + Δb²), and each is
lighter than the one below: dark pine, teal and slate up to mid-grey, which is shown as grey, and from there sand up to
clip. Lightness alone tells the order, so nothing depends on telling hues apart; the hues run from blue-green to
orange, which those who cannot tell red from green still see as two. Darker than the scale is black, clipped is white,
bordered by a line.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from throughlight.darkroom.tone import encode
from throughlight.photometry.colour import LUMINANCE_WEIGHTS
from throughlight.photometry.exposure import CLIP_CONSTANT, MID_GREY_CONSTANT, stops

Floats = NDArray[np.float64]
Picture = NDArray[np.uint8]

DARKEST, TOP = -12.0, 4.0
"""Stops over mid-grey at the ends of the legend."""
CLIP_STOPS = float(np.log2(CLIP_CONSTANT / MID_GREY_CONSTANT))

# Ottosson, "A perceptual color space for image processing" (2020): linear sRGB to cones, their cube roots to Lab.
_TO_CONES = np.array(
    [
        [0.4122214708, 0.5363325363, 0.0514459929],
        [0.2119034982, 0.6806995451, 0.1073969566],
        [0.0883024619, 0.2817188376, 0.6299787005],
    ]
)
_TO_LAB = np.array(
    [
        [0.2104542553, 0.7936177850, -0.0040720468],
        [1.9779984951, -2.4285922050, 0.4505937099],
        [0.0259040371, 0.7827717662, -0.8086757660],
    ]
)

_BELOW = np.array([[0.17, -0.035, 0.012], [0.38, -0.12, -0.03], [0.55, -0.03, -0.14], [0.68, 0.0, 0.0]])
"""Control points (L, a, b) of the Bézier path from the dark end to mid-grey."""
_ABOVE = np.array([0.60, 0.28, 0.75])
"""Direction of the path from mid-grey to clip; its length follows, so that a stop is as long as below."""


def to_oklab(rgb: ArrayLike) -> Floats:
    """Return (…, 3) OKLab of display-linear sRGB (Ottosson 2020)."""
    cones = np.asarray(rgb, dtype=np.float64) @ _TO_CONES.T
    return np.cbrt(cones) @ _TO_LAB.T


def from_oklab(lab: ArrayLike) -> Floats:
    """Return (…, 3) display-linear sRGB of OKLab (Ottosson 2020)."""
    roots = np.asarray(lab, dtype=np.float64) @ np.linalg.inv(_TO_LAB).T
    return roots**3 @ np.linalg.inv(_TO_CONES).T


@cache
def _path() -> tuple[Floats, Floats]:
    """Return finely spaced stops from the dark end to clip, and their OKLab, (n,) and (n, 3)."""
    t = np.linspace(0.0, 1.0, 2001)[:, None]
    weights = np.hstack([(1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t * t * (1 - t), t**3])
    below = weights @ _BELOW
    walked = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(below, axis=0), axis=1))])
    step = walked[-1] / -DARKEST
    above = below[-1] + t[1:] * (_ABOVE / np.linalg.norm(_ABOVE) * step * CLIP_STOPS)
    return np.concatenate([DARKEST + walked / step, CLIP_STOPS * t[1:, 0]]), np.vstack([below, above])


def colour(over_mid_grey: ArrayLike) -> Floats:
    """Return the scale's colour at so many stops over mid-grey.

    Parameters
    ----------
    over_mid_grey : array
        Stops; minus infinity and what is not a number count as no light.

    Returns
    -------
    (…, 3) array
        sRGB-encoded, 0 to 1: black below the scale, white from clip on.
    """
    value = np.nan_to_num(np.asarray(over_mid_grey, dtype=np.float64), nan=-np.inf, neginf=-np.inf, posinf=np.inf)
    at, lab = _path()
    shade = np.stack([np.interp(value, at, lab[:, axis]) for axis in range(3)], axis=-1)
    coded = encode(np.clip(from_oklab(shade), 0.0, 1.0))
    coded = np.where((value < DARKEST)[..., None], 0.0, coded)
    return np.where((value >= CLIP_STOPS)[..., None], 1.0, coded)


def stops_picture(exposure: NDArray[np.floating], iso: float) -> Picture:
    """Return exposures shown as colour, with a legend at the right.

    Parameters
    ----------
    exposure : (h, w, 3) array
        lx·s in linear BT.709 bands; the picture shows their luminance.
    iso : float
        ISO speed.

    Returns
    -------
    (h', w', 3) array of uint8
        sRGB; the picture is its left part, unscaled.
    """
    over = stops(np.asarray(exposure, dtype=np.float64) @ np.array(LUMINANCE_WEIGHTS), iso)
    picture = np.round(255.0 * colour(over)).astype(np.uint8)
    from throughlight.darkroom.legend import beside

    return beside(picture)
