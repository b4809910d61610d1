"""Whether two subjects are meant to be together: one within the matter of the other, or in its hollow.

A stone cast in amber, or an egg in a bowl, is no mistake; two bodies that cut into one another are. Places all over
either skin are tried against the inside of the other.
"""

from __future__ import annotations

import math

import numpy as np

from throughlight.setup.convex import frame
from throughlight.setup.faces import Disc, Rectangle
from throughlight.setup.meshes import load_triangles
from throughlight.setup.place import Vec3
from throughlight.setup.shapes import Mesh, Slab, Sphere
from throughlight.setup.subject import Subject
from throughlight.setup.subject_solids import Mask, insider, skin

_MANY = 1_000_000
"""Places times triangles that are tried against a mesh: as much as takes a moment."""


def together(one: Subject, other: Subject, camera: Vec3, touching: float) -> bool:
    """Return whether one subject is wholly inside the other's matter, or neither reaches into the other's at all.

    Parameters
    ----------
    one, other
        Two subjects whose convex bodies overlap.
    camera
        Where the camera stands.
    touching
        How deep a place may lie, m, and still only touch.
    """
    if _within(one, other, camera, 0.0).all() or _within(other, one, camera, 0.0).all():
        return True
    if _convex(one) and _convex(other):
        return False
    return not (_within(one, other, camera, touching).any() or _within(other, one, camera, touching).any())


def _within(one: Subject, other: Subject, camera: Vec3, deep: float) -> Mask:
    """Return which places on the skin of `one` lie deeper than `deep` in the other."""
    places = skin(one.shape)
    if isinstance(other.shape, Mesh):
        places = places[:: max(1, math.ceil(len(places) * len(load_triangles(other.shape.file).faces) / _MANY))]
    world = places @ frame(one.at, one.faces(camera), one.turn).T + np.asarray(one.at)
    local = (world - np.asarray(other.at)) @ frame(other.at, other.faces(camera), other.turn)
    return insider(other.shape)(local, deep)


def _convex(subject: Subject) -> bool:
    shape = subject.shape
    return isinstance(shape, Sphere) or (isinstance(shape, Slab) and isinstance(shape.outline, Disc | Rectangle))
