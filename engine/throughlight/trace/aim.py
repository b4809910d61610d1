"""Aiming the last leg out of a translucent body at the heads.

A walk inside a body finds the few directions that refract toward a small head only by chance. So at each scattering
vertex x a second technique proposes the last leg itself: a point y on a head's face, a facet of the boundary as seen
from it (n₀ is the boundary's normal where the straight line from x to the head's centre leaves the body), the light
from y refracted through that facet into the body, and the leg followed back along it to the true boundary, whose own
scattering function is then evaluated. The joint density of leg and face point is known for every path, so the balance
heuristic with the ordinary walk keeps the sum unbiased for a body of any shape, however poor the guess n₀ is.

Densities: over the leg's direction (1/sr) and, for a rough boundary, over the head's face (1/m²) too. For a polished
boundary the exit is determined by the leg, so the density is over the leg alone.

Source: Veach and Guibas 1995 (balance heuristic); Walter et al. 2007, eq. 17 (Jacobian of refraction).
"""

from __future__ import annotations

import math

from throughlight.optics import boundary, fresnel, medium, phase
from throughlight.optics.kernel import inlined, kernel
from throughlight.optics.vectors import (
    along,
    basis,
    dot,
    largest,
    multiply,
    negate,
    normalise,
    scale,
    subtract,
    to_local,
)
from throughlight.trace.bodies import crossed, innermost, matter_end
from throughlight.trace.book import deposit
from throughlight.trace.intersect import clear_way, leave_within
from throughlight.trace.lead import leg_density
from throughlight.trace.lights import centre, choose_for_body, face_hit, face_point, light, toward
from throughlight.trace.mapped import transmitted
from throughlight.trace.matter import choice_of, extinction
from throughlight.trace.sampler import draw

_AIR = 1.0
_FALL = 0.4
"""How fast aimed legs thin out with the optical depth below the surface. It changes cost and noise, never the mean: on
the backlit reference slab variance × time is the same from .25 to .6, within the 6 % to which it was measured."""


@inlined
def worth(before, direction, g):
    """Return how much an aimed leg along a direction is worth trying for light that came along `before`.

    What it brings goes with the phase function. Its lobe is taken at g², as after two scatterings, for the leg bends at
    the boundary; halved where it is narrow, since the peak then brings the noise. At g = 0 it is 1.
    """
    lobe = g * g
    return 4.0 * math.pi / (1.0 + lobe) * phase.evaluate(dot(before, direction), lobe)


@inlined
def guess(stage, inside, x, before, index, least):
    """Return how likely an aimed leg is tried from x toward this head, and the normal n₀ it supposes.

    Aiming thins out with the optical depth of the straight line from x to the head's centre, and where the light that
    came along `before` would have to turn far. A likelihood under `least` is told as zero, which spares following that
    line to its end.
    """
    stuff = stage.media[stage.shapes[inside]["medium"]]
    sigma = extinction(stuff)
    fall = _FALL * min(sigma[0], min(sigma[1], sigma[2]))
    direction = normalise(subtract(centre(stage.heads[index]), x))
    full = worth(before, direction, stuff["g"])
    if full <= least:
        return 0.0, direction
    limit = math.inf
    if least > 0.0 and fall > 0.0:
        limit = math.log(full / least) / fall
    distance, normal, _ = leave_within(stage, inside, x, direction, limit)
    return (min(1.0, full * math.exp(-fall * distance)) if distance < math.inf else 0.0), normal


@kernel
def polished_density(head, x, leg, normal, n):
    """Return the density of a leg (1/sr) when a face point's direction is refracted through the plane normal n₀."""
    passed, out = boundary.refract_out(leg, normal, n, _AIR)
    if not passed:
        return 0.0
    distance, cosine = face_hit(head, x, out)
    if not distance < math.inf:
        return 0.0
    jacobian = boundary.aim_jacobian_smooth(dot(out, normal), dot(leg, normal), _AIR, n)
    return distance * distance / (cosine * head["area"]) * jacobian


@kernel
def density_of_leg(stage, last, index, y):
    """Return the density with which aiming at head `index` makes a walk's last leg, and for a rough body this y.

    1/sr for a polished boundary; 1/(sr·m²) for a rough one.
    """
    inside, x, before, leg, _ = last
    chance, normal = guess(stage, inside, x, before, index, 0.0)
    chance *= stage.shares[inside, index]
    stuff = stage.media[stage.shapes[inside]["medium"]]
    head = stage.heads[index]
    if stuff["alpha"] <= 0.0:
        return chance * polished_density(head, x, leg, normal, stuff["n"])
    toward_y = normalise(subtract(y, x))
    if dot(toward_y, normal) <= 0.0:
        return 0.0
    return chance / head["area"] * boundary.aim_density(leg, toward_y, normal, stuff["alpha"], stuff["n"], _AIR)


@inlined
def aimed_leg(stage, within, inside, x, before, beta, how, state, book, cell, route):
    """Try one aimed leg from the scattering vertex x; return the state of the random numbers.

    `before` is the direction in which the walk came to x, `beta` its throughput after the collision; `how` tells how
    it may have been led (`trace/lead.py`).
    """
    u, state = draw(state)
    index, probability = choose_for_body(stage, inside, u)
    u, state = draw(state)
    chance, normal = guess(stage, inside, x, before, index, u)
    if u >= chance:
        return state
    return _follow_leg(
        stage, within, inside, x, before, beta, how, index, chance * probability, normal, state, book, cell, route
    )


@kernel
def _follow_leg(stage, within, inside, x, before, beta, how, index, chance, normal, state, book, cell, route):
    """Follow one aimed leg to the head `index` and write down what it brings; return the state."""
    u1, state = draw(state)
    u2, state = draw(state)
    head = stage.heads[index]
    y, face = face_point(head, u1, u2)
    toward_y, _, cosine = toward(x, y, face)
    if cosine <= 0.0 or dot(toward_y, normal) <= 0.0:
        return state
    u1, state = draw(state)
    u2, state = draw(state)
    stuff = stage.media[stage.shapes[inside]["medium"]]
    if stuff["alpha"] <= 0.0:
        leg, share, exit_point, out, far, cosine, distance = _polished_leg(
            stage, within, inside, x, before, beta, how, toward_y, normal, index, chance
        )
    else:
        leg, share, exit_point, out, far, cosine, distance = _rough_leg(
            stage, within, inside, x, before, beta, how, (y, face), toward_y, normal, index, chance, u1, u2
        )
    if share <= 0.0:
        return state
    way = clear_way(stage, exit_point, out, far)
    if largest(way) <= 0.0:
        return state
    through, state = _through(stage, inside, x, leg, distance, state)
    value = multiply(multiply(through, way), light(stage, head, cosine, negate(out)))
    deposit(book, cell, route, index, multiply(beta, scale(value, share)))
    return state


@inlined
def _through(stage, inside, x, leg, distance, state):
    """Return the transmittance of a leg by band (in mapped matter an unbiased estimate), and the state."""
    shape = stage.shapes[inside]
    stuff = stage.media[shape["medium"]]
    if stuff["map"] > 0:
        return transmitted(stage, shape, stuff, x, leg, distance, state)
    return medium.transmittance(distance, extinction(stuff)), state


@inlined
def _into_the_open(stage, within, inside, x, leg):
    """Follow a leg to where its matter ends: (distance or inf, outward normals, smooth and true), if air is beyond."""
    if stage.shapes[inside]["crowded"] == 0:
        return leave_within(stage, inside, x, leg, math.inf)
    distance, shape, normal, true, front, within = matter_end(stage, within, inside, x, leg, math.inf)
    if not distance < math.inf or shape != inside or innermost(crossed(within, shape, front)) >= 0:
        return math.inf, normal, true
    return distance, negate(normal), negate(true)


@inlined
def _polished_leg(stage, within, inside, x, before, beta, how, toward_y, normal, index, chance):
    """Follow a leg refracted through n₀ and leave the polished body where it really leads; it may meet the head.

    Returns (leg, share, exit point, direction beyond, distance to the face, cosine there, length of the leg); a share
    of 0 is a leg that brings nothing.
    """
    stuff = stage.media[stage.shapes[inside]["medium"]]
    n = stuff["n"]
    head = stage.heads[index]
    failed = (x, 0.0, x, x, 0.0, 0.0, 0.0)
    passed, leg, _, _ = boundary.refract_through(toward_y, normal, _AIR, n)
    if not passed:
        return failed
    density = chance * polished_density(head, x, leg, normal, n)
    distance, outward, true = _into_the_open(stage, within, inside, x, leg)
    if density <= 0.0 or not distance < math.inf:
        return failed
    passed, out = boundary.refract_out(leg, outward, n, _AIR)
    if not passed or dot(out, true) <= 0.0:
        return failed
    exit_point = along(x, leg, distance)
    far, cosine = face_hit(head, exit_point, out)
    if not far < math.inf:
        return failed
    through = 1.0 - fresnel.dielectric(dot(leg, outward), n, _AIR)
    scattered = phase.evaluate(dot(before, leg), stuff["g"])
    reach = medium.reach(distance, extinction(stuff), choice_of(beta))
    ordinary = scattered * reach * leg_density(how, stuff["g"], before, leg, distance) * through
    return leg, scattered * through / (density + ordinary), exit_point, out, far, cosine, distance


@inlined
def _rough_leg(stage, within, inside, x, before, beta, how, face_of_y, toward_y, normal, index, chance, u1, u2):
    """Follow a leg refracted through a random facet and evaluate the true boundary toward the same face point.

    Returns what `_polished_leg` does.
    """
    y, face = face_of_y
    stuff = stage.media[stage.shapes[inside]["medium"]]
    n, alpha = stuff["n"], stuff["alpha"]
    head = stage.heads[index]
    failed = (x, 0.0, x, x, 0.0, 0.0, 0.0)
    passed, leg = boundary.aim(toward_y, normal, alpha, n, _AIR, u1, u2)
    if not passed:
        return failed
    density = chance / head["area"] * boundary.aim_density(leg, toward_y, normal, alpha, n, _AIR)
    distance, outward, true = _into_the_open(stage, within, inside, x, leg)
    if density <= 0.0 or not distance < math.inf:
        return failed
    exit_point = along(x, leg, distance)
    out, far, cosine = toward(exit_point, y, face)
    if cosine <= 0.0 or dot(out, outward) <= 0.0 or dot(out, true) <= 0.0:
        return failed
    inward = negate(outward)
    tangent, bitangent = basis(inward)
    wi = to_local(tangent, bitangent, inward, negate(leg))
    wo = to_local(tangent, bitangent, inward, out)
    skin = stage.skins[1 + stage.shapes[inside]["medium"], 0]
    passing, by_boundary = boundary.evaluate_with_pdf(wi, wo, n, _AIR, alpha, stage.curves, skin)
    if passing <= 0.0:
        return failed
    geometry = cosine / (far * far)
    scattered = phase.evaluate(dot(before, leg), stuff["g"])
    by_light = stage.shares[inside, index] / head["area"]
    reach = medium.reach(distance, extinction(stuff), choice_of(beta))
    ordinary = scattered * reach * leg_density(how, stuff["g"], before, leg, distance)
    ordinary *= by_light + by_boundary * geometry
    return leg, scattered * passing * geometry / (density + ordinary), exit_point, out, far, cosine, distance
