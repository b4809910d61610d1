"""Which body's matter a path is in, where bodies stand in one another, and where that matter ends.

A path carries a mask with one bit for each body that it is inside of (bit = row of the shape; bodies come first). Of
several the last row wins: a core inside its coat, and a glass whose liquid reaches into the wall. A boundary behind
which the same body wins is not there for the light, so neither gaps nor double walls arise. Crossing sets or clears a
bit by the side from which the boundary is met; a bit that rounding has got wrong so mends itself.

Source: the idea of precedence among overlapping bodies is that of Schmidt and Budge 2002, "Simple Nested Dielectrics in
Ray Traced Images", journal of graphics tools 7(2).
"""

from __future__ import annotations

import math

import numpy as np

from throughlight.optics.kernel import kernel
from throughlight.optics.vectors import along
from throughlight.trace.intersect import meet

MOST_BODIES = 62
"""Bodies of one set; a mask has no more bits."""

_MOST_HIDDEN = 64  # boundaries in a row that are not there for the light


@kernel
def innermost(within):
    """Return the row of the body whose matter rules, or −1 in the open."""
    row = np.int64(-1)
    while within > 0:
        within >>= np.int64(1)
        row += 1
    return row


@kernel
def crossed(within, shape, front):
    """Return the mask behind a body's boundary that is met from its front (entering) or from inside (leaving)."""
    bit = np.int64(1) << np.int64(shape)
    return within | bit if front else within & ~bit


@kernel
def matter_end(stage, within, inside, origin, direction, limit):
    """Find where the matter of a crowded body `inside`, which rules at the origin, ends along a ray.

    A body that nothing else reaches into ends where `intersect.leave_within` says, which is far quicker.

    Returns
    -------
    t, shape
        Distance, m, and the shape met; inf beyond `limit`, and −1 too when the body is not closed.
    normal, true
        Unit normals toward the origin, smooth and geometric.
    front
        True when the shape is met from outside: the ray is about to enter it.
    within
        The mask before the boundary.
    """
    gone = 0.0
    for _ in range(_MOST_HIDDEN):
        t, shape, normal, true, front = meet(stage, within, origin, direction, limit - gone)
        if shape < 0:
            return math.inf, shape, normal, true, front, within
        if stage.shapes[shape]["medium"] < 0:
            return gone + t, shape, normal, true, front, within
        beyond = crossed(within, shape, front)
        if innermost(beyond) != inside:
            return gone + t, shape, normal, true, front, within
        within = beyond
        origin = along(origin, direction, t)
        gone += t
    return math.inf, np.int64(-1), direction, direction, True, within
