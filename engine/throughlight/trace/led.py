"""The random walk inside thick matter, led toward the light: as `trace/walk.py`, with the densities of `trace/lead.py`.

The throughput is kept as a plain walk would have it, beside the odds of this path for a led walk against a plain one.
What is written down or handed on is the throughput over the mixture of both. The roulette spares walks that are faint
because they have come to where it is bright.
"""

from __future__ import annotations

import math

from throughlight.optics import medium, phase
from throughlight.optics.kernel import kernel
from throughlight.optics.vectors import along, dot, largest, multiply, negate, scale
from throughlight.trace.aim import aimed_leg
from throughlight.trace.intersect import leave_within
from throughlight.trace.lead import PLAIN, mixture, product, scatter, share_led, slope, turning
from throughlight.trace.matter import choice_of, extinction, scattering
from throughlight.trace.sampler import draw
from throughlight.trace.walk import CUT, GOOD, LEAKED, LONGEST, NO_LEG, roulette


@kernel
def led_walk(stage, within, inside, origin, direction, beta, gauge, state, book, cell, route):
    """Walk through thick matter until its end is met or the walk ends; arguments and results are those of `walk`."""
    shape = stage.shapes[inside]
    stuff, row = stage.media[shape["medium"]], shape["lead"]
    sigma_t, sigma_s, g = extinction(stuff), scattering(stuff), stuff["g"]
    free = stage.leads[row]["free"]
    met = (math.inf, inside, direction, direction, False, within)
    before, scattered, choice = direction, False, choice_of(beta)
    nothing = (0.0, 0.0, 0.0)
    u, state = draw(state)
    led, odds, turned = u >= PLAIN, 1.0, 1.0
    s, _ = slope(stage, row, origin)
    for _ in range(LONGEST):
        u, state = draw(state)
        v, state = draw(state)
        ease = dot(s, direction)
        eased = (sigma_t[0] - ease, sigma_t[1] - ease, sigma_t[2] - ease) if led else sigma_t
        flight = medium.sample_distance(eased, choice, u, v)
        distance, outward, true = leave_within(stage, inside, origin, direction, flight)
        if distance < math.inf:
            met = (distance, inside, negate(outward), negate(true), False, within)
            reach = medium.reach(distance, sigma_t, choice)
            after = product(odds, turned * math.exp(ease * distance))
            weight = 1.0 / (reach * mixture(after))
            beta = scale(multiply(beta, medium.transmittance(distance, sigma_t)), weight)
            leg = NO_LEG
            if scattered:
                density = phase.evaluate(dot(before, direction), g) * reach * mixture(after) / mixture(odds)
                leg = (inside, origin, before, direction, density)
            return GOOD, met, along(origin, direction, distance), direction, beta, leg, state
        if not flight < math.inf:
            return LEAKED, met, origin, direction, nothing, NO_LEG, state
        origin = along(origin, direction, flight)
        density = medium.density(flight, sigma_t, choice)
        easier = math.exp(ease * flight) * (1.0 - ease * medium.reach(flight, sigma_t, choice) / density)
        odds = product(odds, turned * easier)
        beta = multiply(beta, multiply(scale(medium.transmittance(flight, sigma_t), 1.0 / density), sigma_s))
        s, least = slope(stage, row, origin)
        beta, state = roulette(beta, gauge * least * mixture(odds), state)
        if largest(beta) <= 0.0:
            return GOOD, met, origin, direction, nothing, NO_LEG, state
        if stage.heads.shape[0] > 0:
            how, sent = (share_led(odds), free, s), scale(beta, 1.0 / mixture(odds))
            state = aimed_leg(stage, within, inside, origin, direction, sent, how, state, book, cell, route)
        before, scattered, choice = direction, True, choice_of(beta)
        if led:
            direction, state = scatter(s, free, before, g, state)
        else:
            u, state = draw(state)
            v, state = draw(state)
            direction = phase.sample(before, g, u, v)
        turned = turning(s, free, g, before, direction)
    return CUT, met, origin, direction, nothing, NO_LEG, state
