"""Look: lift, black point and saturation of a finished picture, in linear light.

In this order, on exposures H in lx·s with c the exposure that clips (78/S) and b the black point:

1. lift by e stops:          H ← H·2ᵉ
2. black point:              H ← max(0, H − b)·c/(c − b), each band alone; b becomes black and c stays where it is
3. saturation s:             H ← max(0, Y + s·(H − Y)), with Y the luminance (ITU-R BT.709)

What is read of a set is never taken from a picture that went through here.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from throughlight.photometry.exposure import clip, from_stops

Exposures = NDArray[np.floating]

_LUMINANCE = (0.2126, 0.7152, 0.0722)
"""Weights of the linear bands R, G, B (ITU-R BT.709-6, 3.2)."""


def apply(
    H: Exposures, iso: float, lift: float = 0.0, black_point: float | None = None, saturation: float = 1.0
) -> Exposures:
    """Return exposures with a look.

    Parameters
    ----------
    H : array (..., 3)
        Luminous exposures, lx·s, linear BT.709.
    iso : float
        ISO speed, which says where mid-grey and clip are.
    lift : float
        Stops by which everything is made lighter.
    black_point : float or None
        What becomes black, stops over mid-grey; below clip. None leaves blacks as they are.
    saturation : float
        0 gives greys, 1 leaves colours as they are.

    Returns
    -------
    array (..., 3)
        A new array of the same type, or the same array where nothing is asked for.

    Raises
    ------
    ValueError
        When the last axis is not the three bands, the black point is not below clip, or the saturation is negative.
    """
    if H.ndim < 1 or H.shape[-1] != 3:
        raise ValueError(f"exposures need three bands on the last axis; found an array of shape {H.shape}")
    if not (math.isfinite(saturation) and saturation >= 0.0):
        raise ValueError(f"the saturation must be zero or more; found {saturation}")
    if lift != 0.0:
        H = H * H.dtype.type(2.0**lift)
    if black_point is not None:
        H = _from_black(H, from_stops(black_point, iso), clip(iso))
    return H if saturation == 1.0 else _saturated(H, saturation)


def _from_black(H: Exposures, black: float, white: float) -> Exposures:
    if not black < white:
        raise ValueError(f"the black point must be below clip; found {black:g} lx·s with clip at {white:g}")
    kind = H.dtype.type
    return np.maximum(H - kind(black), kind(0.0)) * kind(white / (white - black))


def _saturated(H: Exposures, saturation: float) -> Exposures:
    grey = (H @ np.asarray(_LUMINANCE, H.dtype))[..., None]
    return np.maximum(grey + H.dtype.type(saturation) * (H - grey), H.dtype.type(0.0))
