"""A path at the boundary of a translucent body, from either side: direct light through it, then reflect or refract."""

from __future__ import annotations

from throughlight.optics import boundary, fresnel
from throughlight.optics.kernel import inlined
from throughlight.optics.vectors import along, basis, dot, largest, multiply, negate, scale, to_local, to_world
from throughlight.trace.aim import density_of_leg
from throughlight.trace.bodies import crossed, innermost
from throughlight.trace.book import deposit
from throughlight.trace.intersect import clear_way
from throughlight.trace.lights import choose_for_body, face_point, light, out_of_sight, toward
from throughlight.trace.walk import NO_LEG

_AIR = 1.0


@inlined
def index_of(stage, body):
    """Return the refractive index that rules inside a body, or in the open for −1."""
    return _AIR if body < 0 else stage.media[stage.shapes[body]["medium"]]["n"]


@inlined
def skin_between(stage, here, there):
    """Return where in `curves` the skin of a boundary begins that is met inside `here`, `there` beyond; −1: open."""
    i = 0 if here < 0 else 1 + stage.shapes[here]["medium"]
    t = 0 if there < 0 else 1 + stage.shapes[there]["medium"]
    return stage.skins[i, t]


@inlined
def _direct(stage, body, passing, point, true, frame, wi, beta, leg, indices, alpha, skin, u, book, cell, route):
    """Write down what one head sends off a rough boundary that is met in air, or through one that leads to air."""
    tangent, bitangent, normal = frame
    index, probability = choose_for_body(stage, body, u[0])
    head = stage.heads[index]
    if out_of_sight(head, point, normal, passing):
        return
    y, face = face_point(head, u[1], u[2])
    direction, distance, cosine = toward(point, y, face)
    wo = to_local(tangent, bitangent, normal, direction)
    if cosine <= 0.0 or passing == (wo[2] > 0.0) or passing == (dot(direction, true) > 0.0):
        return
    value, by_boundary = boundary.evaluate_with_pdf(wi, wo, indices[0], indices[1], alpha, stage.curves, skin)
    if value <= 0.0:
        return
    way = clear_way(stage, point, direction, distance)
    if largest(way) <= 0.0:
        return
    geometry = cosine / (distance * distance)
    both = probability / head["area"] + by_boundary * geometry
    share = 1.0 / both
    if leg[0] >= 0:
        share = leg[4] / (leg[4] * both + density_of_leg(stage, leg, index, y))
    sent = multiply(way, light(stage, head, cosine, negate(direction)))
    deposit(book, cell, route, index, multiply(beta, scale(sent, value * geometry * share)))


@inlined
def cross(stage, within, met, point, direction, beta, leg, u, v, book, cell, route):
    """Reflect at or pass through the boundary of a body.

    Parameters
    ----------
    within
        The mask before the boundary.
    met
        (shape, smooth normal, true normal, front) as from `intersect.meet`.
    u, v
        Three uniform numbers each, for the heads and for the boundary.

    Returns
    -------
    direction, beta, density
        How the path goes on; the density is 0 when the direction was determined.
    within
        The mask there.
    leg
        The leg that now leads into the open, or none.
    """
    body, normal, true, front = met
    beyond = crossed(within, body, front)
    here, there = innermost(within), innermost(beyond)
    indices = (index_of(stage, here), index_of(stage, there))
    alpha = stage.media[stage.shapes[body]["medium"]]["alpha"]
    skin = skin_between(stage, here, there)
    tangent, bitangent = basis(normal)
    wi = to_local(tangent, bitangent, normal, negate(direction))
    open_beyond = there < 0
    if alpha > 0.0 and stage.heads.shape[0] > 0 and (here < 0 or open_beyond):
        frame = (tangent, bitangent, normal)
        _direct(stage, body, open_beyond, point, true, frame, wi, beta, leg, indices, alpha, skin, u, book, cell, route)
    wo, weight, density, transmitted = boundary.sample(
        wi, indices[0], indices[1], alpha, stage.curves, skin, v[0], v[1], v[2]
    )
    new = to_world(tangent, bitangent, normal, wo)
    side = dot(new, true)
    strayed = transmitted == (side > 0.0)
    if strayed:
        # The smooth normal leads to the wrong side of the facet: turn a determined ray back, give up a drawn one.
        new = along(new, true, -2.0 * side)
        if density > 0.0:
            weight = 0.0
    if strayed or not (open_beyond and transmitted):
        leg = NO_LEG
    elif density <= 0.0 and leg[0] >= 0:
        through = 1.0 - fresnel.dielectric(-dot(direction, normal), indices[0], _AIR)
        leg = (leg[0], leg[1], leg[2], leg[3], leg[4] * through)
    return new, scale(beta, weight), density, beyond if transmitted else within, leg
