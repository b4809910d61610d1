"""Finish: turning and cropping exposures, before they are developed.

A quarter turn moves pixels and changes none. Any other turn is resampled once, in linear light, so that edges keep
their exposure; bilinear, because a sharper kernel rings: beside a bright subject it would paint a rim darker than the
backdrop is, and the picture in stops would show it. The crop is then the largest rectangle of the wanted ratio about
the centre that lies wholly inside the turned frame: a rectangle of width r·y and height y, turned by θ against a frame
of width w and height h, fits when

    y·(r·|cos θ| + |sin θ|) ≤ w    and    y·(r·|sin θ| + |cos θ|) ≤ h.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

_EXACT = 1e-6  # radians; a turn this near to quarter turns moves no corner of a 40 Mpx frame by a hundredth of a pixel
_SLACK = 1e-9  # pixels; a ratio that fits exactly is not cut by rounding


def inscribed(width: int, height: int, angle: float, ratio: float) -> tuple[int, int]:
    """Return width and height, whole pixels, of the largest centred rectangle inside a turned frame.

    Parameters
    ----------
    width, height : int
        Frame, pixels.
    angle : float
        Turn of the frame against the rectangle, radians.
    ratio : float
        Width over height of the rectangle.
    """
    cosine, sine = abs(math.cos(angle)), abs(math.sin(angle))
    tall = min(width / (ratio * cosine + sine), height / (ratio * sine + cosine))
    return max(1, math.floor(ratio * tall + _SLACK)), max(1, math.floor(tall + _SLACK))


def apply(H: NDArray[np.floating], turn: float = 0.0, crop: float | None = None) -> NDArray[np.floating]:
    """Return exposures, or a mask, turned and cropped.

    Parameters
    ----------
    H : array (h, w, bands) or (h, w)
        Linear exposures, lx·s, or a mask.
    turn : float
        Turn of the picture, radians, counter-clockwise.
    crop : float or None
        Width over height of the finished picture; None keeps the ratio that the (quarter-)turned frame has.

    Returns
    -------
    array (h', w', bands) or (h', w')
        A new array of the same type.

    Raises
    ------
    ValueError
        When the array is no picture, the turn is not finite, or the ratio is not positive.
    """
    if H.ndim not in (2, 3) or 0 in H.shape:
        raise ValueError(f"a picture needs the shape (h, w) or (h, w, bands); found {H.shape}")
    if not math.isfinite(turn):
        raise ValueError(f"the turn must be finite; found {turn}")
    if crop is not None and not (math.isfinite(crop) and crop > 0.0):
        raise ValueError(f"the ratio must be positive; found {crop}")
    quarters = round(turn / (0.5 * math.pi))
    left_over = turn - quarters * 0.5 * math.pi
    turned = np.rot90(H, quarters % 4)
    height, width = turned.shape[:2]
    ratio = width / height if crop is None else crop
    if abs(left_over) < _EXACT:
        wide, tall = inscribed(width, height, 0.0, ratio)
        top, left = (height - tall) // 2, (width - wide) // 2
        return np.array(turned[top : top + tall, left : left + wide], order="C")
    return _straighten(turned, left_over, *inscribed(width, height, left_over, ratio))


def _straighten(H: NDArray[np.floating], angle: float, wide: int, tall: int) -> NDArray[np.floating]:
    """Return the centred wide × tall rectangle of a picture turned counter-clockwise by `angle`, resampled once."""
    from PIL import Image

    height, width = H.shape[:2]
    cosine, sine = math.cos(angle), math.sin(angle)
    # Where a finished pixel comes from; rows count downward, so a counter-clockwise turn has its sines this way round.
    across = (cosine, -sine, 0.5 * (width - cosine * wide + sine * tall))
    down = (sine, cosine, 0.5 * (height - sine * wide - cosine * tall))
    bands = H[:, :, None] if H.ndim == 2 else H
    finished = np.empty((tall, wide, bands.shape[2]), H.dtype)
    for band in range(bands.shape[2]):
        source = Image.fromarray(np.ascontiguousarray(bands[:, :, band], dtype=np.float32))
        turned = source.transform(
            (wide, tall), Image.Transform.AFFINE, (*across, *down), resample=Image.Resampling.BILINEAR
        )
        finished[:, :, band] = np.asarray(turned)
    return finished[:, :, 0] if H.ndim == 2 else finished
