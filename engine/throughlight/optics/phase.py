"""Scattering inside a medium: the phase function of Henyey and Greenstein, of mean cosine g.

    p(cos θ) = (1 − g²) / (4π·(1 + g² − 2g·cos θ)^(3/2)),    g in (−1, 1)

Source: Henyey and Greenstein 1941, "Diffuse Radiation in the Galaxy", Astrophys. J. 93, eq. 2.
"""

from __future__ import annotations

import math

from throughlight.optics.circle import turn
from throughlight.optics.kernel import inlined
from throughlight.optics.vectors import basis


@inlined
def sample(w, g, u1, u2):
    """Return a new direction of travel for light that travelled along w and scattered.

    Inverting the distribution of cos θ gives the well-known quotient by 2g. Written for 1 − cos θ instead, g cancels:

        1 − cos θ = 2·(1 − u)·(1 + g·u)·((1 − g) / (1 − g + 2g·u))²

    which is exact at g = 0 and around it, and in narrow forward lobes.
    """
    q = (1.0 - g) / (1.0 - g + 2.0 * g * u1)
    fall = 2.0 * (1.0 - u1) * (1.0 + g * u1) * q * q
    sine = math.sqrt(max(0.0, fall * (2.0 - fall)))
    cosine = 1.0 - fall
    c, s = turn(u2)
    x, y = sine * c, sine * s
    t, b = basis(w)
    return (
        t[0] * x + b[0] * y + w[0] * cosine,
        t[1] * x + b[1] * y + w[1] * cosine,
        t[2] * x + b[2] * y + w[2] * cosine,
    )


@inlined
def evaluate(cos_theta, g):
    """Return the phase function for the cosine between the directions of travel, 1/sr; also the density of `sample`."""
    d = 1.0 + g * g - 2.0 * g * cos_theta
    return (1.0 - g * g) / (4.0 * math.pi * d * math.sqrt(d))
