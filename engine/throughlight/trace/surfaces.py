"""What a face does with light: the one list of its kinds, and the direct light on each.

Local frames have the face's normal as +z on the side of the incoming ray; `wi` points back along that ray.
"""

from __future__ import annotations

from throughlight.optics import cloth, gloss, matte, metal, mirror, sheet
from throughlight.optics.kernel import kernel
from throughlight.optics.vectors import dot, largest, multiply, negate, scale, to_local
from throughlight.trace import guide
from throughlight.trace.book import deposit
from throughlight.trace.intersect import clear_way
from throughlight.trace.lights import choose_head, face_point, light, toward
from throughlight.trace.maps import look_up
from throughlight.trace.tables import SurfaceKind

_CLOTH = int(SurfaceKind.CLOTH)
_MIRROR = int(SurfaceKind.MIRROR)
_METAL = int(SurfaceKind.METAL)
_GLOSS = int(SurfaceKind.GLOSS)
_SHEET = int(SurfaceKind.SHEET)


@kernel
def reflectance(part):
    """Return the face's reflectance by band."""
    return (part["red"], part["green"], part["blue"])


@kernel
def sheen(part):
    """Return the albedo of a cloth's fibres by band."""
    return (part["sheen_red"], part["sheen_green"], part["sheen_blue"])


@kernel
def is_black(part):
    """Return whether the face returns no light at all."""
    kind = part["surface"]
    if kind in (_METAL, _GLOSS, _SHEET) or part["map"] > 0:
        return False
    if kind == _CLOTH and largest(sheen(part)) > 0.0 and part["pile"] > 0.0:
        return False
    return largest(reflectance(part)) <= 0.0


@kernel
def is_determined(part):
    """Return whether all that the face does is mirroring."""
    return part["surface"] == _MIRROR or (part["surface"] == _METAL and part["alpha"] <= 0.0)


@kernel
def _index(part):
    """Return the complex index of a metal by band: (n, k)."""
    return (part["n_red"], part["n_green"], part["n_blue"]), (part["k_red"], part["k_green"], part["k_blue"])


@kernel
def albedo_at(stage, part, shape, point):
    """Return the reflectance by band at a place of the face: its own, or its pattern's."""
    if part["map"] > 0:
        return look_up(stage, part["map"], shape, point)
    return reflectance(part)


@kernel
def sample(stage, part, albedo, wi, u0, u1, u2):
    """Return a direction, its weight f·cos/pdf by band, its density, 1/sr, and whether it goes straight on.

    A density of 0 says that the direction was determined. `u0` chooses between ways, `u1` and `u2` the direction.
    """
    kind = part["surface"]
    if kind == _MIRROR:
        return mirror.sample(wi), albedo, 0.0, False
    if kind == _METAL:
        n, k = _index(part)
        wo, weight, density = metal.sample(wi, n, k, part["alpha"], stage.curves, part["lost"], u0, u1, u2)
        return wo, weight, density, False
    if kind == _GLOSS:
        wo, weight, density = gloss.sample(wi, albedo, part["n"], part["alpha"], stage.curves, part["lost"], u0, u1, u2)
        return wo, weight, density, False
    if kind == _SHEET:
        return sheet.sample(part, albedo, wi, u0, u1, u2)
    if kind == _CLOTH:
        wo = cloth.sample(wi, u1, u2, albedo, part["pile"], sheen(part))
        density = cloth.pdf(wi, wo, albedo, part["pile"], sheen(part))
        if density <= 0.0:
            return wo, (0.0, 0.0, 0.0), 0.0, False
        weight = scale(cloth.evaluate(wi, wo, albedo, part["pile"], sheen(part)), 1.0 / density)
        return wo, weight, density, False
    wo = matte.sample(wi, u1, u2)
    return wo, albedo, matte.pdf(wi, wo), False


@kernel
def evaluate(stage, part, albedo, wi, wo):
    """Return f·|cos wo| by band, without what is determined (mirrored, straight on)."""
    kind = part["surface"]
    if kind == _METAL:
        n, k = _index(part)
        return metal.evaluate(wi, wo, n, k, part["alpha"], stage.curves, part["lost"])
    if kind == _GLOSS:
        return gloss.evaluate(wi, wo, albedo, part["n"], part["alpha"], stage.curves, part["lost"])
    if kind == _SHEET:
        return sheet.evaluate(part, albedo, wi, wo)
    if kind == _CLOTH:
        return cloth.evaluate(wi, wo, albedo, part["pile"], sheen(part))
    return matte.evaluate(wi, wo, albedo)


@kernel
def pdf(stage, part, albedo, wi, wo):
    """Return the density with which `sample` gives wo, 1/sr."""
    kind = part["surface"]
    if kind == _METAL:
        n, k = _index(part)
        return metal.pdf(wi, wo, n, k, part["alpha"], stage.curves, part["lost"])
    if kind == _GLOSS:
        return gloss.pdf(wi, wo, albedo, part["n"], part["alpha"], stage.curves, part["lost"])
    if kind == _SHEET:
        return sheet.pdf(part, albedo, wi, wo)
    if kind == _CLOTH:
        return cloth.pdf(wi, wo, albedo, part["pile"], sheen(part))
    return matte.pdf(wi, wo)


@kernel
def direct(stage, part, albedo, point, frame, wi, beta, guided, u, book, cell, route):
    """Write down the light that one head, chosen at random, sends straight to an opaque face or a sheet.

    `u` are three uniform numbers: the head, and the point of its face. The balance heuristic shares the path with the
    face's own sampling, which may find the head by itself, and of which the part `guided` aims at bodies.
    """
    if is_determined(part):
        return
    tangent, bitangent, normal = frame
    index, probability = choose_head(stage, point, u[0])
    head = stage.heads[index]
    y, face = face_point(head, u[1], u[2])
    direction, distance, cosine = toward(point, y, face)
    if cosine <= 0.0 or (part["surface"] != _SHEET and dot(direction, normal) <= 0.0):
        return
    wo = to_local(tangent, bitangent, normal, direction)
    value = evaluate(stage, part, albedo, wi, wo)
    if largest(value) <= 0.0:
        return
    way = clear_way(stage, point, direction, distance)
    if largest(way) <= 0.0:
        return
    by_light = probability / head["area"] * distance * distance / cosine
    by_face = pdf(stage, part, albedo, wi, wo)
    if guided > 0.0:
        by_face = (1.0 - guided) * by_face + guided * guide.density(stage, point, direction)
    share = 1.0 / (by_light + by_face)
    sent = multiply(way, light(stage, head, cosine, negate(direction)))
    deposit(book, cell, route, index, multiply(beta, scale(multiply(value, sent), share)))
