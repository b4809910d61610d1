"""Leading a walk through thick matter toward the light, and what that does to its densities.

At a place of slope s = ∇φ/φ (`trace/glow.py`) and transport mean free path ℓ a led walk scatters and flies by

    p'(ω) = p(ω)·(1 + ℓ·s·ω) / (1 + g·ℓ·s·ω₀),    σ' = σ − s·ω,

ω₀ the direction before. The quotient is exact, since a phase function of mean cosine g turns ℓ·s·ω into g·ℓ·s·ω₀. So
the odds of a led path against a plain one are a product of such factors and of e^(s·ω·t) for the flights. Walks are led
or plain by chance; every weight is the plain one over the mixture of both, and stays bounded by 1/PLAIN.

Sources: Dwivedi 1982, "A new importance biasing scheme for deep-penetration Monte Carlo", Ann. Nucl. Energy 9; Křivánek
and d'Eon 2014, "A Zero-Variance-Based Sampling Scheme for Monte Carlo Subsurface Scattering"; Veach and Guibas 1995.
"""

from __future__ import annotations

import math

import numpy as np

from throughlight.optics import phase
from throughlight.optics.kernel import inlined
from throughlight.optics.vectors import dot
from throughlight.trace.sampler import draw

PLAIN = 0.1
"""The share of walks that are not led: a wrong guess of where the light is costs variance × 1/PLAIN at most."""

NOT_LED = (0.0, 0.0, (0.0, 0.0, 0.0))
"""How a plain walk is led: the probability that a path like this one was led, ℓ in m, and s in 1/m."""

_MOST = 1e100  # keeps the odds finite
CELLS = 16
"""Cells along each axis of a body's grid of slopes."""


@inlined
def slope(stage, row, x):
    """Return s at x by row `row` of `leads`, and the faintest brightness of the body over that at x."""
    rec = stage.leads[row]
    i = np.int64(rec["tx"] * x[0] + rec["ty"] * x[1] + rec["tz"] * x[2] + rec["t0"])
    j = np.int64(rec["bx"] * x[0] + rec["by"] * x[1] + rec["bz"] * x[2] + rec["b0"])
    k = np.int64(rec["nx"] * x[0] + rec["ny"] * x[1] + rec["nz"] * x[2] + rec["n0"])
    i, j, k = min(max(i, 0), CELLS - 1), min(max(j, 0), CELLS - 1), min(max(k, 0), CELLS - 1)
    cell = rec["first"] + (i * CELLS + j) * CELLS + k
    s = stage.slopes
    return (np.float64(s[cell, 0]), np.float64(s[cell, 1]), np.float64(s[cell, 2])), np.float64(s[cell, 3])


@inlined
def turning(s, free, g, before, direction):
    """Return the odds with which a led walk scatters from `before` into a direction."""
    return (1.0 + free * dot(s, direction)) / (1.0 + g * free * dot(s, before))


@inlined
def scatter(s, free, before, g, state):
    """Return a direction drawn as a led walk scatters, and the state of the random numbers."""
    most = 1.0 + free * math.sqrt(dot(s, s))
    while True:
        u, state = draw(state)
        v, state = draw(state)
        direction = phase.sample(before, g, u, v)
        u, state = draw(state)
        if u * most < 1.0 + free * dot(s, direction):
            return direction, state


@inlined
def mixture(odds):
    """Return the density of a path, led or not, over that of a plain walk."""
    return PLAIN + (1.0 - PLAIN) * odds


@inlined
def product(odds, factor):
    """Return odds × factor, kept finite."""
    return min(_MOST, odds * factor)


@inlined
def share_led(odds):
    """Return the probability that a path of such odds was led."""
    return (1.0 - PLAIN) * odds / mixture(odds)


@inlined
def leg_density(how, g, before, leg, distance):
    """Return the density of a leg that gets as far as `distance`, over that of a plain walk; `how` as NOT_LED."""
    led, free, s = how
    if led <= 0.0:
        return 1.0
    return 1.0 - led + led * turning(s, free, g, before, leg) * math.exp(dot(s, leg) * distance)
