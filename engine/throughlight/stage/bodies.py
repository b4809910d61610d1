"""The bodies that a subject is made of, outermost first, in its own frame: x to its right, y up, z to its front.

Where bodies overlap the later one counts: a liquid reaches into the wall of its glass, which comes after it, and a
coat is the full shape, its core the same shape less the coat.
"""

from __future__ import annotations

from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from throughlight.setup import (
    Disc,
    Material,
    Mesh,
    Mistake,
    Rectangle,
    Revolve,
    SetupError,
    Slab,
    Sphere,
    Subject,
    Surface,
)
from throughlight.setup.coats import core_of_exact, core_of_outline, core_section
from throughlight.setup.islands import area_of
from throughlight.setup.meshes import upright
from throughlight.setup.sections import half, liquid, section
from throughlight.stage.edges import slab
from throughlight.stage.revolve import Body, revolved
from throughlight.trace.tables import ShapeKind

_STEPS = 36
"""Straight steps to the right angle of a disc's rounded edge."""

Role = Literal["body", "coat", "core", "fill", "vessel"]


class Piece(NamedTuple):
    """One body: an exact shape with its sizes, m, or a mesh with vertices, faces and perhaps corner normals.

    kind, sizes: as of `throughlight.trace.tables`. vertices: (n, 3), m. faces: (m, 3), anticlockwise seen from
    outside. normals: (m, 3, 3) unit normals of each face's corners; None: flat. material or surface: what it is made
    of. role: its part in the subject.
    """

    kind: ShapeKind
    sizes: tuple[float, float, float]
    vertices: NDArray[np.float64] | None
    faces: NDArray[np.int64] | None
    normals: NDArray[np.float64] | None
    material: Material | None
    surface: Surface | None
    role: Role


def pieces_of(subject: Subject) -> tuple[Piece, ...]:
    """Return the bodies of a subject, outermost first: liquid, coat, and the body itself last.

    Raises
    ------
    SetupError
        When a mesh file, which was whole when the setup file was read, cannot be read any more.
    """
    shape, pieces = subject.shape, []
    if subject.fill is not None:
        if not isinstance(shape, Revolve):
            raise TypeError("only a vessel holds a liquid")
        wet = revolved(half(liquid(shape.form, subject.fill.level)))
        pieces.append(_mesh(wet, subject.fill.material, None, "fill"))
    role: Role = "vessel" if isinstance(shape, Revolve) and shape.wall is not None else "body"
    if subject.coat is not None:
        pieces.append(_piece(shape, subject.coat.material, None, "coat"))
        pieces.append(_core(subject, subject.coat.thickness))
    else:
        pieces.append(_piece(shape, subject.material, subject.surface, role))
    return tuple(pieces)


def _mesh(body: Body, material: Material | None, surface: Surface | None, role: Role) -> Piece:
    none = (0.0, 0.0, 0.0)
    return Piece(ShapeKind.MESH, none, body.vertices, body.faces, body.normals, material, surface, role)


def _piece(
    shape: Slab | Sphere | Revolve | Mesh, material: Material | None, surface: Surface | None, role: Role
) -> Piece:
    exact = _exact(shape)
    if exact is not None:
        return Piece(*exact, None, None, None, material, surface, role)
    return _mesh(_triangles(shape), material, surface, role)


def _exact(shape: Slab | Sphere | Revolve | Mesh) -> tuple[ShapeKind, tuple[float, float, float]] | None:
    """Return kind and sizes of a shape that needs no triangles."""
    if isinstance(shape, Sphere):
        return ShapeKind.SPHERE, (shape.diameter / 2.0, 0.0, 0.0)
    if isinstance(shape, Slab) and shape.edge == 0.0:
        outline, deep = shape.outline, shape.thickness / 2.0
        if isinstance(outline, Disc):
            return ShapeKind.ROUND, (outline.diameter / 2.0, 0.0, deep)
        if isinstance(outline, Rectangle):
            return ShapeKind.BOX, (outline.width / 2.0, outline.height / 2.0, deep)
    return None


def _triangles(shape: Slab | Sphere | Revolve | Mesh) -> Body:
    if isinstance(shape, Revolve):
        return revolved(half(section(shape.form)))
    if isinstance(shape, Mesh):
        return _from_file(shape)
    assert isinstance(shape, Slab)  # a ball is exact
    outline = shape.outline
    if isinstance(outline, Disc):
        return _round_slab(outline.diameter / 2.0, shape.thickness, shape.edge)
    if isinstance(outline, Rectangle):
        import shapely

        x, y = outline.width / 2.0, outline.height / 2.0
        return slab(shapely.box(-x, -y, x, y), shape.thickness, shape.edge)
    return slab(area_of(outline.islands), shape.thickness, shape.edge)


def _round_slab(radius: float, thickness: float, edge: float) -> Body:
    """Return a disc with rounded edges: its half section turned about y, then laid so that y is its front."""
    import shapely

    deep = thickness / 2.0
    angle = 0.5 * np.pi * np.linspace(0.0, 1.0, _STEPS + 1)
    upper = np.column_stack([radius - edge + edge * np.cos(angle), deep - edge + edge * np.sin(angle)])
    lower = upper[::-1] * [1.0, -1.0]
    rim = np.concatenate([[[0.0, -deep]], lower, upper, [[0.0, deep]]])
    turned = revolved(half(shapely.Polygon(rim)))
    assert turned.normals is not None

    def laid(places: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.stack([places[..., 0], -places[..., 2], places[..., 1]], axis=-1)

    return Body(laid(turned.vertices), turned.faces, laid(turned.normals))


def _from_file(shape: Mesh) -> Body:
    from throughlight.stage.meshes import load_mesh

    try:
        vertices, faces = load_mesh(shape.file, shape.metres)
    except (OSError, ValueError) as trouble:
        words = f"{trouble}; a whole mesh file would fit"
        raise SetupError([Mistake(str(shape.file), 0, 0, "subject.shape.file", words)]) from None
    return Body(upright(vertices, shape.up), faces, None)


def _core(subject: Subject, thickness: float) -> Piece:
    """Return what a coat leaves of a subject's shape."""
    shape, made_of = subject.shape, (subject.material, subject.surface)
    if isinstance(shape, Revolve):
        return _mesh(revolved(half(core_section(shape, thickness))), *made_of, "core")
    if isinstance(shape, Slab) and not isinstance(shape.outline, Disc | Rectangle):
        return _mesh(slab(*core_of_outline(shape, thickness)), *made_of, "core")
    if isinstance(shape, Mesh):
        raise TypeError("a mesh has no coat")
    return _piece(core_of_exact(shape, thickness), *made_of, "core")
