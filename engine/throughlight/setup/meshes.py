"""Files that a subject is made of: found beside the setup file; mesh files that are whole and of a size to handle."""

from __future__ import annotations

import math
import re
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from throughlight.setup.kind import found, misfit, refusal
from throughlight.setup.mesh_files import closes, read_mesh

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


def locate(
    value: object,
    folder: Path,
    kinds: tuple[str, ...] = KINDS,
    most: int = MOST_BYTES,
    what: str = "an STL, OBJ, PLY or GLB file",
) -> Path:
    """Return the path of a file named in a setup file of `folder`: a mesh, or another of the kinds that are told.

    Raises
    ------
    PydanticCustomError
        When it is no file that can be read, has another ending, or is too big.
    """
    if not isinstance(value, str) or not value or len(value) > 1000 or not value.isprintable():
        raise misfit(value, f"the name of {what} would fit")
    path = folder / value
    if path.suffix.lower() not in kinds:
        raise misfit(value, f"a file that ends in {', '.join(kinds)} would fit")
    try:
        size = path.stat().st_size if path.is_file() else -1
    except OSError as trouble:
        raise misfit(value, f"it cannot be read ({trouble.strerror}); a file would fit") from None
    if size < 0:
        raise misfit(
            value,
            f"no such file stands in {found(str(folder.absolute()))}; a file beside the setup file would fit",
        )
    if size > most:
        raise misfit(value, f"it has {size / 1e6:.0f} MB; a file of up to {most / 1e6:.0f} MB would fit")
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
    promised = _promised_triangles(path, size)
    if promised > MOST_TRIANGLES:
        raise misfit(path.name, f"it has {promised} triangles; up to {MOST_TRIANGLES} would fit")
    try:
        vertices, faces = read_mesh(path)
    except Exception as trouble:  # a broken file breaks a reader in any way there is
        reason = " ".join(str(trouble).split())[:80]
        raise misfit(path.name, f"the mesh cannot be read ({reason}); a whole mesh file would fit") from None
    if len(faces) == 0:
        raise misfit(path.name, "it holds no triangles; a mesh with triangles would fit")
    if len(faces) > MOST_TRIANGLES:
        raise misfit(path.name, f"it has {len(faces)} triangles; up to {MOST_TRIANGLES} would fit")
    if not np.isfinite(vertices).all() or faces.min() < 0 or faces.max() >= len(vertices):
        raise misfit(path.name, "its corners are not finite or do not exist; a whole mesh file would fit")
    return Triangles(vertices, faces, closes(faces))


def _promised_triangles(path: Path, size: int) -> int:
    """Return how many triangles the head of an STL or PLY file promises, before anything of that size is read."""
    with path.open("rb") as stream:
        head = stream.read(4096)
    if path.suffix.lower() == ".stl" and len(head) >= 84 and not head.lstrip().startswith(b"solid"):
        return (size - 84) // 50
    promised = re.search(rb"element face (\d{1,18})", head) if path.suffix.lower() == ".ply" else None
    return 0 if promised is None else int(promised.group(1))


def inspect(path: Path, metres: float) -> None:
    """Check that a mesh can be read and has a size that a subject can have, one of its units being `metres` m.

    Raises
    ------
    PydanticCustomError
        When it cannot be used.
    """
    extent = float(np.ptp(load_triangles(path).vertices, axis=0).max()) * metres
    if not 0.0 < extent <= _LARGEST:
        raise refusal(f"the mesh is {extent:g} m long with this unit and scale; up to {_LARGEST:g} m would fit")


def upright(places: NDArray[np.float64], up: str) -> NDArray[np.float64]:
    """Return places (n, 3) of a file whose axis `up` ("y" or "z") points up, with y up and the same handedness."""
    return places if up == "y" else np.column_stack([places[:, 0], places[:, 2], -places[:, 1]])


def needs_inside(path: Path) -> None:
    """Check that a mesh closes, so that light can be inside it.

    Raises
    ------
    PydanticCustomError
        When it is not watertight.
    """
    if not load_triangles(path).watertight:
        raise refusal(
            f"the mesh {found(path.name)} is not watertight, and a translucent material needs an inside; "
            "a closed mesh, or a surface instead of the material, would fit"
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
