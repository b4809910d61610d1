"""What a camera ray looks at: the first thing it meets, looked through clear sheets such as a wrap."""

from __future__ import annotations

import math

import numpy as np

from throughlight.optics.kernel import kernel
from throughlight.optics.vectors import along
from throughlight.trace.intersect import closest
from throughlight.trace.tables import Region, SurfaceKind

_SHEET = int(SurfaceKind.SHEET)
_OTHER = int(Region.OTHER)
_CLEAR = 0.5  # a sheet that passes at least so much straight on is looked through
_MOST_SHEETS = 16


@kernel
def _is_clear(part):
    passed = part["straight_red"] + part["straight_green"] + part["straight_blue"]
    return part["surface"] == _SHEET and passed >= 3.0 * _CLEAR


@kernel
def first_seen(stage, origin, direction):
    """Return the row of the part that a ray looks at, or −1 when it leaves the set."""
    for _ in range(_MOST_SHEETS):
        distance, shape, _, front = closest(stage, origin, direction, math.inf)
        if shape < 0:
            return np.int64(-1)
        row = stage.shapes[shape]["part"] + (0 if front else 1)
        if not _is_clear(stage.parts[row]):
            return row
        origin = along(origin, direction, distance)
    return row


@kernel
def looked_at(stage, shape, front, origin, direction):
    """Return the region that a ray looks at, given what it meets first."""
    row = stage.shapes[shape]["part"] + (0 if front else 1)
    if _is_clear(stage.parts[row]):
        row = first_seen(stage, origin, direction)
        if row < 0:
            return np.int64(_OTHER)
    return stage.parts[row]["region"]
