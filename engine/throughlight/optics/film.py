"""A thin clear film or plate, without interference: what it lets pass straight on, and what it mirrors.

Light goes to and fro between both faces, each polarisation for itself: with r the Fresnel reflectance of one face,

    T = ½·Σ (1 − r)/(1 + r)  over s and p,    M = 1 − T,

and along the normal T = 2n/(n² + 1). Source: Stokes 1862, "On the intensity of the light reflected from or transmitted
through a pile of plates", Proc. R. Soc. 11.
"""

from __future__ import annotations

from throughlight.optics import fresnel
from throughlight.optics.kernel import kernel


@kernel
def transmittance(cosine, n):
    """Return T for unpolarised light at a cosine from the normal; 1 where the index n is 1."""
    if n <= 1.0:
        return 1.0
    s, p = fresnel.polarised(cosine, 1.0, n)
    return 0.5 * ((1.0 - s) / (1.0 + s) + (1.0 - p) / (1.0 + p))


@kernel
def shade(cosine, n):
    """Return T over that along the normal."""
    return transmittance(cosine, n) * (n * n + 1.0) / (2.0 * n) if n > 1.0 else 1.0
