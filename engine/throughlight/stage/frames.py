"""Where things stand and which way they face, as right-handed frames (columns x, y, z of a 3×3 array)."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from throughlight.setup.place import crossed

Array = NDArray[np.float64]
Vec3 = tuple[float, float, float]

_STRAIGHT_UP = 1.0 - 1e-9


def facing(at: Vec3, aim: Vec3, roll: float = 0.0) -> Array:
    """Return the frame at `at` whose z axis points at `aim` and whose y axis is as upright as that allows.

    Parameters
    ----------
    at, aim
        Places in the set, m. When they coincide the frame faces the camera side (+z).
    roll
        Turn about the z axis, radians, counter-clockwise as seen by someone the frame faces.
    """
    z = np.subtract(aim, at).astype(float)
    size = float(np.linalg.norm(z))
    z = z / size if size > 0.0 else np.array([0.0, 0.0, 1.0])
    up = np.array([0.0, 1.0, 0.0])
    if abs(float(z @ up)) > _STRAIGHT_UP:
        # Looking straight up or down, the top of the frame lies away from the camera side.
        up = np.array([0.0, 0.0, -1.0])
    x = crossed(up, z)
    x /= np.linalg.norm(x)
    y = crossed(z, x)
    c, s = math.cos(roll), math.sin(roll)
    return np.stack([c * x + s * y, c * y - s * x, z], axis=1)


def between(start: Vec3, end: Vec3) -> tuple[Array, Array, float]:
    """Return the midpoint of a rod, a frame with z along it, and its length, m."""
    middle = (np.asarray(start) + np.asarray(end)) / 2.0
    return middle, facing(start, end), float(np.linalg.norm(np.subtract(end, start)))
