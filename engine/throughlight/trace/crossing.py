"""A path at the boundary of a translucent body, from either side: direct light through it, then reflect or refract."""

from __future__ import annotations

from throughlight.optics import boundary, fresnel
from throughlight.optics.kernel import kernel
from throughlight.optics.vectors import basis, dot, multiply, negate, scale, to_local, to_world
from throughlight.trace.aim import density_of_leg
from throughlight.trace.book import deposit
from throughlight.trace.intersect import blocked
from throughlight.trace.lights import choose_for_body, face_point, light, toward
from throughlight.trace.walk import NO_LEG

_AIR = 1.0


@kernel
def _direct(stage, body, leaving, point, frame, wi, beta, leg, u, book, cell, route):
    """Write down what one head sends off a rough boundary (from outside) or through it (from inside)."""
    tangent, bitangent, normal = frame
    index, probability = choose_for_body(stage, body, u[0])
    head = stage.heads[index]
    y, face = face_point(head, u[1], u[2])
    direction, distance, cosine = toward(point, y, face)
    wo = to_local(tangent, bitangent, normal, direction)
    if cosine <= 0.0 or leaving == (wo[2] > 0.0):
        return
    stuff = stage.media[stage.shapes[body]["medium"]]
    n_in, n_out = (stuff["n"], _AIR) if leaving else (_AIR, stuff["n"])
    value, by_boundary = boundary.evaluate_with_pdf(wi, wo, n_in, n_out, stuff["alpha"])
    if value <= 0.0 or blocked(stage, point, direction, distance):
        return
    geometry = cosine / (distance * distance)
    both = probability / head["area"] + by_boundary * geometry
    share = 1.0 / both
    if leg[0] >= 0:
        share = leg[3] / (leg[3] * both + density_of_leg(stage, body, leg[1], leg[2], index, y))
    sent = light(stage, head, cosine, negate(direction))
    deposit(book, cell, route, index, multiply(beta, scale(sent, value * geometry * share)))


@kernel
def cross(stage, body, leaving, point, outward, direction, beta, leg, u, v, book, cell, route):
    """Reflect at or pass through a body's boundary.

    `u` and `v` are three uniform numbers each, for the heads and for the boundary. Returns (direction, throughput,
    density of the direction or 0 when it was determined, whether the path is inside now, leg).
    """
    stuff = stage.media[stage.shapes[body]["medium"]]
    n, alpha = stuff["n"], stuff["alpha"]
    normal = negate(outward) if leaving else outward
    tangent, bitangent = basis(normal)
    wi = to_local(tangent, bitangent, normal, negate(direction))
    if alpha > 0.0 and stage.heads.shape[0] > 0:
        frame = (tangent, bitangent, normal)
        _direct(stage, body, leaving, point, frame, wi, beta, leg, u, book, cell, route)
    n_in, n_out = (n, _AIR) if leaving else (_AIR, n)
    wo, weight, density, transmitted = boundary.sample(wi, n_in, n_out, alpha, v[0], v[1], v[2])
    new = to_world(tangent, bitangent, normal, wo)
    if not (leaving and transmitted):
        leg = NO_LEG
    elif density <= 0.0 and leg[0] >= 0:
        through = 1.0 - fresnel.dielectric(dot(direction, outward), n, _AIR)
        leg = (leg[0], leg[1], leg[2], leg[3] * through)
    return new, scale(beta, weight), density, leaving != transmitted, leg
