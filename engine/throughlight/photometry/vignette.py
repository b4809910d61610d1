"""Vignetting: what the front element's rim and the hood's mouth take from the light of a film point.

A film point's rays fill the pupil and run together toward the point's image before the lens. Where the rim of a ring
of radius R stands X ahead of the pupil, the rays through it come from the disc of radius R/k about −X·t/k in the pupil,

    k = 1 − X·(1/f − 1/a),

with t the slope of the ray through the pupil's middle, a the film point's distance along the lens's axis and f the
focal length. Pupil and rings are discs with their centres on one line, and the light that passes is what all of them
share. On that line the half chord of the common part is the shortest of all; each piece is a segment of a circle.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

Disc = tuple[float, float]
"""Place of the centre on the common line, and radius, m."""


def _segment(radius: float, offset: float) -> float:
    """Return ∫ 2·√(r² − u²) du from 0 to `offset`."""
    u = min(1.0, max(-1.0, offset / radius))
    return radius * radius * (math.asin(u) + u * math.sqrt(1.0 - u * u))


def common_area(discs: Sequence[Disc]) -> float:
    """Return the area, m², that discs with their centres on one line all share."""
    low = max(centre - radius for centre, radius in discs)
    high = min(centre + radius for centre, radius in discs)
    if low >= high:
        return 0.0
    cuts = [low, high]
    for (a, r), (b, s) in itertools.combinations(discs, 2):
        if a != b:  # their rims cross on this upright: (u − a)² − r² = (u − b)² − s²
            cuts.append(0.5 * (a + b + (r * r - s * s) / (b - a)))
    cuts = sorted(cut for cut in cuts if low <= cut <= high)
    area = 0.0
    for start, end in itertools.pairwise(cuts):
        middle = 0.5 * (start + end)
        centre, radius = min(discs, key=lambda disc: disc[1] ** 2 - (middle - disc[0]) ** 2)
        area += _segment(radius, end - centre) - _segment(radius, start - centre)
    return max(0.0, area)


def passing(pupil: float, slope: float, ahead: float, focal: float, rings: Sequence[tuple[float, float]]) -> float:
    """Return the share of a round pupil's light that gets through all rings.

    Parameters
    ----------
    pupil : float
        Radius of the entrance pupil, m.
    slope : float
        Tangent of the angle between the lens's axis and the ray through the pupil's middle.
    ahead : float
        Distance of the film point from the lens along the lens's axis, m.
    focal : float
        Focal length, m.
    rings : sequence of (float, float)
        How far each ring stands before the pupil and its radius, m; nearer than the plane of focus.
    """
    discs = [(0.0, pupil)]
    for before, radius in rings:
        shrink = 1.0 - before * (1.0 / focal - 1.0 / ahead)
        discs.append((-before * slope / shrink, radius / shrink))
    return min(1.0, common_area(discs) / (math.pi * pupil * pupil))
