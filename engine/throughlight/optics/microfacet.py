"""Small facets of a rough boundary: the GGX distribution, Smith masking, and the normals visible from a direction.

    D(m) = α² / (π·(sin² + α²·cos²)²),    G₁(w) = 2·cos / (cos + √(cos² + α²·sin²))

with the angle of m or w from the macroscopic normal +z. Masking and shadowing are taken as independent, so that
reflection and refraction share them. Sources: Walter et al. 2007, eqs. 33–34; Heitz 2014, "Understanding the
Masking-Shadowing Function in Microfacet-Based BRDFs", JCGT 3(2).
"""

from __future__ import annotations

import math

from throughlight.optics.circle import turn
from throughlight.optics.kernel import kernel
from throughlight.optics.vectors import dot, normalise


@kernel
def _density_of_normals(cos_m, alpha):
    """Return D for the cosine of a facet's normal, 1/sr."""
    if cos_m <= 0.0:
        return 0.0
    # (1 − c)(1 + c) keeps the digits of a nearly upright facet on a nearly polished boundary.
    d = (1.0 - cos_m) * (1.0 + cos_m) + alpha * alpha * cos_m * cos_m
    return alpha * alpha / (math.pi * d * d)


@kernel
def distribution(m, alpha):
    """Return the area of facets of normal m per solid angle and macroscopic area, 1/sr; 0 below the horizon."""
    return _density_of_normals(m[2], alpha)


@kernel
def _spread(cos_w, alpha):
    """Return cos + √(cos² + α²·sin²): twice cos/G₁, which stays finite at grazing angles."""
    return cos_w + math.sqrt(cos_w * cos_w + alpha * alpha * (1.0 - cos_w) * (1.0 + cos_w))


@kernel
def masking(w, alpha):
    """Return the share of facets facing w that others do not hide (Smith's G₁); w may lie on either side."""
    cos_w = abs(w[2])
    return 2.0 * cos_w / _spread(cos_w, alpha) if cos_w > 0.0 else 0.0


@kernel
def masking_shadowing(wi, wo, alpha):
    """Return the share of facets that both directions reach: G₁(wi)·G₁(wo)."""
    return masking(wi, alpha) * masking(wo, alpha)


@kernel
def visible_density(cos_w, cos_m, cos_wm, alpha):
    """Return `pdf_visible` for the cosines of direction and facet with the macroscopic normal and with each other."""
    if cos_wm <= 0.0 or cos_w <= 0.0:
        return 0.0
    return 2.0 * cos_wm / _spread(cos_w, alpha) * _density_of_normals(cos_m, alpha)


@kernel
def sample_visible(w, alpha, u1, u2):
    """Return a facet's normal, in proportion to the area that each normal shows toward w (w above the horizon).

    Stretched by 1/α the facets form a hemisphere, and what it shows toward w is spread like the half vectors of the
    stretched w with an evenly lit cap of the sphere. Sources: Heitz 2018, "Sampling the GGX Distribution of Visible
    Normals", JCGT 7(4); the cap: Dupuy and Benyoub 2023, "Sampling Visible GGX Normals with Spherical Caps".
    """
    x, y, z = alpha * w[0], alpha * w[1], w[2]
    s = 1.0 / math.sqrt(x * x + y * y + z * z)
    x, y, z = x * s, y * s, z * s
    height = (1.0 - u2) * (1.0 + z)  # of the half vector, before its length is made one
    cap = math.sqrt(max(0.0, (1.0 - height + z) * (1.0 + height - z)))
    c, s = turn(u1)
    x, y = alpha * (x + cap * c), alpha * (y + cap * s)
    s = 1.0 / math.sqrt(x * x + y * y + height * height)
    return (x * s, y * s, height * s)


@kernel
def pdf_visible(w, m, alpha):
    """Return the density of `sample_visible`, 1/sr: G₁(w)·(w·m)·D(m) / cos w."""
    return visible_density(w[2], m[2], dot(w, m), alpha)


@kernel
def sample_mirrored(w, alpha, u1, u2):
    """Return w mirrored at a facet visible from it; it may point below the horizon."""
    m = sample_visible(w, alpha, u1, u2)
    c = 2.0 * dot(w, m)
    return (c * m[0] - w[0], c * m[1] - w[1], c * m[2] - w[2])


@kernel
def pdf_mirrored(wi, wo, alpha):
    """Return (density of `sample_mirrored` in wo, 1/sr, and the cosine of both with the facet); both above the horizon.

    The density times F·G₁(wo) is what facets of reflectance F send there, f·cos wo (Walter et al. 2007, eq. 20).
    """
    m = normalise((wi[0] + wo[0], wi[1] + wo[1], wi[2] + wo[2]))
    c = dot(wi, m)
    if c <= 0.0:
        return 0.0, 1.0
    return pdf_visible(wi, m, alpha) / (4.0 * c), c
