"""Veil: the haze that stray light on the front element spreads over the whole frame.

The veiling-glare index g (ISO 9358:1994) is the exposure in the image of a small black spot over that of the uniform
bright field around it. A field that gives the front element the illuminance E therefore looks like a luminance

    L_veil = (g/π) · ∫ w(θ) · L · cosθ dω,

added everywhere: in a uniform surround without a hood, g·L. The acceptance w(θ) is the share of the front element that
a ray at angle θ from the axis finds through the round mouth of the hood. Ghost images are not modelled.
"""

from __future__ import annotations

import math

from throughlight.photometry.vignette import common_area


def veiling_luminance(glare: float, illuminance: float) -> float:
    """Return the luminance that the veil looks like.

    Parameters
    ----------
    glare : float
        Veiling-glare index as a fraction (0.01 for 1 %).
    illuminance : float
        Light on the front element through its hood, averaged over its area: lx, or lx·s for a flash.

    Returns
    -------
    float
        cd/m², or cd·s/m² for a flash.
    """
    return glare * illuminance / math.pi


def hood_acceptance(angle: float, radius: float, depth: float, mouth: float | None = None) -> float:
    """Return the share of the front element that light from `angle` reaches through the hood.

    The element and the hood's mouth are discs `depth` apart; slanting light sees them shifted by depth·tanθ, and what
    both share gets through.

    Parameters
    ----------
    angle : float
        Angle from the axis, radians.
    radius, depth : float
        Radius of the front element and depth of the hood in front of it, m; depth 0 is no hood.
    mouth : float, optional
        Radius of the hood's mouth, m; that of the element when left out.

    Returns
    -------
    float
        0 from the angle on at which the discs part, or from 90 degrees.
    """
    if math.cos(angle) <= 0.0:
        return 0.0
    if depth == 0.0:
        return 1.0
    shift = depth * abs(math.tan(angle))
    shared = common_area([(0.0, radius), (shift, radius if mouth is None else mouth)])
    return min(1.0, shared / (math.pi * radius * radius))


def hood_cut_off(radius: float, depth: float, mouth: float | None = None) -> float:
    """Return the angle from the axis, radians, from which no light reaches the element: atan((R + mouth)/depth)."""
    return math.atan2(radius + (radius if mouth is None else mouth), depth)


def uniform_surround_acceptance(radius: float, depth: float, mouth: float | None = None) -> float:
    """Return ∫ w(θ)·cosθ dω / π: the part of a uniform surround's light that passes the hood.

    It equals the configuration factor from element to mouth, two coaxial discs (Howell, catalogue number C-41).
    """
    if depth == 0.0:
        return 1.0
    ratio = 1.0 if mouth is None else (mouth / radius) ** 2
    x = 1.0 + ratio + (depth / radius) ** 2
    return 0.5 * (x - math.sqrt(x * x - 4.0 * ratio))
