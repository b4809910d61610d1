"""From a checked description to the flat tables that a trace reads."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from throughlight.photometry.colour import temperature_bands
from throughlight.setup import (
    Card,
    Disc,
    Head,
    Material,
    Mesh,
    Mistake,
    Polygon,
    Rectangle,
    Setup,
    SetupError,
    Slab,
    Sphere,
    Surface,
)
from throughlight.stage.bounds import bounds_of
from throughlight.stage.frames import Array, between, facing
from throughlight.stage.output import head_output_of
from throughlight.trace.lights import shares_of
from throughlight.trace.tables import HEAD, LENS, MEDIUM, PART, SHAPE, Region, ShapeKind, Stage, SurfaceKind

Sizes = tuple[float, float, float]


class Cast(NamedTuple):
    """The names behind the numbers: one for each head and one for each part of the set."""

    heads: tuple[str, ...]
    parts: tuple[str, ...]


@dataclass
class _Rows:
    """Records in the making."""

    shapes: list[dict[str, Any]] = field(default_factory=list)
    parts: list[dict[str, Any]] = field(default_factory=list)
    names: list[str] = field(default_factory=list)
    media: list[dict[str, Any]] = field(default_factory=list)
    heads: list[dict[str, Any]] = field(default_factory=list)
    meshes: list[tuple[Array, Any]] = field(default_factory=list)
    mesh_rows: list[int] = field(default_factory=list)

    def face(self, name: str, region: Region, surface: Surface | None) -> int:
        """Add one face and return its row; no surface means a face that returns no light."""
        row: dict[str, Any] = {"region": region, "surface": SurfaceKind.MATTE}
        if surface is not None:
            row["red"], row["green"], row["blue"] = surface.reflectance
            if surface.kind == "mirror":
                row["surface"] = SurfaceKind.MIRROR
            if surface.kind == "cloth":
                row["surface"] = SurfaceKind.CLOTH
                row["pile"] = surface.pile
                row["sheen_red"], row["sheen_green"], row["sheen_blue"] = surface.sheen
        self.parts.append(row)
        self.names.append(name)
        return len(self.parts) - 1

    def shape(self, kind: ShapeKind, origin: ArrayLike, frame: Array, sizes: Sizes, **more: int) -> int:
        """Add one shape and return its row."""
        row: dict[str, Any] = {"kind": kind, "medium": -1, "head": -1, **more, **_frame_fields(origin, frame)}
        row["sa"], row["sb"], row["sc"] = sizes
        low, high = bounds_of(kind, np.asarray(origin, float), frame, sizes)
        _set_bounds(row, low, high)
        self.shapes.append(row)
        return len(self.shapes) - 1


def _set_bounds(row: dict[str, Any], low: Array, high: Array) -> None:
    for axis, a, b in zip("xyz", low, high, strict=True):
        row[f"lo_{axis}"], row[f"hi_{axis}"] = float(a), float(b)


def _frame_fields(origin: ArrayLike, frame: Array) -> dict[str, float]:
    fields = {f"o{axis}": float(value) for axis, value in zip("xyz", np.asarray(origin), strict=True)}
    for letter, column in zip("tbn", frame.T, strict=True):
        fields |= {f"{letter}{axis}": float(value) for axis, value in zip("xyz", column, strict=True)}
    return fields


def _table(rows: list[dict[str, Any]], dtype: np.dtype[np.void]) -> NDArray[np.void]:
    table = np.zeros(len(rows), dtype)
    for i, row in enumerate(rows):
        for key, value in row.items():
            table[i][key] = value
    return table


def _add_head(rows: _Rows, head: Head, balance: float) -> None:
    output = head_output_of(head)
    frame = facing(head.at, head.aim, head.roll)
    face = head.face
    if isinstance(face, Disc):
        kind, sizes = ShapeKind.DISC, (face.diameter / 2.0, 0.0, 0.0)
        area = np.pi * sizes[0] ** 2
    elif isinstance(face, Rectangle):
        kind, sizes = ShapeKind.RECTANGLE, (face.width / 2.0, face.height / 2.0, 0.0)
        area = face.width * face.height
    else:
        kind, sizes = ShapeKind.TUBE, (face.diameter / 2.0, 0.0, face.length / 2.0)
        area = np.pi * face.diameter * face.length
        # A tube lies along the frame's x axis, as it is seen from the place it is aimed at.
        frame = np.stack([frame[:, 1], frame[:, 2], frame[:, 0]], axis=1)
    index = len(rows.heads)
    part = rows.face(f"{head.name}, face", Region.OTHER, None)
    rows.face(f"{head.name}, back", Region.OTHER, None)
    shape = rows.shape(kind, head.at, frame, sizes, part=part, head=index)
    light = np.multiply(temperature_bands(head.temperature, balance), output.axial_luminance)
    rows.heads.append(
        {
            "kind": kind,
            "shape": shape,
            **_frame_fields(head.at, frame),
            **dict(zip(("sa", "sb", "sc"), sizes, strict=True)),
            **dict(zip(("red", "green", "blue"), light, strict=True)),
            "area": area,
            "exponent": output.exponent,
            "intensity": output.axial_intensity,
        }
    )


def _add_card(rows: _Rows, card: Card) -> None:
    front = rows.face(f"{card.name}, {card.front.name} face", Region.OTHER, card.front)
    rows.face(f"{card.name}, {card.back.name} face", Region.OTHER, card.back)
    sizes = (card.width / 2.0, card.height / 2.0, 0.0)
    rows.shape(ShapeKind.RECTANGLE, card.at, facing(card.at, card.aim, card.roll), sizes, part=front)


def _medium(rows: _Rows, material: Material) -> int:
    row: dict[str, Any] = {"g": material.g, "n": material.n, "alpha": material.roughness if material.n != 1.0 else 0.0}
    for band, scatter, absorb in zip(("red", "green", "blue"), material.scattering, material.absorption, strict=True):
        row[f"scatter_{band}"], row[f"absorb_{band}"] = scatter, absorb
    rows.media.append(row)
    return len(rows.media) - 1


def _add_subject(rows: _Rows, setup: Setup) -> None:
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
        _set_bounds(rows.shapes[-1], world.min(axis=0) - 1e-6, world.max(axis=0) + 1e-6)


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


def _lens_row(setup: Setup) -> dict[str, Any]:
    camera = setup.camera
    frame = facing(camera.at, camera.aim, camera.roll)
    # The frame of a lens has z backwards, out of the camera's back, and x to the camera's right.
    backward = np.stack([-frame[:, 0], frame[:, 1], -frame[:, 2]], axis=1)
    magnification = camera.focal / (camera.focus - camera.focal)
    return {
        **_frame_fields(camera.at, backward),
        "focus": camera.focus,
        "half_width": camera.sensor_width / 2.0 / magnification,
        "half_height": camera.sensor_height / 2.0 / magnification,
        "pupil": camera.focal / camera.f_number / 2.0,
        "blades": camera.blades,
        "front": camera.front_element / 2.0,
        "hood": camera.hood,
    }


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
    rows = _Rows()
    for head in setup.heads:
        _add_head(rows, head, setup.camera.balance)
    for card in (*setup.cards, *setup.flags):
        _add_card(rows, card)
    if setup.backdrop is not None:
        drop = setup.backdrop
        part = rows.face("backdrop", Region.BACKDROP, drop.surface)
        rows.face("backdrop, back", Region.BACKDROP, drop.surface)
        sizes = (drop.width / 2.0, drop.height / 2.0, 0.0)
        rows.shape(ShapeKind.RECTANGLE, drop.at, facing(drop.at, drop.aim), sizes, part=part)
    if setup.table is not None:
        table = setup.table
        part = rows.face("table", Region.OTHER, table.surface)
        rows.face("table, underside", Region.OTHER, table.surface)
        place = (table.at[0], table.height, table.at[2])
        frame = facing(place, (place[0], place[1] + 1.0, place[2]))
        rows.shape(ShapeKind.RECTANGLE, place, frame, (table.width / 2.0, table.depth / 2.0, 0.0), part=part)
    _add_subject(rows, setup)
    for support in setup.supports if supports else ():
        part = rows.face(support.name, Region.SUPPORT, support.surface)
        rows.face(f"{support.name}, inside", Region.SUPPORT, support.surface)
        middle, frame, size = between(support.start, support.end)
        rows.shape(ShapeKind.TUBE, middle, frame, (support.diameter / 2.0, 0.0, size / 2.0), part=part)
    return _freeze(rows, setup), Cast(tuple(head.name for head in setup.heads), tuple(rows.names))


def _freeze(rows: _Rows, setup: Setup) -> Stage:
    """Turn the collected records into the tables."""
    triangles, boxes, links = np.zeros((1, 9)), np.zeros((1, 12), np.float32), np.zeros((1, 4), np.int32)
    if rows.meshes:
        from throughlight.stage.meshes import mesh_tables

        triangles, boxes, links, pointers = mesh_tables(rows.meshes)
        for row, pointer in zip(rows.mesh_rows, pointers, strict=True):
            rows.shapes[row] |= dict(zip(("first_triangle", "triangles", "first_node"), pointer, strict=True))
    if not rows.parts:
        rows.face("nothing", Region.OTHER, None)
    room = np.zeros(3)
    if setup.ambient is not None:
        bands = temperature_bands(setup.ambient.temperature, setup.camera.balance)
        room = np.multiply(bands, setup.ambient.illuminance / np.pi * setup.camera.shutter)
    shapes, heads = _table(rows.shapes, SHAPE), _table(rows.heads, HEAD)
    return Stage(
        shapes=shapes,
        parts=_table(rows.parts, PART),
        media=_table(rows.media, MEDIUM),
        heads=heads,
        lens=_table([_lens_row(setup)], LENS),
        triangles=np.array(triangles, np.float64, order="C"),
        boxes=np.array(boxes, np.float32, order="C"),
        links=np.array(links, np.int32, order="C"),
        room=np.array(room, np.float64),
        shares=shares_of(shapes, heads),
    )
