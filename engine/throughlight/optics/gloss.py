"""Gloss: a clear skin of index n, polished or rough, over a matte ground of reflectance ρ by band.

The skin mirrors; what enters comes back from the ground, and from under the skin again and again:

    f·cos o = T(μ_i)·T(μ_o)·ρ / (π·n²·(1 − ρ·R_int))·μ_o,    R_int = 1 − 2∫T·μ dμ / n²

with the share T that enters from a cosine: 1 − F when polished, for a rough skin what its facets and their lobe pass
(from its table, see `optics.losses`). In all F + (1 − F)·(1 − R_int)·ρ/(1 − ρ·R_int) comes back from a polished face,
and everything when ρ = 1. Source: Saunderson 1942, "Calculation of the Color of Pigmented Plastics", JOSA 32.
"""

from __future__ import annotations

import math

from throughlight.optics import fresnel
from throughlight.optics.kernel import kernel
from throughlight.optics.losses import GLOSS_HEAD, NODES, SKIN_HEAD, given_back, lookup
from throughlight.optics.matte import sample as sample_matte
from throughlight.optics.microfacet import masking, pdf_mirrored, sample_mirrored
from throughlight.optics.vectors import largest, scale

_NOTHING = (0.0, 0.0, 0.0)


@kernel
def _skin(lost):
    """Return the place of the skin's own table within the gloss's."""
    return lost + GLOSS_HEAD + NODES


@kernel
def _enters(mu, n, curves, lost):
    """Return T, the share of light from a cosine that goes through the skin."""
    return lookup(curves, lost + GLOSS_HEAD, mu) if lost > 0 else 1.0 - fresnel.dielectric(mu, 1.0, n)


@kernel
def _under(n, curves, lost):
    """Return R_int, the share of the ground's light that the skin sends back to it."""
    return curves[lost] if lost > 0 else 1.0 - (1.0 - fresnel.diffuse(n)) / (n * n)


@kernel
def _ground(reflectance, under):
    """Return ρ/(1 − ρ·R_int): the ground with all its returns, by band."""
    return (
        reflectance[0] / (1.0 - reflectance[0] * under),
        reflectance[1] / (1.0 - reflectance[1] * under),
        reflectance[2] / (1.0 - reflectance[2] * under),
    )


@kernel
def _chance(wi, reflectance, n, curves, lost):
    """Return the probability to sample the mirrored part: its share of the light returned in the brightest band."""
    under = _under(n, curves, lost)
    enters = _enters(wi[2], n, curves, lost)
    spread = enters * (1.0 - under) * largest(_ground(reflectance, under))
    mirrored = 1.0 - enters
    if lost > 0:
        skin = _skin(lost)
        lobe = lookup(curves, skin + SKIN_HEAD, wi[2]) * curves[skin + 2]
        spread, mirrored = spread + lobe, max(0.0, mirrored - lobe)
    return mirrored / (mirrored + spread) if mirrored > 0.0 else 0.0


@kernel
def sample(wi, reflectance, n, alpha, curves, lost, u0, u1, u2):
    """Return (outgoing direction, weight f·cos/density by band, density, 1/sr; 0 for a polished skin's mirroring).

    Parameters
    ----------
    wi
        Unit vector above the face.
    reflectance
        Of the ground, by band.
    n, alpha
        Index and GGX roughness of the skin.
    curves, lost
        All tables, and the place where this gloss's begins; 0: the skin is polished.
    u0, u1, u2
        Uniform numbers: mirrored or spread, and the direction.
    """
    if wi[2] <= 0.0:
        return wi, _NOTHING, 0.0
    chance = _chance(wi, reflectance, n, curves, lost)
    if u0 >= chance:
        wo = sample_matte(wi, u1, u2)
    elif lost > 0:
        wo = sample_mirrored(wi, alpha, u1, u2)
    else:
        weight = (1.0 - _enters(wi[2], n, curves, lost)) / chance
        return (-wi[0], -wi[1], wi[2]), (weight, weight, weight), 0.0
    density = pdf(wi, wo, reflectance, n, alpha, curves, lost)
    if density <= 0.0:
        return wo, _NOTHING, 0.0
    return wo, scale(evaluate(wi, wo, reflectance, n, alpha, curves, lost), 1.0 / density), density


@kernel
def evaluate(wi, wo, reflectance, n, alpha, curves, lost):
    """Return f·cos wo by band, 1/sr, without a polished skin's mirroring; 0 below the horizon."""
    if wi[2] <= 0.0 or wo[2] <= 0.0:
        return _NOTHING
    passed = _enters(wi[2], n, curves, lost) * _enters(wo[2], n, curves, lost) / (n * n)
    spread = scale(_ground(reflectance, _under(n, curves, lost)), passed * wo[2] / math.pi)
    if lost <= 0:
        return spread
    density, c = pdf_mirrored(wi, wo, alpha)
    more, _, _ = given_back(curves, _skin(lost), wi[2], wo[2])
    mirrored = fresnel.dielectric(c, 1.0, n) * density * masking(wo, alpha) + more
    return (spread[0] + mirrored, spread[1] + mirrored, spread[2] + mirrored)


@kernel
def pdf(wi, wo, reflectance, n, alpha, curves, lost):
    """Return the density of `sample`, 1/sr, without a polished skin's mirroring."""
    if wi[2] <= 0.0 or wo[2] <= 0.0:
        return 0.0
    chance = _chance(wi, reflectance, n, curves, lost)
    spread = (1.0 - chance) * wo[2] / math.pi
    if lost <= 0:
        return spread
    density, _ = pdf_mirrored(wi, wo, alpha)
    return chance * density + spread
