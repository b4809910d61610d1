"""A matte face: the same radiance in all directions, f = ρ/π (Lambert 1760, Photometria)."""

from __future__ import annotations

import math

from throughlight.optics.circle import disc
from throughlight.optics.kernel import kernel


@kernel
def sample(wi, u1, u2):
    """Return an outgoing direction, in proportion to its cosine: a point of the disc lifted onto the hemisphere."""
    x, y = disc(u1, u2)
    return (x, y, math.sqrt(max(0.0, 1.0 - x * x - y * y)))


@kernel
def evaluate(wi, wo, reflectance):
    """Return f·cos wo by band, 1/sr; 0 below the horizon."""
    c = max(0.0, wo[2]) / math.pi
    return (reflectance[0] * c, reflectance[1] * c, reflectance[2] * c)


@kernel
def pdf(wi, wo):
    """Return the density of `sample`, 1/sr."""
    return max(0.0, wo[2]) / math.pi
