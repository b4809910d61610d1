"""Matter that varies from place to place: its coefficients come from a picture laid through the body.

Flights are drawn for the largest extinction σ̄ there is; at each candidate either a real collision happens or a null
one, which changes nothing (Woodcock et al. 1965). The choice is made for three bands at once, with a probability that
follows their throughput, and each band's weight makes up for it:

    real:  β·µs(x) / (σ̄·p),    null:  β·(σ̄ − µs(x) − µa(x)) / (σ̄·(1 − p)).

Transmittance along a given line is the product of the null shares at such candidates (ratio tracking).

Sources: Woodcock et al. 1965, "Techniques used in the GEM code for Monte Carlo neutronics"; Novák, Selle and
Jarosz 2014, "Residual ratio tracking for estimating attenuation in participating media", section 3; Kutz, Habel, Li and
Novák 2017, "Spectral and decomposition tracking for rendering heterogeneous volumes", section 4.
"""

from __future__ import annotations

import math

from throughlight.optics.kernel import kernel
from throughlight.optics.vectors import along, multiply
from throughlight.trace.maps import look_up
from throughlight.trace.sampler import draw


@kernel
def null_share(stage, shape, stuff, point):
    """Return the scattering coefficient by band, 1/m, and the extinction that is missing to the largest one."""
    absorb = look_up(stage, stuff["map"], shape, point)
    scatter = look_up(stage, stuff["map"] + 1, shape, point)
    most = stuff["most"]
    null = (
        max(0.0, most - scatter[0] - absorb[0]),
        max(0.0, most - scatter[1] - absorb[1]),
        max(0.0, most - scatter[2] - absorb[2]),
    )
    return scatter, null


@kernel
def event(stage, shape, stuff, point, beta, state):
    """Choose between a real and a null collision at a candidate: (throughput, whether it is real, state)."""
    scatter, null = null_share(stage, shape, stuff, point)
    real = beta[0] * scatter[0] + beta[1] * scatter[1] + beta[2] * scatter[2]
    idle = beta[0] * null[0] + beta[1] * null[1] + beta[2] * null[2]
    if real + idle <= 0.0:
        return (0.0, 0.0, 0.0), True, state
    p = real / (real + idle)
    u, state = draw(state)
    if u < p:
        s = 1.0 / (stuff["most"] * p)
        return multiply(beta, (scatter[0] * s, scatter[1] * s, scatter[2] * s)), True, state
    s = 1.0 / (stuff["most"] * (1.0 - p))
    return multiply(beta, (null[0] * s, null[1] * s, null[2] * s)), False, state


@kernel
def transmitted(stage, shape, stuff, origin, direction, distance, state):
    """Return an unbiased estimate of the transmittance of a straight stretch by band, and the state."""
    through = (1.0, 1.0, 1.0)
    gone = 0.0
    while True:
        u, state = draw(state)
        gone -= math.log(1.0 - u) / stuff["most"]
        if gone >= distance:
            return through, state
        _, null = null_share(stage, shape, stuff, along(origin, direction, gone))
        s = 1.0 / stuff["most"]
        through = multiply(through, (null[0] * s, null[1] * s, null[2] * s))
        if through[0] + through[1] + through[2] <= 0.0:
            return through, state
