"""Light that single scattering off rough facets loses, and the lobe that gives it back.

A curve tells l(μ) = 1 − E(μ): the share of the light from the cosine μ that meets a second facet and is lost. What is
lost is given back as widely as it was lost,

    f·cos o = c·l(μ_i)·l(μ_o)·μ_o / π

which is reciprocal and, with the right c, returns l(μ_i) on the whole. Sources: Kelemen and Szirmay-Kalos 2001, "A
Microfacet Based Coupled Specular-Matte BRDF Model"; Kulla and Conty 2017, "Revisiting Physically Based Shading".

Where things stand in `curves`, counted from a table's place:

    skin (both sides of a boundary)   0: c on the incident side, 1: c beyond, 2: chance to leave on the incident side,
                                      3: NODES of l on the incident side, 3 + NODES: NODES of l beyond
    metal                             0–2: c by band, 3: NODES of l
    gloss                             0: R_int, 1: NODES of the share T(μ) that enters, 1 + NODES: the skin from outside

Nodes stand evenly in √μ from 0 to 1, so close together near grazing; between them curves are straight in √μ.
"""

from __future__ import annotations

import math

import numpy as np

from throughlight.optics.kernel import kernel

NODES = 80

SKIN_HEAD, METAL_HEAD, GLOSS_HEAD = 3, 3, 1


@kernel
def lookup(curves, first, mu):
    """Return a curve whose first node stands at `first`, at the cosine mu in [0, 1]."""
    s = math.sqrt(mu) * (NODES - 1)
    node = min(np.int64(s), np.int64(NODES - 2))
    part = s - node
    at = first + node
    return curves[at] + part * (curves[at + 1] - curves[at])


@kernel
def given_back(curves, skin, mu_i, wo_z):
    """Return (f·|cos o|, density, chance of the lobe) that a boundary's skin adds for directions of these cosines.

    Both 1/sr; the density already holds the chance l(μ_i) to choose the lobe. wo_z < 0 is the other side.
    """
    chance = lookup(curves, skin + SKIN_HEAD, mu_i)
    even = chance * abs(wo_z) / math.pi
    if wo_z > 0.0:
        kept = lookup(curves, skin + SKIN_HEAD, wo_z)
        return curves[skin] * kept * even, curves[skin + 2] * even, chance
    kept = lookup(curves, skin + SKIN_HEAD + NODES, -wo_z)
    return curves[skin + 1] * kept * even, (1.0 - curves[skin + 2]) * even, chance
