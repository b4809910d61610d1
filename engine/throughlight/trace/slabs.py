"""Boxes along the axes: a ray is inside one where it is between all three pairs of planes (Kay and Kajiya 1986)."""

from __future__ import annotations

import math

from throughlight.optics.kernel import inlined, kernel


@kernel
def more(a, b):
    """Return the larger of two numbers; one machine instruction, unlike `max`, which minds what is no number."""
    return a if a > b else b


@kernel
def less(a, b):
    """Return the smaller of two numbers."""
    return a if a < b else b


@kernel
def _over(x):
    return 1.0 / x if abs(x) > 1e-300 else math.copysign(1e300, x)


@inlined
def inverse(direction):
    """Return 1 over each component, or a huge number for 1/0: 0·∞ is no number, 0·1e300 is."""
    return (_over(direction[0]), _over(direction[1]), _over(direction[2]))


@inlined
def misses(rec, origin, over, limit):
    """Tell whether a ray passes a shape's bounds by, or meets them only beyond `limit`, metres.

    `over` is the `inverse` of its direction.
    """
    x0, x1 = (rec["lo_x"] - origin[0]) * over[0], (rec["hi_x"] - origin[0]) * over[0]
    y0, y1 = (rec["lo_y"] - origin[1]) * over[1], (rec["hi_y"] - origin[1]) * over[1]
    z0, z1 = (rec["lo_z"] - origin[2]) * over[2], (rec["hi_z"] - origin[2]) * over[2]
    near = more(more(less(x0, x1), less(y0, y1)), more(less(z0, z1), 0.0))
    far = less(less(more(x0, x1), more(y0, y1)), less(more(z0, z1), limit))
    return near > far
