"""Where light passes a lens: points of its pupil, round or with straight blades, and the rings before it."""

from __future__ import annotations

import math

from throughlight.optics.circle import disc, turn
from throughlight.optics.kernel import kernel


@kernel
def pupil_point(u1, u2, radius, blades, turned):
    """Return a point (x, y) spread evenly over the pupil.

    Parameters
    ----------
    radius
        Of the round pupil of the same area, in metres: the f-number holds whatever the blades.
    blades
        Corners of the regular polygon that they form, one of them straight up; fewer than 3 is round.
    turned
        How far the polygon is turned from x toward y, in parts of a full turn.
    """
    if blades < 3:
        x, y = disc(u1, u2)
        return radius * x, radius * y
    # The polygon is a fan of triangles: choose one, then a point as far from the centre as √u and part-way along.
    blade = math.floor(u2 * blades)
    part = u2 * blades - blade
    corner = radius * math.sqrt(2.0 * math.pi / (blades * math.sin(2.0 * math.pi / blades)))
    x0, y0 = turn(blade / blades + turned)
    x1, y1 = turn((blade + 1.0) / blades + turned)
    r = corner * math.sqrt(u1)
    # Turned by a quarter, so that the first corner points up.
    return -r * (y0 + part * (y1 - y0)), r * (x0 + part * (x1 - x0))


@kernel
def ring_passes(x, y, dx, dy, dz, radius, depth):
    """Return whether a ray from the point (x, y) leaves through a ring: the front element's rim, the hood's mouth.

    Parameters
    ----------
    dx, dy, dz
        Its direction, dz forward.
    radius
        Of the ring.
    depth
        How far it stands before the point's plane, in metres; 0 is no ring.
    """
    if depth <= 0.0:
        return True
    if dz <= 0.0:
        return False
    across = x + depth * dx / dz
    up = y + depth * dy / dz
    return across * across + up * up <= radius * radius
