"""A thin sheet, looked through from either side: clear wrap, tracing paper, a scrim, a diffusion film.

It has no thickness. Along the normal it passes S straight on, spreads D over the other side and gives R back; a film of
index n mirrors M(θ) and takes all three down by s(θ) = T(θ)/T(0) (`optics.film`). The spread parts are

    f·cos o = D·s(i)·s(o)·cos o / (π·s̄)    and the same with R,    s̄ = 2∫s·µ dµ,

so that D and R are the totals along the normal, both directions count alike, and no angle gives more than it gets as
long as S + D + R ≤ T(0). Local frames have the normal on the side of the incoming ray.
"""

from __future__ import annotations

import math

from throughlight.optics import film
from throughlight.optics.kernel import kernel
from throughlight.optics.matte import sample as sample_matte
from throughlight.optics.vectors import negate, scale


@kernel
def straight(part, cosine):
    """Return the share of light that passes straight on at a cosine from the normal, by band."""
    s = film.shade(cosine, part["n"])
    return (part["straight_red"] * s, part["straight_green"] * s, part["straight_blue"] * s)


@kernel
def _through(part):
    return (part["through_red"], part["through_green"], part["through_blue"])


@kernel
def _mean(v):
    return (v[0] + v[1] + v[2]) / 3.0


@kernel
def _chances(part, returned, cosine):
    """Return the probabilities to be mirrored, to pass straight on and to be spread through; the rest is given back."""
    s = film.shade(cosine, part["n"])
    mirrored = 1.0 - film.transmittance(cosine, part["n"])
    passed, spread, back = _mean(straight(part, cosine)), _mean(_through(part)) * s, _mean(returned) * s
    total = mirrored + passed + spread + back
    if total <= 0.0:
        return 0.0, 0.0, 0.0, 0.0
    return mirrored / total, passed / total, spread / total, back / total


@kernel
def sample(part, returned, wi, u0, u1, u2):
    """Return (direction, weight by band, density, 1/sr, whether it passes straight on).

    Parameters
    ----------
    part
        The record of the face.
    returned
        The diffuse reflectance R by band.
    wi
        Unit vector above the sheet.
    u0, u1, u2
        Uniform numbers: the event, and the direction.

    A density of 0 says that the direction was determined: mirrored, or straight on.
    """
    cosine = max(0.0, wi[2])
    mirrored, passed, spread, back = _chances(part, returned, cosine)
    if u0 < mirrored:
        weight = (1.0 - film.transmittance(cosine, part["n"])) / mirrored
        return (-wi[0], -wi[1], wi[2]), (weight, weight, weight), 0.0, False
    if u0 < mirrored + passed:
        return negate(wi), scale(straight(part, cosine), 1.0 / passed), 0.0, True
    if spread + back <= 0.0:
        return wi, (0.0, 0.0, 0.0), 0.0, False
    wo = sample_matte(wi, u1, u2)
    chance = back
    if u0 < mirrored + passed + spread:
        wo, chance = (wo[0], wo[1], -wo[2]), spread
    density = chance * abs(wo[2]) / math.pi
    if density <= 0.0:
        return wo, (0.0, 0.0, 0.0), 0.0, False
    return wo, scale(evaluate(part, returned, wi, wo), 1.0 / density), density, False


@kernel
def evaluate(part, returned, wi, wo):
    """Return f·|cos o| of the spread parts by band, 1/sr, on the side on which wo lies."""
    lobe = returned if wo[2] > 0.0 else _through(part)
    s = film.shade(max(0.0, wi[2]), part["n"]) * film.shade(abs(wo[2]), part["n"])
    return scale(lobe, s * abs(wo[2]) / (math.pi * part["spread"]))


@kernel
def pdf(part, returned, wi, wo):
    """Return the density with which `sample` spreads light into wo, 1/sr."""
    _, _, spread, back = _chances(part, returned, max(0.0, wi[2]))
    return (back if wo[2] > 0.0 else spread) * abs(wo[2]) / math.pi
