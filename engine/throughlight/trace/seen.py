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
_SUPPORT = int(Region.SUPPORT)
_CLEAR = 0.5  # a sheet that passes at least so much straight on is looked through
_MOST_SHEETS = 16
_MOST_FACES = 32  # of supports one behind the other


@kernel
def _is_clear(part):
    passed = part["straight_red"] + part["straight_green"] + part["straight_blue"]
    return part["surface"] == _SHEET and passed >= 3.0 * _CLEAR


@kernel
def first_face(stage, origin, direction):
    """Find the face that a ray looks at.

    Returns
    -------
    row, shape
        Rows of its part and of its shape; −1 twice when the ray leaves the set.
    front
        True when the face toward +normal, or the outside, is seen.
    point, normal
        Where, and the unit normal there, turned toward the ray's origin.
    """
    for _ in range(_MOST_SHEETS):
        distance, shape, normal, front = closest(stage, origin, direction, math.inf)
        if shape < 0:
            return np.int64(-1), np.int64(-1), front, origin, normal
        row = stage.shapes[shape]["part"] + (0 if front else 1)
        origin = along(origin, direction, distance)
        if not _is_clear(stage.parts[row]):
            break
    return row, shape, front, origin, normal


@kernel
def first_seen(stage, origin, direction):
    """Return the row of the part that a ray looks at, or −1 when it leaves the set."""
    return first_face(stage, origin, direction)[0]


@kernel
def looked_at(stage, shape, front, origin, direction):
    """Return the region that a ray looks at, given what it meets first."""
    row = stage.shapes[shape]["part"] + (0 if front else 1)
    if _is_clear(stage.parts[row]):
        row = first_seen(stage, origin, direction)
        if row < 0:
            return np.int64(_OTHER)
    return stage.parts[row]["region"]


@kernel
def past_supports(stage, origin, direction):
    """Return where a ray has passed the supports that it meets before anything else: its origin where it meets none."""
    for _ in range(_MOST_FACES):
        distance, shape, _, front = closest(stage, origin, direction, math.inf)
        if shape < 0 or stage.parts[stage.shapes[shape]["part"] + (0 if front else 1)]["region"] != _SUPPORT:
            break
        origin = along(origin, direction, distance)
    return origin
