"""How wide a head's beam is: the full angle at half the axial intensity, behind its grid and its snoot.

A snoot of length l before an opening of diameter d passes, seen from the angle θ, what two circles tanθ·l/d diameters
apart have in common, as a cell of a honeycomb grid does.
"""

from __future__ import annotations

import math

import numpy as np

from throughlight.photometry.profiles import ROWS, overlap_of_circles
from throughlight.setup import Head, Tube
from throughlight.setup.shades import bore
from throughlight.stage.output import profile_of

_ANGLES = np.linspace(0.0, 0.5 * math.pi, ROWS)


def beam_angle(head: Head) -> float | None:
    """Return the full angle, rad, at half the axial intensity; None for a tube, which shines all round.

    Of a profile that differs round the axis the mean is taken. Where the axis is dark it counts from the brightest
    angle, and the widest that still has half of that is told.
    """
    if isinstance(head.face, Tube):
        return None
    profile = profile_of(head)
    light = np.cos(_ANGLES) ** profile.exponent if profile.table is None else profile.table.mean(axis=1)
    if head.snoot is not None:
        width = bore(head.face, head.snoot)
        light = light * overlap_of_circles(np.tan(_ANGLES) * head.snoot.length / width)
    half = 0.5 * float(light.max())
    last = int(np.flatnonzero(light >= half)[-1])
    if last + 1 == len(light):
        return math.pi
    share = (light[last] - half) / (light[last] - light[last + 1])
    return 2.0 * float(_ANGLES[last] + share * (_ANGLES[1] - _ANGLES[0]))
