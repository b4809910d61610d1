"""From a subject to its records: the bodies it is made of, their matter and their finish."""

from __future__ import annotations

from typing import Any

import numpy as np

from throughlight.setup import Material, Mistake, SetupError, Subject, Vec3
from throughlight.stage.bodies import Piece, pieces_of
from throughlight.stage.frames import facing
from throughlight.stage.rows import Rows, set_bounds
from throughlight.trace.bodies import MOST_BODIES
from throughlight.trace.tables import Region, ShapeKind, SurfaceKind

_CALLED = {"body": "{}", "core": "{}", "coat": "{}, coat", "fill": "{}, liquid", "vessel": "{}"}
_ROUNDED = 1e-6  # m, by which the box round a mesh is wider than its corners


def add_subject(rows: Rows, subject: Subject, camera: Vec3) -> None:
    """Add the bodies of a subject that the camera at `camera` looks at.

    Raises
    ------
    SetupError
        When a mesh or picture cannot be read any more, or there are more bodies than a path can keep apart.
    """
    region = Region.SUBJECT if subject.counts else Region.OTHER
    frame = facing(subject.at, subject.faces(camera), subject.turn)
    for piece in pieces_of(subject):
        _add_piece(rows, subject, piece, region, frame)


def _add_piece(rows: Rows, subject: Subject, piece: Piece, region: Region, frame: Any) -> None:  # noqa: ANN401
    if len(rows.shapes) >= MOST_BODIES:
        words = f"the subjects have more than {MOST_BODIES} bodies in all; fewer would fit"
        raise SetupError([Mistake("the set", 0, 0, "subject", words)])
    name = _CALLED[piece.role].format(subject.name)
    part = rows.face(name, region, piece.surface)
    rows.face(name, region, piece.surface)
    more = {"part": part}
    if piece.material is not None:
        rows.parts[part]["surface"] = rows.parts[part + 1]["surface"] = SurfaceKind.BOUNDARY
        more["medium"] = _add_medium(rows, piece.material)
    if piece.kind != ShapeKind.MESH:
        rows.shape(piece.kind, subject.at, frame, piece.sizes, **more)
        return
    assert piece.vertices is not None
    world = piece.vertices @ frame.T + np.asarray(subject.at)
    rows.mesh_rows.append(rows.shape(ShapeKind.MESH, subject.at, frame, (0.0, 0.0, 0.0), **more))
    turned = None if piece.normals is None else piece.normals @ frame.T
    rows.meshes.append((world, piece.faces, turned))
    set_bounds(rows.shapes[-1], world.min(axis=0) - _ROUNDED, world.max(axis=0) + _ROUNDED)


def _add_medium(rows: Rows, material: Material) -> int:
    row: dict[str, Any] = {"g": material.g, "n": material.n, "alpha": material.roughness if material.n != 1.0 else 0.0}
    for band, scatter, absorb in zip(("red", "green", "blue"), material.scattering, material.absorption, strict=True):
        row[f"scatter_{band}"], row[f"absorb_{band}"] = scatter, absorb
    rows.media.append(row)
    return len(rows.media) - 1
