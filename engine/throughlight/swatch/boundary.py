"""What a smooth boundary between two media reflects, direction by direction (Fresnel, unpolarised)."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def reflectance(s: Array, one: float, other: float) -> Array:
    """Return the reflectance of a smooth boundary for light with n·sin θ = s, the same from both sides.

    ½·[((n₁µ₁ − n₂µ₂)/(n₁µ₁ + n₂µ₂))² + ((n₂µ₁ − n₁µ₂)/(n₂µ₁ + n₁µ₂))²], and 1 where one side has no such direction
    (e.g. Born and Wolf, Principles of Optics, section 1.5).

    Parameters
    ----------
    s
        n·sin θ, any shape, dimensionless.
    one, other
        Refractive indices of both sides.

    Returns
    -------
    ndarray
        Same shape, in [0, 1].
    """
    if one == other:
        return np.where(s < one, 0.0, 1.0)
    a = np.sqrt(np.maximum(one * one - s * s, 0.0))  # n·cos θ on either side
    b = np.sqrt(np.maximum(other * other - s * s, 0.0))
    with np.errstate(invalid="ignore", divide="ignore"):
        across = (a - b) / (a + b)
        along = (other * other * a - one * one * b) / (other * other * a + one * one * b)
        both = 0.5 * (across**2 + along**2)
    return np.where((a > 0.0) & (b > 0.0), both, 1.0)
