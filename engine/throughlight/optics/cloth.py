"""Cloth with a pile: a matte ground under a thin layer of fibres that shows at grazing angles.

    f = (s/4π)·(1 − e^(−τ·(1/μ_i + 1/μ_o))) / (μ_i + μ_o) + (ρ/π)·e^(−τ·(1/μ_i + 1/μ_o))

with the cosines μ, the optical thickness τ ("pile") and the albedo s ("sheen") of fibres that scatter evenly, once.
Sources: Chandrasekhar 1950, Radiative Transfer, §68 (single scattering in a layer); the layer of fibres as the cause of
velvet's bright edges: Koenderink and Pont 2003, "The secret of velvety skin", Machine Vision and Applications 14.
"""

from __future__ import annotations

import math

from throughlight.optics.circle import turn
from throughlight.optics.kernel import kernel
from throughlight.optics.matte import sample as sample_matte
from throughlight.optics.vectors import largest


@kernel
def _fibres_share(mu, reflectance, pile, sheen):
    """Return the probability to sample the fibres' part: about their share of the light returned.

    Fibres return ½·(1 − e^(−τ/μ))·(1 − μ·ln(1 + 1/μ)) for all depths but the exit's own attenuation; the ground keeps
    e^(−τ/μ) on the way in and about e^(−2τ) on the way out.
    """
    kept = math.exp(-pile / mu)
    fibres = 0.5 * largest(sheen) * (1.0 - kept) * (1.0 - mu * math.log(1.0 + 1.0 / mu))
    ground = largest(reflectance) * kept * math.exp(-2.0 * pile)
    return fibres / (fibres + ground) if fibres > 0.0 else 0.0


@kernel
def sample(wi, u1, u2, reflectance, pile, sheen):
    """Return an outgoing direction: evenly over the hemisphere for the fibres, by the cosine for the ground.

    Parameters
    ----------
    reflectance, sheen
        Of the ground and of the fibres, by band.
    pile
        Optical thickness of the layer of fibres.
    """
    if wi[2] <= 0.0:
        return sample_matte(wi, u1, u2)
    share = _fibres_share(wi[2], reflectance, pile, sheen)
    if u1 >= share:
        return sample_matte(wi, (u1 - share) / (1.0 - share), u2)
    z = 1.0 - u1 / share
    r = math.sqrt((1.0 - z) * (1.0 + z))
    x, y = turn(u2)
    return (r * x, r * y, z)


@kernel
def evaluate(wi, wo, reflectance, pile, sheen):
    """Return f·cos wo by band, 1/sr; 0 below the horizon."""
    if wo[2] <= 0.0 or wi[2] <= 0.0:
        return (0.0, 0.0, 0.0)
    depth = pile * (1.0 / wi[2] + 1.0 / wo[2])
    fibres = -math.expm1(-depth) / (4.0 * math.pi * (wi[2] + wo[2])) * wo[2]
    ground = math.exp(-depth) / math.pi * wo[2]
    return (
        sheen[0] * fibres + reflectance[0] * ground,
        sheen[1] * fibres + reflectance[1] * ground,
        sheen[2] * fibres + reflectance[2] * ground,
    )


@kernel
def pdf(wi, wo, reflectance, pile, sheen):
    """Return the density of `sample`, 1/sr."""
    if wo[2] <= 0.0 or wi[2] <= 0.0:
        return 0.0
    share = _fibres_share(wi[2], reflectance, pile, sheen)
    return share / (2.0 * math.pi) + (1.0 - share) * wo[2] / math.pi
