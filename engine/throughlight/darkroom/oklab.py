"""OKLab: a space of perceived lightness and colour, with its way to and from linear BT.709 light.

    lms = M₁·rgb,    Lab = M₂·∛lms.

Equal distances are nearly equal steps to the eye. B. Ottosson, "A perceptual color space for image processing", 2020
(matrices from linear sRGB; from memory, checked against the same space in a general library by the tests).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

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


def from_linear(light: Floats) -> Floats:
    """Return OKLab (..., 3) of linear BT.709 light (..., 3) in 0..1."""
    lab: Floats = np.cbrt(light @ _TO_CONES.T) @ _TO_LAB.T
    return lab


def to_linear(lab: Floats) -> Floats:
    """Return linear BT.709 light (..., 3) of OKLab (..., 3); outside 0..1 where the colour is outside the gamut."""
    light: Floats = (lab @ np.linalg.inv(_TO_LAB).T) ** 3 @ np.linalg.inv(_TO_CONES).T
    return light


def from_hue(lightness: float, chroma: float, hue: float) -> tuple[float, float, float]:
    """Return OKLab of a lightness 0..1, a chroma (0 grey, about 0.3 the most of any display) and a hue in degrees."""
    angle = np.deg2rad(hue)
    return lightness, float(chroma * np.cos(angle)), float(chroma * np.sin(angle))
