"""One path of light, followed from the camera or the front element back toward the heads.

The path carries three bands at once. In air it meets faces: opaque ones ask the heads directly and scatter, heads give
their light, translucent bodies let it in. Inside a body it walks at random until it leaves. Whatever a head could also
have found by itself is shared by the balance heuristic (Veach and Guibas 1995), so that nothing is counted twice.
"""

from __future__ import annotations

import math

import numpy as np

from throughlight.optics.kernel import inlined, kernel
from throughlight.optics.vectors import along, basis, dot, largest, multiply, negate, scale, to_local, to_world
from throughlight.trace import guide, surfaces
from throughlight.trace.aim import density_of_leg
from throughlight.trace.bodies import crossed, innermost
from throughlight.trace.book import deposit
from throughlight.trace.crossing import cross
from throughlight.trace.intersect import meet
from throughlight.trace.led import led_walk
from throughlight.trace.lights import head_probability, light
from throughlight.trace.sampler import draw, sobol_owen
from throughlight.trace.seen import looked_at
from throughlight.trace.tables import Region, SurfaceKind
from throughlight.trace.walk import CUT, GOOD, INVALID, LONGEST, NO_LEG, roulette, walk
from throughlight.trace.wander import wander

_BOUNDARY = int(SurfaceKind.BOUNDARY)
_OTHER = int(Region.OTHER)
_FIRST_DIMENSION = 4  # of the quasi-random points: film and pupil come first

EYE = 0.0
"""Density of a direction that no head could have asked for: a camera ray, or a polished bounce."""

BLIND = -1.0
"""Density of a first direction whose heads are counted elsewhere: they give nothing to this ray."""


@inlined
def _six(state, index, key, first):
    """Return twice three uniform numbers: quasi-random at a path's first vertex, random afterwards."""
    if first:
        d = np.int64(_FIRST_DIMENSION)
        low = (sobol_owen(index, d, key), sobol_owen(index, d + 1, key), sobol_owen(index, d + 2, key))
        high = (sobol_owen(index, d + 3, key), sobol_owen(index, d + 4, key), sobol_owen(index, d + 5, key))
        return low, high, state
    a, state = draw(state)
    b, state = draw(state)
    c, state = draw(state)
    d, state = draw(state)
    e, state = draw(state)
    f, state = draw(state)
    return (a, b, c), (d, e, f), state


@kernel
def _found(stage, vertex, direction, distance, cosine, index, density, leg, body):
    """Return the balance share of a path that found a head by itself, coming from `body` (−1: an opaque face).

    `vertex` is where the direction was chosen, `distance` the way from there to the head's face.
    """
    if density == BLIND:
        return 0.0
    head = stage.heads[index]
    if density == EYE:
        if leg[0] < 0:
            return 1.0
        aimed = density_of_leg(stage, leg, index, along(vertex, direction, distance))
        return leg[4] / (leg[4] + aimed)
    by_face = density * cosine / (distance * distance)
    asked = stage.shares[body, index] if body >= 0 else head_probability(stage, vertex, index)
    both = by_face + asked / head["area"]
    if leg[0] < 0:
        return by_face / both
    aimed = density_of_leg(stage, leg, index, along(vertex, direction, distance))
    return leg[4] * by_face / (leg[4] * both + aimed)


@kernel
def _bounce(stage, shape, part, point, normal, true, direction, beta, before, u, v, state, book, cell, route):
    """Light an opaque face or a sheet directly and scatter.

    Returns (direction, throughput, density, whether straight on, state).
    """
    tangent, bitangent = basis(normal)
    wi = to_local(tangent, bitangent, normal, negate(direction))
    albedo = surfaces.albedo_at(stage, part, shape, point)
    guided = 0.0 if surfaces.is_determined(part) else guide.guided_part(stage, point, normal)
    if stage.heads.shape[0] > 0:
        frame = (tangent, bitangent, normal)
        surfaces.direct(stage, part, albedo, point, frame, wi, beta, guided, u, book, cell, route)
    choice = 1.0
    if guided > 0.0:
        choice, state = draw(state)
    if choice < guided:
        new = guide.sample(stage, point, choice / guided, v[0], v[1])
        wo = to_local(tangent, bitangent, normal, new)
        own = surfaces.pdf(stage, part, albedo, wi, wo)
        weight, density, straight = surfaces.evaluate(stage, part, albedo, wi, wo), 1.0, False
    else:
        wo, weight, density, straight = surfaces.sample(stage, part, albedo, wi, v[2], v[0], v[1])
        if straight:  # the ray goes on as it was chosen before
            return direction, multiply(beta, scale(weight, 1.0 / (1.0 - guided))), before, True, state
        new, own = to_world(tangent, bitangent, normal, wo), density
        if guided <= 0.0 or density <= 0.0:
            weight = scale(weight, 1.0 / (1.0 - guided))
    if (wo[2] > 0.0) != (dot(new, true) > 0.0):  # the smooth normal leads to the wrong side of the facet
        return new, (0.0, 0.0, 0.0), density, False, state
    if guided > 0.0 and density > 0.0:
        mixture = (1.0 - guided) * own + guided * guide.density(stage, point, new)
        # A guided direction comes with f·cos, one of the face's own with f·cos over its density.
        weight = scale(weight, density / mixture)
        density = mixture
    return new, multiply(beta, weight), density, False, state


@kernel
def follow(stage, origin, direction, density, weight, state, index, key, mask, route_depth, book, cell):
    """Follow one path to its end and write down what it finds; return (region first met, status).

    Parameters
    ----------
    density
        EYE, or BLIND when heads seen directly are counted elsewhere.
    weight
        What one unit of luminance along this ray counts.
    state, index, key
        Random state, place in the quasi-random sequence, and the sequence's key.
    mask
        Bit r set: paths whose first face belongs to region r are followed; others end there. A clear sheet is looked
        through.
    route_depth
        The face, counted along the path from 1, whose part names the route.
    """
    beta = (weight, weight, weight)
    # Whole numbers are made by np.int64, since a literal would compile the functions it is handed to once more.
    region, route, faces = np.int64(_OTHER), np.int64(0), np.int64(0)
    within, inside, leg, gauge = np.int64(0), np.int64(-1), NO_LEG, weight
    last = np.int64(-1)  # the translucent body whose boundary the path comes from
    vertex, gone = origin, 0.0  # where the direction was chosen, and how far the path has come from there
    for event in range(LONGEST):
        if inside >= 0:
            if stage.media[stage.shapes[inside]["medium"]]["map"] > 0:
                status, met, point, direction, beta, leg, state = wander(
                    stage, within, inside, origin, direction, beta, gauge, state, book, cell, route
                )
            elif stage.shapes[inside]["lead"] > 0:
                status, met, point, direction, beta, leg, state = led_walk(
                    stage, within, inside, origin, direction, beta, gauge, state, book, cell, route
                )
            else:
                status, met, point, direction, beta, leg, state = walk(
                    stage, within, inside, origin, direction, beta, gauge, state, book, cell, route
                )
            if status != GOOD or largest(beta) <= 0.0:
                return region, status
            distance, body, normal, true, front, within = met
        else:
            distance, body, normal, true, front = meet(stage, within, origin, direction, math.inf)
            if body < 0:
                if event > 0 or (mask >> _OTHER) & 1:
                    room = (stage.room[0], stage.room[1], stage.room[2])
                    deposit(book, cell, route, stage.heads.shape[0], multiply(beta, room))
                return region, GOOD
            point = along(origin, direction, distance)
        gone += distance
        shape = stage.shapes[body]
        row = shape["part"] if front else shape["part"] + 1
        part = stage.parts[row]
        if event == 0:
            region = looked_at(stage, body, front, origin, direction)
            if not (mask >> region) & 1:
                return region, GOOD
        boundary = part["surface"] == _BOUNDARY
        if boundary and innermost(crossed(within, body, front)) == inside:
            within, origin = crossed(within, body, front), point  # the same matter beyond: nothing is there
            continue
        counted = faces if boundary and inside >= 0 else faces + 1
        here = row + 1 if counted == route_depth and counted > faces else route
        if shape["head"] >= 0 and front:
            cosine = -dot(direction, normal)
            share = _found(stage, vertex, direction, gone, cosine, shape["head"], density, leg, last)
            # A head seen at the route's own depth is direct light.
            straight_on = np.int64(0) if counted == route_depth else here
            sent = light(stage, stage.heads[shape["head"]], cosine, negate(direction))
            deposit(book, cell, straight_on, shape["head"], multiply(beta, scale(sent, share)))
            return region, GOOD
        if not boundary and surfaces.is_black(part):
            return region, GOOD
        u, v, state = _six(state, index, key, event == 0)
        if boundary:
            leg = leg if inside >= 0 else NO_LEG
            direction, beta, density, within, leg = cross(
                stage, within, (body, normal, true, front), point, direction, beta, leg, u, v, book, cell, here
            )
            inside = innermost(within)
            last = body
        else:
            direction, beta, density, straight, state = _bounce(
                stage, shape, part, point, normal, true, direction, beta, density, u, v, state, book, cell, here
            )
            if straight:
                origin = point
                if largest(beta) <= 0.0:
                    return region, GOOD
                continue
            last, leg = np.int64(-1), NO_LEG
            if counted == 1:
                gauge = largest(beta)
            else:
                beta, state = roulette(beta, gauge, state)
        faces, route = counted, here
        origin, vertex, gone = point, point, 0.0
        if largest(beta) <= 0.0:
            return region, GOOD
        if not largest(beta) < math.inf:
            return region, INVALID
    return region, CUT
