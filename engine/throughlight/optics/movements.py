"""A thin lens before a film that is tilted, swung or shifted: which ray of the set ends where on the film.

In the lens's frame (x right, y up, z backwards) a point of the upright film is G, a = −G_z ahead. A ray through the
point p of the pupil reaches it when in the set it runs along

    G − p·(a/f − 1),

toward the point's image (Scheimpflug 1904: those of a tilted film lie in a tilted plane). A small flat pupil gives the
point cos θ at the lens × cos θ at the film / distance² of a uniform field's light: a·D/|G|⁴ for a film D from the lens.
"""

from __future__ import annotations

from throughlight.optics.kernel import kernel


@kernel
def film_point(middle, wide, high, across, up):
    """Return the upright film's point `across` and `up` half frames from its middle."""
    return (
        middle[0] + across * wide[0] + up * high[0],
        middle[1] + across * wide[1] + up * high[1],
        middle[2] + across * wide[2] + up * high[2],
    )


@kernel
def ray(point, px, py, focal):
    """Return the direction (not of unit length) in the set of the ray from the pupil that ends at a film point."""
    apart = -point[2] / focal - 1.0
    return point[0] - px * apart, point[1] - py * apart, point[2]


@kernel
def falloff(point, bright):
    """Return the exposure of a uniform field over that on the axis of the unmoved lens.

    Parameters
    ----------
    point
        Of the upright film.
    bright
        D·i²: the film plane's distance from the lens, times the unmoved image distance squared, m³.
    """
    squared = point[0] * point[0] + point[1] * point[1] + point[2] * point[2]
    return -point[2] * bright / (squared * squared)


@kernel
def film_place(middle, wide, high, focal, px, py, sx, sy):
    """Return how many half frames across and up from the film's middle a ray ends that comes in from the set.

    Parameters
    ----------
    middle, wide, high
        The upright film's middle, and from there to its right and upper edge.
    focal
        Focal length, m.
    px, py
        Where the ray crosses the lens's plane.
    sx, sy
        How far right and up it runs toward the set for each metre ahead.

    Returns
    -------
    across, up
        From −1 to 1 inside the frame.
    ahead
        The place's distance along the axis; without meaning unless positive.
    """
    # G_x + p_x = a·(s_x + p_x/f) with a = −G_z, and the same for y: two linear equations.
    ex, ey = sx + px / focal, sy + py / focal
    a, b, c = wide[0] + wide[2] * ex, high[0] + high[2] * ex, -(middle[0] + middle[2] * ex + px)
    d, e, f = wide[1] + wide[2] * ey, high[1] + high[2] * ey, -(middle[1] + middle[2] * ey + py)
    whole = a * e - b * d
    across, up = (c * e - b * f) / whole, (a * f - c * d) / whole
    return across, up, -film_point(middle, wide, high, across, up)[2]
