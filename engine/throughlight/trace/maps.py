"""Pictures laid on a shape along its local z: a printed pattern, or the matter of a slice.

Values stand at the middles of the pixels, are linear between four of them, and repeat beyond the outermost ones.
"""

from __future__ import annotations

import math

import numpy as np

from throughlight.optics.kernel import kernel


@kernel
def _texel(stage, record, column, row):
    i = record["first"] + row * record["columns"] + column
    # Not float(), which compiled keeps single precision.
    return (np.float64(stage.texels[i, 0]), np.float64(stage.texels[i, 1]), np.float64(stage.texels[i, 2]))


@kernel
def _between(a, b, share):
    return (a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1]), a[2] + share * (b[2] - a[2]))


@kernel
def _neighbours(place, count):
    """Return the pixels on both sides of a place counted in pixels from the edge, and how far it lies between."""
    place = min(max(place - 0.5, 0.0), count - 1.0)
    low = min(np.int64(math.floor(place)), count - 1)
    return low, min(low + 1, count - 1), place - low


@kernel
def look_up(stage, row, shape, point):
    """Return what map `row` says by band at a world point of a shape (a SHAPE record)."""
    record = stage.maps[row]
    v = (point[0] - shape["ox"], point[1] - shape["oy"], point[2] - shape["oz"])
    x = shape["tx"] * v[0] + shape["ty"] * v[1] + shape["tz"] * v[2]
    y = shape["bx"] * v[0] + shape["by"] * v[1] + shape["bz"] * v[2]
    left, right, across = _neighbours((x - record["left"]) / record["width"] * record["columns"], record["columns"])
    above, below, down = _neighbours((record["top"] - y) / record["height"] * record["rows"], record["rows"])
    upper = _between(_texel(stage, record, left, above), _texel(stage, record, right, above), across)
    lower = _between(_texel(stage, record, left, below), _texel(stage, record, right, below), across)
    return _between(upper, lower, down)
