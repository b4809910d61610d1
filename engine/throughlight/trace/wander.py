"""The random walk inside matter that varies from place to place: as `trace/walk.py`, by null collisions.

The leg that ends at a boundary may hold null collisions; its density, as aiming sees it, is that of matter of the mean
extinction. Both techniques use the same one, and the balance heuristic needs no more to be free of bias.
"""

from __future__ import annotations

import math

from throughlight.optics import medium, phase
from throughlight.optics.kernel import kernel
from throughlight.optics.vectors import along, dot, largest, negate
from throughlight.trace.aim import aimed_leg
from throughlight.trace.bodies import matter_end
from throughlight.trace.intersect import leave_within
from throughlight.trace.lead import NOT_LED
from throughlight.trace.mapped import event
from throughlight.trace.matter import choice_of, extinction
from throughlight.trace.sampler import draw
from throughlight.trace.walk import CUT, GOOD, LEAKED, LONGEST, NO_LEG, roulette


@kernel
def wander(stage, within, inside, origin, direction, beta, gauge, state, book, cell, route):
    """Walk through mapped matter until its end is met or the walk ends; arguments and results are those of `walk`."""
    shape = stage.shapes[inside]
    stuff = stage.media[shape["medium"]]
    before, vertex, gone, scattered = direction, origin, 0.0, False
    choice = choice_of(beta)
    nothing = (0.0, 0.0, 0.0)
    for _ in range(LONGEST):
        u, state = draw(state)
        flight = -math.log(1.0 - u) / stuff["most"]
        if shape["crowded"] > 0:
            met = matter_end(stage, within, inside, origin, direction, flight)
        else:
            distance, outward, true = leave_within(stage, inside, origin, direction, flight)
            met = (distance, inside, negate(outward), negate(true), False, within)
        if met[0] < math.inf:
            leg = NO_LEG
            if scattered:
                reach = medium.reach(gone + met[0], extinction(stuff), choice)
                leg = (inside, vertex, before, direction, phase.evaluate(dot(before, direction), stuff["g"]) * reach)
            return GOOD, met, along(origin, direction, met[0]), direction, beta, leg, state
        if not flight < math.inf:
            return LEAKED, met, origin, direction, nothing, NO_LEG, state
        origin = along(origin, direction, flight)
        beta, real, state = event(stage, shape, stuff, origin, beta, state)
        beta, state = roulette(beta, gauge, state)
        if largest(beta) <= 0.0:
            return GOOD, met, origin, direction, nothing, NO_LEG, state
        if not real:
            gone += flight
            continue
        if stage.heads.shape[0] > 0:
            state = aimed_leg(stage, within, inside, origin, direction, beta, NOT_LED, state, book, cell, route)
        before, vertex, gone, scattered = direction, origin, 0.0, True
        choice = choice_of(beta)
        u, state = draw(state)
        v, state = draw(state)
        direction = phase.sample(direction, stuff["g"], u, v)
    return CUT, met, origin, direction, nothing, NO_LEG, state
