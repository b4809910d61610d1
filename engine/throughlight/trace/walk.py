"""The random walk inside a translucent body: free flights, absorption, scattering, and the aimed leg at each collision.

One walk serves three bands: flights are drawn from a mixture over bands, and the balance weight undoes the mixture.
Absorption takes weight; a roulette ends walks that carry next to nothing. Mapped matter walks in `trace/mapped.py`.
"""

from __future__ import annotations

import math

from throughlight.optics import medium, phase
from throughlight.optics.kernel import inlined, kernel
from throughlight.optics.vectors import along, dot, largest, multiply, negate, scale
from throughlight.trace.aim import aimed_leg
from throughlight.trace.bodies import matter_end
from throughlight.trace.intersect import leave_within
from throughlight.trace.lead import NOT_LED
from throughlight.trace.matter import choice_of, extinction, scattering
from throughlight.trace.sampler import draw

GOOD, CUT, LEAKED, INVALID = 0, 1, 2, 3
"""The status of a path: nothing to report, cut for length, lost through a body that is not closed, or not a number."""

LONGEST = 100_000
"""Events after which a path is cut, and counted."""

_KEPT = 0.1  # throughput, relative to the path's reference, under which the roulette plays

NO_LEG = (-1, (0.0, 0.0, 0.0), (0.0, 0.0, 0.0), (0.0, 0.0, 0.0), 0.0)
"""The last leg of a path that no aiming could have made. A leg is the body's shape, where it began, the direction in
which the walk came there, its own direction, and the density with which the walk made it and let it reach the boundary,
1/sr."""


@inlined
def roulette(beta, gauge, state):
    """Return the throughput after the roulette: zero when the path ends, else raised by what ended paths carry."""
    level = _KEPT * gauge
    if largest(beta) >= level:
        return beta, state
    survival = largest(beta) / level
    u, state = draw(state)
    if u >= survival:
        return (0.0, 0.0, 0.0), state
    return scale(beta, 1.0 / survival), state


@kernel
def walk(stage, within, inside, origin, direction, beta, gauge, state, book, cell, route):
    """Walk from a point inside a body (or on its boundary) until the matter's end is met or the walk ends.

    Parameters
    ----------
    within, inside
        The bodies that the path is inside of, and the one whose matter rules.

    Returns
    -------
    status
        GOOD or why the path ends.
    met
        (distance along the last leg's ray, shape, smooth normal, true normal, front, mask before the boundary).
    point, direction, beta, leg, state
        Where it was met and how the path came there; a throughput of zero ends the path.
    """
    stuff = stage.media[stage.shapes[inside]["medium"]]
    sigma_t = extinction(stuff)
    sigma_s = scattering(stuff)
    crowded = stage.shapes[inside]["crowded"] > 0
    met = (math.inf, inside, direction, direction, False, within)
    before, scattered = direction, False
    choice = choice_of(beta)
    nothing = (0.0, 0.0, 0.0)
    for _ in range(LONGEST):
        u, state = draw(state)
        v, state = draw(state)
        flight = medium.sample_distance(sigma_t, choice, u, v)
        if crowded:
            met = matter_end(stage, within, inside, origin, direction, flight)
            distance = met[0]
        else:
            distance, outward, true = leave_within(stage, inside, origin, direction, flight)
            if distance < math.inf:
                met = (distance, inside, negate(outward), negate(true), False, within)
        if distance < math.inf:
            reach = medium.reach(distance, sigma_t, choice)
            beta = scale(multiply(beta, medium.transmittance(distance, sigma_t)), 1.0 / reach)
            leg = NO_LEG
            if scattered:
                leg = (inside, origin, before, direction, phase.evaluate(dot(before, direction), stuff["g"]) * reach)
            return GOOD, met, along(origin, direction, distance), direction, beta, leg, state
        if not flight < math.inf:
            return LEAKED, met, origin, direction, nothing, NO_LEG, state
        origin = along(origin, direction, flight)
        beta = multiply(beta, multiply(medium.landing(flight, sigma_t, choice), sigma_s))
        beta, state = roulette(beta, gauge, state)
        if largest(beta) <= 0.0:
            return GOOD, met, origin, direction, nothing, NO_LEG, state
        if stage.heads.shape[0] > 0:
            state = aimed_leg(stage, within, inside, origin, direction, beta, NOT_LED, state, book, cell, route)
        before, scattered = direction, True
        choice = choice_of(beta)
        u, state = draw(state)
        v, state = draw(state)
        direction = phase.sample(direction, stuff["g"], u, v)
    return CUT, met, origin, direction, nothing, NO_LEG, state
