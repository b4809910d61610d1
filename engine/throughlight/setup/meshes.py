"""Mesh files of a subject: found beside the setup file, of a kind that can be read, whole, and of a size to handle."""

from __future__ import annotations

import math
from functools import lru_cache
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from throughlight.setup.units import found, misfit, refusal

KINDS = (".stl", ".obj", ".ply", ".glb")
MOST_BYTES = 500_000_000
MOST_TRIANGLES = 5_000_000
_LARGEST = 100.0
"""m; a subject larger than this has a wrong unit."""


class Triangles(NamedTuple):
    """A mesh: (n, 3) vertices in the file's units, (m, 3) corners as indices, and whether it closes."""

    vertices: NDArray[np.float64]
    faces: NDArray[np.int64]
    watertight: bool


def locate(value: Any, folder: Path) -> Path:
    """Return the path of a mesh file named in a setup file of `folder`.

    Raises
    ------
    PydanticCustomError
        When it is no file that can be read, has another ending, or is too big.
    """
    if not isinstance(value, str) or not value or len(value) > 1000 or not value.isprintable():
        raise misfit(value, "the name of an STL, OBJ, PLY or GLB file would fit")
    path = folder / value
    if path.suffix.lower() not in KINDS:
        raise misfit(value, f"a file that ends in {', '.join(KINDS)} would fit")
    try:
        size = path.stat().st_size if path.is_file() else -1
    except OSError as trouble:
        raise misfit(value, f"it cannot be read ({trouble.strerror}); a file would fit") from None
    if size < 0:
        raise misfit(value, f'no such file stands in {found(str(folder.absolute()))}; a file beside the setup file would fit')
    if size > MOST_BYTES:
        raise misfit(value, f"it has {size / 1e6:.0f} MB; a file of up to {MOST_BYTES / 1e6:.0f} MB would fit")
    return path


def load_triangles(path: Path) -> Triangles:
    """Return the triangles of a mesh file (cached by path, size and time).

    Raises
    ------
    PydanticCustomError
        When the file is broken, empty or has too many triangles.
    """
    state = path.stat()
    return _load(path, state.st_size, state.st_mtime_ns)


@lru_cache(maxsize=2)
def _load(path: Path, size: int, changed: int) -> Triangles:
    import trimesh

    try:
        mesh: Any = trimesh.load_mesh(path, process=False)
        if hasattr(mesh, "to_mesh"):
            mesh = mesh.to_mesh()
        mesh.merge_vertices(merge_tex=True, merge_norm=True)
        vertices = np.array(mesh.vertices, np.float64, order="C")
        faces = np.array(mesh.faces, np.int64, order="C")
    except Exception as trouble:  # a broken file breaks a reader in any way there is
        reason = " ".join(str(trouble).split())[:80]
        raise misfit(path.name, f"the mesh cannot be read ({reason}); a whole mesh file would fit") from None
    if vertices.ndim != 2 or faces.ndim != 2 or len(faces) == 0:
        raise misfit(path.name, "it holds no triangles; a mesh with triangles would fit")
    if len(faces) > MOST_TRIANGLES:
        raise misfit(path.name, f"it has {len(faces)} triangles; up to {MOST_TRIANGLES} would fit")
    if not np.isfinite(vertices).all() or faces.min() < 0 or faces.max() >= len(vertices):
        raise misfit(path.name, "its numbers are broken (not finite, or corners that do not exist); a whole mesh would fit")
    return Triangles(vertices, faces, bool(mesh.is_watertight and mesh.is_winding_consistent))


def inspect(path: Path, metres: float, *, needs_inside: bool) -> None:
    """Check that a mesh can be used.

    Parameters
    ----------
    path
        The mesh file.
    metres
        Size of one of its units, m.
    needs_inside
        Whether light enters it, so that it must close.

    Raises
    ------
    PydanticCustomError
        When it cannot.
    """
    triangles = load_triangles(path)
    extent = float(np.ptp(triangles.vertices, axis=0).max()) * metres
    if not 0.0 < extent <= _LARGEST or not math.isfinite(extent):
        raise refusal(f"the mesh is {extent:g} m long with this unit and scale; up to {_LARGEST:g} m would fit")
    if needs_inside and not triangles.watertight:
        raise refusal(
            f"the mesh {found(path.name)} is not watertight, and a translucent material needs an inside; "
            "a closed mesh, or a surface instead of a material, would fit"
        )


def contains(triangles: Triangles, point: NDArray[np.float64]) -> bool:
    """Return whether a closed mesh surrounds a point (in the file's units), by the solid angle it fills round it.

    The winding number is the sum of the triangles' solid angles over 4π (van Oosterom and Strackee 1983, eq. 8).
    """
    corners = triangles.vertices[triangles.faces] - point
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    la, lb, lc = (np.linalg.norm(one, axis=1) for one in (a, b, c))
    volume = np.einsum("ij,ij->i", a, np.cross(b, c))
    below = la * lb * lc + (a * b).sum(1) * lc + (b * c).sum(1) * la + (c * a).sum(1) * lb
    return abs(float(np.arctan2(volume, below).sum())) / (2.0 * math.pi) > 0.5
