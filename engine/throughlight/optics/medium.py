"""Free flight through a medium whose extinction σ (1/m) differs between three bands.

One band is chosen by given probabilities p and its flight taken for all three; the density over the mixture,

    Σ p_b·σ_b·e^(−σ_b·t),    and the chance Σ p_b·e^(−σ_b·t) to fly farther than t,

keeps every band's weight bounded by 1/p_b. Source: Veach and Guibas 1995, "Optimally Combining Sampling Techniques"
(balance heuristic over the bands).
"""

from __future__ import annotations

import math

from throughlight.optics.kernel import inlined


@inlined
def sample_distance(sigma_t, choice, u_band, u):
    """Return a flight in metres, infinite in a band without extinction.

    Parameters
    ----------
    sigma_t
        Extinction by band, 1/m.
    choice
        Probability of each band; they add up to 1.
    u_band, u
        Uniform numbers below 1, for the band and for the flight.
    """
    sigma = sigma_t[2]
    if u_band < choice[0]:
        sigma = sigma_t[0]
    elif u_band < choice[0] + choice[1] or choice[2] <= 0.0:
        sigma = sigma_t[1] if choice[1] > 0.0 else sigma_t[0]
    if sigma <= 0.0:
        return math.inf
    return -math.log(1.0 - u) / sigma


@inlined
def transmittance(t, sigma_t):
    """Return the share of light by band that flies farther than t metres."""
    return (math.exp(-sigma_t[0] * t), math.exp(-sigma_t[1] * t), math.exp(-sigma_t[2] * t))


@inlined
def _fade(depth):
    """Return e^(−depth); nothing to work out for the clearest band, or for one as clear as it."""
    return math.exp(-depth) if depth > 0.0 else 1.0


@inlined
def landing(t, sigma_t, choice):
    """Return what each band of a flight that ended at t weighs, m: its transmittance over the density of the flight.

    What all bands lose alike cancels, so that grey matter needs no exponential and dark matter no tiny numbers.
    """
    least = min(sigma_t[0], min(sigma_t[1], sigma_t[2]))
    e = (_fade((sigma_t[0] - least) * t), _fade((sigma_t[1] - least) * t), _fade((sigma_t[2] - least) * t))
    whole = 1.0 / (choice[0] * sigma_t[0] * e[0] + choice[1] * sigma_t[1] * e[1] + choice[2] * sigma_t[2] * e[2])
    return (e[0] * whole, e[1] * whole, e[2] * whole)


@inlined
def density(t, sigma_t, choice):
    """Return the density of `sample_distance` at t, 1/m."""
    e = transmittance(t, sigma_t)
    return choice[0] * sigma_t[0] * e[0] + choice[1] * sigma_t[1] * e[1] + choice[2] * sigma_t[2] * e[2]


@inlined
def reach(t, sigma_t, choice):
    """Return the probability that `sample_distance` flies farther than t."""
    e = transmittance(t, sigma_t)
    return choice[0] * e[0] + choice[1] * e[1] + choice[2] * e[2]
