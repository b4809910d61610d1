"""What a lamp file gives a head: flux, the shape of its opening, and its profile before the face.

A head shines from a flat face that looks along its axis, the file's nadir; the file's length, and with it the half
plane 0, lies along the face's own x. What goes above 90° is left out.
"""

from __future__ import annotations

import math

import numpy as np

from throughlight.photometry.lm63 import Lamp
from throughlight.photometry.profiles import Profile, from_planes

LEAST_SIZE = 0.02
"""m; a side of no length, and a point, is made so long."""


def flux(lamp: Lamp, first: float = 0.0, last: float = math.pi) -> float:
    """Return the luminous flux, lm, between two vertical angles, radians; intensity is linear in both angles."""
    first, last = max(first, float(lamp.verticals[0])), min(last, float(lamp.verticals[-1]))
    if first >= last:
        return 0.0
    inside = (lamp.verticals > first) & (lamp.verticals < last)
    angles = np.concatenate([[first], lamp.verticals[inside], [last]])
    planes = np.stack([np.interp(angles, lamp.verticals, plane) for plane in lamp.candela])
    low, high, start, end = planes[:, :-1], planes[:, 1:], angles[:-1], angles[1:]
    slope = (high - low) / (end - start)
    rising = slope * (np.sin(end) - np.sin(start) - end * np.cos(end) + start * np.cos(start))
    sums = (rising - (low - slope * start) * (np.cos(end) - np.cos(start))).sum(axis=1)
    if len(sums) == 1:
        return float(2.0 * math.pi * sums[0])
    return float(np.sum(0.5 * (sums[1:] + sums[:-1]) * np.diff(lamp.horizontals)))


def behind(lamp: Lamp) -> float:
    """Return the share of a lamp's light that goes above 90°, behind the plane of its face."""
    return flux(lamp, 0.5 * math.pi) / flux(lamp)


def profile_of(lamp: Lamp) -> Profile:
    """Return how a lamp's light falls off before its face.

    Raises
    ------
    ValueError
        If it sends none there.
    """
    if flux(lamp, last=0.5 * math.pi) <= 0.0:
        raise ValueError("all of the lamp's light goes above 90 degrees, behind its face")
    return from_planes(lamp.verticals, lamp.horizontals, lamp.candela)


def reference_intensity(lamp: Lamp) -> float:
    """Return the intensity, cd, where `profile_of` is 1, so that the flux before the face is the file's."""
    return flux(lamp, last=0.5 * math.pi) / profile_of(lamp).flux


def opening(lamp: Lamp) -> tuple[str, float, float]:
    """Return the luminous opening as a flat face: kind and two sizes, m, the first along the head's own x.

    Width and length both positive are a rectangle; a negative one is round, a disc, or for an ellipse the disc of its
    area; zeros are a point, here a disc of 2 cm, and a zero beside a length a strip of 2 cm. Luminous sides are left
    out. (LM-63-2019 table 1; in 1995 a circle was a negative width alone.)
    """
    width, length = lamp.width, lamp.length
    if width == 0.0 and length == 0.0:
        return "disc", LEAST_SIZE, 0.0
    if width < 0.0 or length < 0.0:
        sizes = [abs(one) for one in (width, length) if one != 0.0]
        return "disc", math.sqrt(sizes[0] * sizes[-1]), 0.0
    return "rectangle", max(length, LEAST_SIZE), max(width, LEAST_SIZE)
