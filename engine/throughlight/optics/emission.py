"""How a head's face gives its light: radiance by angle, and points spread over the face.

The intensity of a small piece of the face falls as cos^k θ, so its radiance as cos^(k−1) θ: k = 1 is the Lambertian
face, and the beam angle, where the intensity is halved, fixes k. Or its intensity is tabled by the angle from the axis
and the angle round it, both even, and linear between; the radiance is that over cosθ.
"""

from __future__ import annotations

import math

import numpy as np

from throughlight.optics.circle import disc
from throughlight.optics.kernel import kernel

_RIGHT = 0.5 * math.pi
_TURN = 2.0 * math.pi
_GRAZING = 1e-3
"""Cosine under which a table's radiance grows no further: it loses at most 5e-4 of the flux of an even intensity."""


@kernel
def profile(cos_theta, exponent):
    """Return the radiance over that on the axis, for the cosine with the face's normal; 0 behind the face."""
    if cos_theta <= 0.0:
        return 0.0
    if exponent == 1.0:
        return 1.0
    return cos_theta ** (exponent - 1.0)


@kernel
def curve(curves, first, rows, columns, cos_theta, x, y):
    """Return the radiance over that at intensity 1 from a table of intensities; 0 behind the face.

    Parameters
    ----------
    curves, first, rows, columns
        Where the table lies: row after row, angles from 0 to 90° from the axis; each row round it from the local x.
    cos_theta
        Cosine with the face's normal.
    x, y
        The direction away from the face along its local axes.
    """
    if cos_theta <= 0.0:
        return 0.0
    down = math.acos(min(cos_theta, 1.0)) / _RIGHT * (rows - 1)
    i = min(np.int64(down), rows - 2)
    if columns == 1:
        low, high = curves[first + i], curves[first + i + 1]
    else:
        turn = math.atan2(y, x) / _TURN
        turn = (turn + 1.0 if turn < 0.0 else turn) * columns
        j = min(np.int64(turn), columns - 1)
        k = j + 1 if j + 1 < columns else np.int64(0)
        share = turn - j
        row = first + i * columns
        low = curves[row + j] + share * (curves[row + k] - curves[row + j])
        row += columns
        high = curves[row + j] + share * (curves[row + k] - curves[row + j])
    return (low + (down - i) * (high - low)) / max(cos_theta, _GRAZING)


@kernel
def sample_disc(radius, u1, u2):
    """Return a point (x, y) spread evenly over a disc."""
    x, y = disc(u1, u2)
    return radius * x, radius * y
