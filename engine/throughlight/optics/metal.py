"""A metal of complex index n + ik by band, polished or rough.

Polished it mirrors by Fresnel's F. Facets of a rough one send F·D·G₁(i)·G₁(o) / (4·cos i) per solid angle once; what
meets more of them comes back as the lobe

    f·cos o = T·l(μ_i)·l(μ_o)·μ_o / (π·L),    T = F̄²·(1 − L) / (1 − F̄·L)

with the table of l and T/L at `lost` in `curves` (see `optics.losses`; 0: none). F = 1 then returns everything.

Sources: Walter et al. 2007, eq. 20; Kulla and Conty 2017, "Revisiting Physically Based Shading".
"""

from __future__ import annotations

import math

from throughlight.optics import fresnel
from throughlight.optics.kernel import kernel
from throughlight.optics.losses import METAL_HEAD, lookup
from throughlight.optics.matte import sample as sample_matte
from throughlight.optics.microfacet import masking, pdf_mirrored, sample_mirrored
from throughlight.optics.vectors import scale

_NOTHING = (0.0, 0.0, 0.0)


@kernel
def sample(wi, n, k, alpha, curves, lost, u0, u1, u2):
    """Return (outgoing direction, weight f·cos/density by band, density, 1/sr; 0 when it is polished).

    Parameters
    ----------
    wi
        Unit vector above the face.
    n, k
        The complex index by band.
    alpha
        GGX roughness; 0 is polished.
    curves, lost
        All tables, and the place where this metal's begins; 0: none.
    u0, u1, u2
        Uniform numbers: one facet or the lobe, and the direction.
    """
    if alpha <= 0.0:
        return (-wi[0], -wi[1], wi[2]), fresnel.metal(max(0.0, wi[2]), n, k), 0.0
    if wi[2] <= 0.0:
        return wi, _NOTHING, 0.0
    if lost > 0 and u0 < lookup(curves, lost + METAL_HEAD, wi[2]):
        wo = sample_matte(wi, u1, u2)
    else:
        wo = sample_mirrored(wi, alpha, u1, u2)
    density = pdf(wi, wo, n, k, alpha, curves, lost)
    if density <= 0.0:
        return wo, _NOTHING, 0.0
    return wo, scale(evaluate(wi, wo, n, k, alpha, curves, lost), 1.0 / density), density


@kernel
def evaluate(wi, wo, n, k, alpha, curves, lost):
    """Return f·cos wo by band, 1/sr; 0 below the horizon and when polished."""
    if alpha <= 0.0 or wi[2] <= 0.0 or wo[2] <= 0.0:
        return _NOTHING
    density, c = pdf_mirrored(wi, wo, alpha)
    once = scale(fresnel.metal(c, n, k), density * masking(wo, alpha))
    if lost <= 0:
        return once
    more = lookup(curves, lost + METAL_HEAD, wi[2]) * lookup(curves, lost + METAL_HEAD, wo[2]) * wo[2] / math.pi
    return (
        once[0] + curves[lost] * more,
        once[1] + curves[lost + 1] * more,
        once[2] + curves[lost + 2] * more,
    )


@kernel
def pdf(wi, wo, n, k, alpha, curves, lost):
    """Return the density of `sample`, 1/sr; 0 when polished."""
    if alpha <= 0.0 or wi[2] <= 0.0 or wo[2] <= 0.0:
        return 0.0
    density, _ = pdf_mirrored(wi, wo, alpha)
    if lost <= 0:
        return density
    chance = lookup(curves, lost + METAL_HEAD, wi[2])
    return (1.0 - chance) * density + chance * wo[2] / math.pi
