"""Reading mesh files: their triangles where they stand, with the corners that coincide made one.

Done here with sorted numbers rather than by the reader's own means, which for a million triangles take a gigabyte.
"""

from __future__ import annotations

import gc
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from throughlight.setup.plain_meshes import read_plain

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Body = tuple[Floats, Ints]


def read_mesh(path: Path) -> Body:
    """Read all the triangles of an STL, OBJ, PLY or GLB file by itself: no other file that it names is opened.

    What was read is kept for the next call, by path, size and time; nobody may write to it.

    Returns
    -------
    vertices, faces
        (n, 3) corners that differ and that a triangle has, in the file's unit; (m, 3) rows of corners. Both as they
        stand in the file when a corner does not exist or is not finite.

    Raises
    ------
    OSError
        If the file cannot be opened.
    Exception
        Of whatever kind the reader's parsers raise.
    """
    state = path.stat()
    return _read(path, state.st_size, state.st_mtime_ns)


@lru_cache(maxsize=2)
def _read(path: Path, size: int, changed: int) -> Body:
    vertices, faces = _tidy(*_parts(path))
    vertices.flags.writeable = faces.flags.writeable = False
    return vertices, faces


def _parts(path: Path) -> Body:
    """Return the triangles of all parts of a file, joined."""
    plain = read_plain(path)
    if plain is not None:
        return plain
    import trimesh

    with path.open("rb") as stream:
        scene: Any = trimesh.load_scene(stream, file_type=path.suffix.lower().lstrip("."), process=False)
    parts = [_placed(scene, node) for node in scene.graph.nodes_geometry]
    del scene
    gc.collect()  # the reader's objects hold on to each other, and a large file is large
    return _joined([part for part in parts if part is not None])


def _tidy(vertices: Floats, faces: Ints) -> Body:
    """Merge coinciding corners and leave out those without a triangle, unless some do not exist or are not finite."""
    if len(faces) == 0 or not np.isfinite(vertices).all() or faces.min() < 0 or faces.max() >= len(vertices):
        return vertices, faces
    corners, place = merge(vertices)
    return _only_used(corners, place[faces])


def _placed(scene: Any, node: str) -> Body | None:  # noqa: ANN401
    """Return the triangles of one part of a scene where it stands; None for points and lines, which bound no body."""
    transform, name = scene.graph[node]
    part = scene.geometry[name]
    if not hasattr(part, "faces"):
        return None
    vertices = np.array(part.vertices, dtype=np.float64)
    if not np.array_equal(transform, np.eye(4)):
        vertices = vertices @ transform[:3, :3].T + transform[:3, 3]
    return vertices, np.array(part.faces, dtype=np.int64).reshape(-1, 3)


def _joined(parts: list[Body]) -> Body:
    if len(parts) == 1:
        return parts[0]
    counts = np.cumsum([0] + [len(vertices) for vertices, _ in parts])
    faces = [faces + count for (_, faces), count in zip(parts, counts[:-1], strict=True)]
    vertices = [vertices for vertices, _ in parts]
    return np.concatenate([np.empty((0, 3)), *vertices]), np.concatenate([np.empty((0, 3), np.int64), *faces])


def merge(points: Floats) -> Body:
    """Return the points that differ, in the order of their first appearance, and for each point its row among them.

    Sorting one hash of the three coordinates is far quicker than sorting rows; should two points share a hash, the
    rows are sorted after all.
    """
    key = np.zeros(len(points), dtype=np.uint64)
    for k in range(3):
        bits = (points[:, k] + 0.0).view(np.uint64)  # adding zero makes −0 and 0 one number
        bits ^= key
        bits ^= bits >> np.uint64(29)
        key = bits * np.uint64(0xBF58476D1CE4E5B9)
        key ^= key >> np.uint64(32)
    _, chosen, place = np.unique(key, return_index=True, return_inverse=True)
    del key, bits
    order = np.argsort(chosen)  # as in the file, where neighbours mostly stand together
    rank = np.empty_like(order)
    rank[order] = np.arange(len(order))
    corners, rows = points[chosen[order]], rank[place.reshape(-1)]
    if not all((corners[rows, k] == points[:, k]).all() for k in range(3)):
        corners, rows = np.unique(points, axis=0, return_inverse=True)
    return corners, rows.reshape(-1).astype(np.int64, copy=False)


def _only_used(corners: Floats, faces: Ints) -> Body:
    used = np.zeros(len(corners), np.bool_)
    used[faces] = True
    if used.all():
        return corners, faces
    return corners[used], (np.cumsum(used) - 1)[faces]


def closes(faces: Ints) -> bool:
    """Return whether each edge of the triangles belongs to two of them, which run along it in opposite ways."""
    most = int(faces.max(initial=0)) + 1
    ways = np.concatenate([faces[:, k] * most + faces[:, (k + 1) % 3] for k in range(3)])
    ways.sort()
    if (ways[1:] == ways[:-1]).any():
        return False
    start, end = ways // most, ways % most
    back = end * most + start
    back.sort()
    return bool((ways == back).all() and (start != end).all())
