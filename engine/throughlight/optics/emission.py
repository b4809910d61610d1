"""How a head's face gives its light: radiance by angle, and points spread over the face.

The intensity of a small piece of the face falls as cos^k θ, so its radiance as cos^(k−1) θ: k = 1 is the Lambertian
face, and the beam angle, where the intensity is halved, fixes k.
"""

from __future__ import annotations

from throughlight.optics.circle import disc
from throughlight.optics.kernel import kernel


@kernel
def profile(cos_theta, exponent):
    """Return the radiance over that on the axis, for the cosine with the face's normal; 0 behind the face."""
    if cos_theta <= 0.0:
        return 0.0
    if exponent == 1.0:
        return 1.0
    return cos_theta ** (exponent - 1.0)


@kernel
def sample_disc(radius, u1, u2):
    """Return a point (x, y) spread evenly over a disc."""
    x, y = disc(u1, u2)
    return radius * x, radius * y
