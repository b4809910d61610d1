"""From a checked description to the flat tables that a trace reads."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from throughlight.photometry.colour import temperature_bands
from throughlight.setup import (
    Card,
    Disc,
    Material,
    Mesh,
    Mistake,
    Polygon,
    Rectangle,
    Setup,
    SetupError,
    Slab,
    Sphere,
)
from throughlight.stage.frames import Array, between, facing
from throughlight.stage.heads import add_head
from throughlight.stage.lens import lens_row
from throughlight.stage.rows import Rows, set_bounds, table
from throughlight.trace.lights import shares_of
from throughlight.trace.tables import (
    HEAD,
    LENS,
    MEDIUM,
    PART,
    SHAPE,
    Region,
    ShapeKind,
    Stage,
    SurfaceKind,
    plain_tables,
)


class Cast(NamedTuple):
    """The names behind the numbers: one for each head and one for each part of the set."""

    heads: tuple[str, ...]
    parts: tuple[str, ...]


def _add_card(rows: Rows, card: Card) -> None:
    front = rows.face(f"{card.name}, {card.front.name} face", Region.OTHER, card.front)
    rows.face(f"{card.name}, {card.back.name} face", Region.OTHER, card.back)
    sizes = (card.width / 2.0, card.height / 2.0, 0.0)
    rows.shape(ShapeKind.RECTANGLE, card.at, facing(card.at, card.aim, card.roll), sizes, part=front)


def _medium(rows: Rows, material: Material) -> int:
    row: dict[str, Any] = {"g": material.g, "n": material.n, "alpha": material.roughness if material.n != 1.0 else 0.0}
    for band, scatter, absorb in zip(("red", "green", "blue"), material.scattering, material.absorption, strict=True):
        row[f"scatter_{band}"], row[f"absorb_{band}"] = scatter, absorb
    rows.media.append(row)
    return len(rows.media) - 1


def _add_subject(rows: Rows, setup: Setup) -> None:
    subject = setup.subject
    if subject is None:
        return
    part = rows.face(subject.name, Region.SUBJECT, subject.surface)
    rows.face(subject.name, Region.SUBJECT, subject.surface)
    more = {"part": part}
    if subject.material is not None:
        rows.parts[part]["surface"] = rows.parts[part + 1]["surface"] = SurfaceKind.BOUNDARY
        more["medium"] = _medium(rows, subject.material)
    aim = setup.camera.at if subject.aim is None else subject.aim
    frame = facing(subject.at, aim, subject.turn)
    shape = subject.shape
    if isinstance(shape, Sphere):
        rows.shape(ShapeKind.SPHERE, subject.at, frame, (shape.diameter / 2.0, 0.0, 0.0), **more)
    elif isinstance(shape, Slab) and isinstance(shape.outline, Disc):
        sizes = (shape.outline.diameter / 2.0, 0.0, shape.thickness / 2.0)
        rows.shape(ShapeKind.ROUND, subject.at, frame, sizes, **more)
    elif isinstance(shape, Slab) and isinstance(shape.outline, Rectangle):
        sizes = (shape.outline.width / 2.0, shape.outline.height / 2.0, shape.thickness / 2.0)
        rows.shape(ShapeKind.BOX, subject.at, frame, sizes, **more)
    else:
        vertices, faces = _mesh_of(shape)
        world = vertices @ frame.T + np.asarray(subject.at)
        rows.mesh_rows.append(rows.shape(ShapeKind.MESH, subject.at, np.eye(3), (0.0, 0.0, 0.0), **more))
        rows.meshes.append((world, faces))
        set_bounds(rows.shapes[-1], world.min(axis=0) - 1e-6, world.max(axis=0) + 1e-6)


def _mesh_of(shape: Slab | Mesh | Sphere) -> tuple[Array, Any]:
    from throughlight.stage.meshes import extrude_polygon, load_mesh

    if isinstance(shape, Mesh):
        try:
            return load_mesh(shape.file, shape.unit * shape.scale)
        except (OSError, ValueError) as trouble:  # it was whole when the setup file was read
            words = f"{trouble}; a whole mesh file would fit"
            raise SetupError([Mistake(str(shape.file), 0, 0, "subject.shape.file", words)]) from None
    if isinstance(shape, Slab) and isinstance(shape.outline, Polygon):
        return extrude_polygon(shape.outline.points, shape.thickness)
    raise TypeError(f"no triangles for {shape!r}")


def build(setup: Setup, *, supports: bool = True) -> tuple[Stage, Cast]:
    """Lay a set out as the tables that a trace reads.

    Parameters
    ----------
    setup
        The checked description.
    supports
        Whether wires, rods and clamps stand in the set (a finished picture may leave them out).

    Returns
    -------
    tuple of Stage and Cast
        The tables, and the names of heads and parts.

    Raises
    ------
    SetupError
        When a mesh file cannot be read.
    """
    rows = Rows()
    for head in setup.heads:
        add_head(rows, head, setup.camera.balance)
    for card in (*setup.cards, *setup.flags):
        _add_card(rows, card)
    if setup.backdrop is not None:
        drop = setup.backdrop
        part = rows.face("backdrop", Region.BACKDROP, drop.surface)
        rows.face("backdrop, back", Region.BACKDROP, drop.surface)
        sizes = (drop.width / 2.0, drop.height / 2.0, 0.0)
        rows.shape(ShapeKind.RECTANGLE, drop.at, facing(drop.at, drop.aim), sizes, part=part)
    if setup.table is not None:
        top = setup.table
        part = rows.face("table", Region.OTHER, top.surface)
        rows.face("table, underside", Region.OTHER, top.surface)
        place = (top.at[0], top.height, top.at[2])
        frame = facing(place, (place[0], place[1] + 1.0, place[2]))
        rows.shape(ShapeKind.RECTANGLE, place, frame, (top.width / 2.0, top.depth / 2.0, 0.0), part=part)
    _add_subject(rows, setup)
    for support in setup.supports if supports else ():
        part = rows.face(support.name, Region.SUPPORT, support.surface)
        rows.face(f"{support.name}, inside", Region.SUPPORT, support.surface)
        middle, frame, size = between(support.start, support.end)
        rows.shape(ShapeKind.TUBE, middle, frame, (support.diameter / 2.0, 0.0, size / 2.0), part=part)
    return _freeze(rows, setup), Cast(tuple(head.name for head in setup.heads), tuple(rows.names))


def _freeze(rows: Rows, setup: Setup) -> Stage:
    """Turn the collected records into the tables."""
    triangles, boxes, links = np.zeros((1, 9)), np.zeros((1, 12), np.float32), np.zeros((1, 4), np.int32)
    if rows.meshes:
        from throughlight.stage.meshes import mesh_tables

        triangles, boxes, links, _, pointers = mesh_tables(rows.meshes)
        for row, pointer in zip(rows.mesh_rows, pointers, strict=True):
            rows.shapes[row] |= dict(
                zip(("first_triangle", "triangles", "first_node", "first_normal"), pointer, strict=True)
            )
    if not rows.parts:
        rows.face("nothing", Region.OTHER, None)
    room = np.zeros(3)
    if setup.ambient is not None:
        bands = temperature_bands(setup.ambient.temperature, setup.camera.balance)
        room = np.multiply(bands, setup.ambient.illuminance / np.pi * setup.camera.shutter)
    shapes, heads = table(rows.shapes, SHAPE), table(rows.heads, HEAD)
    return Stage(
        shapes=shapes,
        parts=table(rows.parts, PART),
        media=table(rows.media, MEDIUM),
        heads=heads,
        lens=table([lens_row(setup)], LENS),
        triangles=np.array(triangles, np.float64, order="C"),
        boxes=np.array(boxes, np.float32, order="C"),
        links=np.array(links, np.int32, order="C"),
        room=np.array(room, np.float64),
        shares=shares_of(shapes, heads),
        **plain_tables(len(rows.media)),
    )
