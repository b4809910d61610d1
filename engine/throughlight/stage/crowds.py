"""Which bodies have other things inside them.

A body that stands alone is walked through quickly: its own skin is all that a path inside can meet. One that another
subject's piece or a support reaches into has to look for these too.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from throughlight.setup.meshes import Triangles, contains
from throughlight.stage.frames import Array
from throughlight.trace.tables import ShapeKind

_DEEP = 1e-3  # a support that reaches in less only touches
_ALONG = 33  # places along a support that are tried
_MOST_TRIANGLES = 200_000  # of a mesh whose inside is asked


def mark_crowded(shapes: list[dict[str, Any]], subject_rows: int, bodies: Sequence[tuple[int, Array, Any]]) -> None:
    """Set `crowded` of each body that other things reach into.

    Parameters
    ----------
    shapes
        Rows of the table of shapes, the subjects' pieces first.
    subject_rows
        How many of them are pieces of subjects.
    bodies
        Row, vertices in the world and faces of each mesh.
    """
    meshes = {row: (vertices, faces) for row, vertices, faces in bodies}
    for i, body in enumerate(shapes[:subject_rows]):
        if body["medium"] < 0:
            continue
        others = (other for j, other in enumerate(shapes[:subject_rows]) if j != i)
        pierced = any(_pierces(rod, body, meshes.get(i)) for rod in shapes[subject_rows:] if _is_rod(rod))
        body["crowded"] = int(pierced or any(_overlap(body, other) for other in others))


def _is_rod(shape: dict[str, Any]) -> bool:
    return bool(shape["kind"] == ShapeKind.TUBE and shape["head"] < 0)


def _overlap(a: dict[str, Any], b: dict[str, Any]) -> bool:
    return all(bool(a[f"lo_{x}"] <= b[f"hi_{x}"] and b[f"lo_{x}"] <= a[f"hi_{x}"]) for x in "xyz")


def _pierces(rod: dict[str, Any], body: dict[str, Any], mesh: tuple[Array, Any] | None) -> bool:
    """Return whether a place on a rod's axis lies deep inside a body."""
    if not _overlap(rod, body):
        return False
    middle = np.array([rod["ox"], rod["oy"], rod["oz"]])
    axis = np.array([rod["nx"], rod["ny"], rod["nz"]])
    places = middle + np.linspace(-1.0, 1.0, _ALONG)[:, None] * (rod["sc"] * axis)
    low = np.array([body[f"lo_{x}"] for x in "xyz"]) + _DEEP
    high = np.array([body[f"hi_{x}"] for x in "xyz"]) - _DEEP
    places = places[((places > low) & (places < high)).all(axis=1)]
    if mesh is None:
        return any(_in_exact(body, place) for place in places)
    vertices, faces = mesh
    return len(faces) <= _MOST_TRIANGLES and any(contains(Triangles(vertices, faces, True), place) for place in places)


def _in_exact(body: dict[str, Any], place: Array) -> bool:
    """Return whether a place lies deeper than a touch in a box, a round slab or a ball."""
    v = place - np.array([body["ox"], body["oy"], body["oz"]])
    x, y, z = (float(v @ np.array([body[f"{letter}{axis}"] for axis in "xyz"])) for letter in "tbn")
    if body["kind"] == ShapeKind.SPHERE:
        return float(np.linalg.norm(v)) < float(body["sa"]) - _DEEP
    if body["kind"] == ShapeKind.ROUND:
        return bool(np.hypot(x, y) < body["sa"] - _DEEP and abs(z) < body["sc"] - _DEEP)
    return bool(abs(x) < body["sa"] - _DEEP and abs(y) < body["sb"] - _DEEP and abs(z) < body["sc"] - _DEEP)
