"""Finishing: a picture is turned, and cropped to a format.

Quarter turns move pixels without touching them. A smaller turn by θ is interpolated (bicubic); of it the largest upright
rectangle of the same format is kept, which is s times the picture with

    s = min( w/(w·cos θ + h·sin θ), h/(w·sin θ + h·cos θ) ),

the largest for which each corner still lies in the turned picture (plane geometry).
"""

from __future__ import annotations

import math
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

Scalar = TypeVar("Scalar", bound=np.floating)

_STRAIGHT = 1e-6  # radians: less than a thousandth of a pixel at the edge of any picture


def apply(exposure: NDArray[Scalar], turn: float, crop: float | None) -> NDArray[Scalar]:
    """Return a picture turned, then cropped.

    Parameters
    ----------
    exposure : (h, w) or (h, w, 3) array
        Linear values.
    turn : float
        Radians, counter-clockwise.
    crop : float or None
        Width over height of the format, cut from the middle; None keeps the whole.

    Returns
    -------
    array
        (h', w') or (h', w', 3), of the same type.

    Raises
    ------
    ValueError
        If the format is not above zero, or the turn is not finite.
    """
    if not math.isfinite(turn):
        raise ValueError(f"a turn of {turn} is no angle")
    quarters = round(turn / (math.pi / 2.0))
    rest = turn - quarters * (math.pi / 2.0)
    turned = np.rot90(exposure, quarters % 4)
    if abs(rest) > _STRAIGHT:
        height, width = turned.shape[:2]
        share = inscribed_share(width, height, rest)
        turned = _middle(_rotate(turned, rest), math.floor(width * share), math.floor(height * share))
    if crop is not None:
        turned = crop_to_ratio(turned, crop)
    return np.ascontiguousarray(turned)


def inscribed_share(width: float, height: float, angle: float) -> float:
    """Return how many times smaller the largest upright rectangle of the same format in a turned picture is, 0 to 1."""
    cosine, sine = abs(math.cos(angle)), abs(math.sin(angle))
    return min(width / (width * cosine + height * sine), height / (width * sine + height * cosine))


def crop_to_ratio(picture: NDArray[Scalar], ratio: float) -> NDArray[Scalar]:
    """Return the largest middle part of a picture whose width over height is `ratio`, to the nearest pixel.

    Raises
    ------
    ValueError
        If the ratio is not above zero.
    """
    if not (math.isfinite(ratio) and ratio > 0.0):
        raise ValueError(f"a format's width over height must be above zero, not {ratio}")
    height, width = picture.shape[:2]
    if width > height * ratio:
        return _middle(picture, round(height * ratio), height)
    return _middle(picture, width, round(width / ratio))


def _middle(picture: NDArray[Scalar], width: int, height: int) -> NDArray[Scalar]:
    """Return the middle of a picture, at least one pixel."""
    width, height = max(width, 1), max(height, 1)
    top, left = (picture.shape[0] - height) // 2, (picture.shape[1] - width) // 2
    return picture[top : top + height, left : left + width]


def _rotate(picture: NDArray[Scalar], angle: float) -> NDArray[Scalar]:
    """Return a picture turned about its middle, of the same size, its corners cut or zero."""
    if picture.ndim == 2:
        return _rotate_band(picture, angle)
    bands = [_rotate_band(picture[:, :, band], angle) for band in range(picture.shape[2])]
    return np.stack(bands, axis=2)


def _rotate_band(band: NDArray[Scalar], angle: float) -> NDArray[Scalar]:
    """Return one band turned; no pixel leaves the range of its neighbours.

    Bicubic interpolation undershoots next to a glint a thousand times brighter: it would ring it with black.
    """
    from PIL import Image, ImageFilter

    source = Image.fromarray(np.ascontiguousarray(band, dtype=np.float32))
    degrees = math.degrees(angle)
    turned = np.asarray(source.rotate(degrees, Image.Resampling.BICUBIC))
    nearest = Image.Resampling.NEAREST
    lowest = np.asarray(source.filter(ImageFilter.MinFilter(3)).rotate(degrees, nearest))
    highest = np.asarray(source.filter(ImageFilter.MaxFilter(3)).rotate(degrees, nearest))
    return np.clip(turned, lowest, highest).astype(band.dtype)
