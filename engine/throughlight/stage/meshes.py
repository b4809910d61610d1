"""Bodies of triangles: read from a file or extruded from an outline, and laid out as the pools of a Stage.

A body that light goes through needs an inside, so its faces are made to agree: corners run anticlockwise seen from
outside. A file whose faces agree already is believed, cavities included, but turned inside out when it encloses a
negative volume V = Σ a·(b×c)/6; one whose faces do not agree is mended piece by piece.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from throughlight.setup.mesh_files import merge, read_mesh

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Body = tuple[Floats, Ints]
SmoothBody = tuple[Floats, Ints, Floats | None]

FORMATS = ("stl", "obj", "ply", "glb")


def load_mesh(path: Path, unit: float) -> Body:
    """Read all the triangles of a mesh file as one body.

    Parameters
    ----------
    path
        An STL, OBJ, PLY or GLB file; the parts of a scene are joined.
    unit
        Length of the file's unit, m.

    Returns
    -------
    vertices, faces
        (n, 3) corners, m, coinciding ones merged; (m, 3) rows of corners, anticlockwise seen from outside, not to be
        written to: they are kept for the next call.

    Raises
    ------
    OSError
        If the file cannot be opened.
    ValueError
        If its kind is unknown, its content cannot be understood, or it holds no triangle.
    """
    kind = path.suffix.lower().lstrip(".")
    if kind not in FORMATS:
        raise ValueError(f"{path.name}: a mesh is read from {', '.join(FORMATS)}, not from “{kind}”")
    state = path.stat()
    vertices, faces = _outward(path, state.st_size, state.st_mtime_ns)
    return vertices * unit, faces


@lru_cache(maxsize=2)
def _outward(path: Path, size: int, changed: int) -> Body:
    """Return the body in a file, in the file's unit; nobody may write to it."""
    try:
        vertices, faces = read_mesh(path)
    except OSError:
        raise
    except Exception as error:  # the reader raises whatever its parsers do
        raise ValueError(f"{path.name} cannot be read as {path.suffix[1:].upper()}: {error}") from error
    if not np.isfinite(vertices).all():
        raise ValueError(f"{path.name} holds a corner that is not a finite number")
    if len(faces) and (faces.min() < 0 or faces.max() >= len(vertices)):
        raise ValueError(f"{path.name} names a corner that does not exist")
    vertices, faces = _faced(vertices, faces)
    if len(faces) == 0:
        raise ValueError(f"{path.name} holds no triangle")
    faces.flags.writeable = False
    return vertices, faces


def extrude_polygon(points: Sequence[tuple[float, float]], thickness: float) -> Body:
    """Extrude an outline along z into a slab from −thickness/2 to +thickness/2.

    Parameters
    ----------
    points
        Corners of the outline in order, m, either way round; the last joins the first.
    thickness
        Of the slab, m.

    Returns
    -------
    vertices, faces
        As of `load_mesh`.

    Raises
    ------
    ValueError
        If the outline has no area or crosses itself, or the slab no thickness.
    """
    import shapely
    import trimesh

    outline = shapely.Polygon(points) if len(points) >= 3 else shapely.Polygon()
    if not outline.is_valid or not outline.area > 0.0:
        raise ValueError("the outline crosses itself or has no area")
    if not thickness > 0.0:
        raise ValueError("a slab needs some thickness")
    slab = trimesh.creation.extrude_polygon(outline, thickness, mid_plane=True, engine="earcut")
    return tidy(slab.vertices, slab.faces)


def tidy(vertices: NDArray[np.floating], faces: NDArray[np.integer]) -> Body:
    """Merge coinciding corners, drop triangles without area, and make all face outward."""
    corners, place = merge(np.asarray(vertices, dtype=np.float64))
    return _faced(corners, place[faces])


def _faced(corners: Floats, faces: Ints) -> Body:
    """Drop triangles without area, and make all face outward."""
    faces = faces.reshape(-1, 3)
    solid = np.empty(len(faces), dtype=np.bool_)
    for run in _runs(len(faces)):
        a, b, c = (corners[faces[run, k]] for k in range(3))
        solid[run] = (np.cross(b - a, c - a) != 0.0).any(axis=1)
    if not solid.all():
        faces = faces[solid]
    first, second, agree = _neighbours(faces)
    if not agree.all():
        faces = _mend(corners, faces, first, second, agree)
    elif _volumes(corners, faces).sum() < 0.0:
        faces = faces[:, ::-1]
    return corners, np.ascontiguousarray(faces)


def _runs(count: int) -> Iterator[slice]:
    """Cut a long table into pieces, so that what is worked out on the way stays small."""
    return (slice(start, start + 2**16) for start in range(0, count, 2**16))


def _neighbours(faces: Ints) -> tuple[Ints, Ints, NDArray[np.bool_]]:
    """Return the pairs of triangles that alone share an edge, and whether they run along it in opposite ways."""
    count = len(faces)
    key = np.empty(3 * count, dtype=np.int64)
    forward = np.empty(3 * count, dtype=np.bool_)
    for k in range(3):
        start, end = faces[:, k], faces[:, (k + 1) % 3]
        run = slice(k * count, (k + 1) * count)
        forward[run] = start < end
        key[run] = np.minimum(start, end) * (faces.max(initial=0) + 1) + np.maximum(start, end)
    order = np.argsort(key)
    key = key[order]
    new = np.flatnonzero(np.diff(key, prepend=-1))
    pair = new[np.diff(new, append=len(key)) == 2]
    del key, new
    first, second = order[pair], order[pair + 1]
    return first % max(count, 1), second % max(count, 1), forward[first] != forward[second]


def _volumes(corners: Floats, faces: Ints) -> Floats:
    """Return the signed volume of each triangle's pyramid to the middle of the body, m³."""
    middle = corners.mean(axis=0) if len(corners) else np.zeros(3)
    volumes = np.empty(len(faces))
    for run in _runs(len(faces)):
        a, b, c = (corners[faces[run, k]] - middle for k in range(3))
        volumes[run] = np.einsum("ij,ij->i", a, np.cross(b, c)) / 6.0
    return volumes


def _mend(corners: Floats, faces: Ints, first: Ints, second: Ints, agree: NDArray[np.bool_]) -> Ints:
    """Turn triangles until neighbours agree and each connected piece encloses a positive volume.

    Every triangle enters twice, as it is and turned; what may stand side by side is joined. Each piece then appears
    twice, mirrored, and either may be taken.
    """
    count = len(faces)
    turned = np.where(agree, 0, count)
    piece = _components(
        2 * count,
        np.concatenate([first, first + count]),
        np.concatenate([second + turned, (second + count + turned) % (2 * count)]),
    )
    flip = piece[count:] < piece[:count]
    sign = np.where(flip, -1.0, 1.0)
    name = np.minimum(piece[:count], piece[count:])
    volume = np.bincount(name, weights=sign * _volumes(corners, faces), minlength=count)
    flip ^= volume[name] < 0.0
    return np.where(flip[:, None], faces[:, ::-1], faces)


def _components(count: int, first: Ints, second: Ints) -> Ints:
    """Return for each node of a graph the lowest node that it is joined with by the edges first[i] – second[i]."""
    label = np.arange(count)
    while True:
        a, b = label[first], label[second]
        apart = a != b
        if not apart.any():
            return label
        first, second, a, b = first[apart], second[apart], a[apart], b[apart]
        np.minimum.at(label, np.maximum(a, b), np.minimum(a, b))
        while (label[label] != label).any():
            label = label[label]


class Pools(NamedTuple):
    """Bodies laid out as the pools of a Stage.

    triangles, boxes, links, normals: as of `throughlight.trace.tables.Stage`. rows: for each body first_triangle,
    triangles, first_node and first_normal.
    """

    triangles: Floats
    boxes: NDArray[np.float32]
    links: NDArray[np.int32]
    normals: NDArray[np.float32]
    rows: list[tuple[int, int, int, int]]


def mesh_tables(bodies: Sequence[Body | SmoothBody]) -> Pools:
    """Lay bodies out as the triangle, node and normal pools of a Stage.

    Parameters
    ----------
    bodies
        Vertices in the world, m, and faces of each; for a smooth one also the (faces, 3, 3) normals of its corners,
        or None.

    Raises
    ------
    ValueError
        If a body has no triangle or a corner that is not finite.
    """
    from throughlight.trace import tree

    pools: list[tuple[Floats, NDArray[np.float32], NDArray[np.int32]]] = []
    normals, rows = [np.zeros((1, 9), np.float32)], []
    leaves = nodes = 0
    first_normal = 1
    for vertices, faces, *smooth in bodies:
        made = tree.build(vertices, faces)
        pools.append((_laid(vertices, faces, made.slots), made.boxes, tree.shifted(made.links, nodes, leaves)))
        slots = made.slots.reshape(-1)
        rows.append((4 * leaves, len(faces), nodes, first_normal if smooth and smooth[0] is not None else 0))
        if smooth and smooth[0] is not None:
            normals.append(np.asarray(smooth[0], np.float32).reshape(-1, 9)[slots])  # what fills up is never met
            first_normal += len(slots)
        leaves += len(made.slots)
        nodes += len(made.boxes)
    pool = normals[0] if len(normals) == 1 else np.concatenate(normals)
    if len(rows) == 1:  # joining would copy, and a large mesh is large
        return Pools(*pools[0], pool, rows)
    triangles, boxes, links = (np.concatenate(tables) for tables in zip(*pools, strict=True))
    return Pools(tree.aligned(triangles), tree.aligned(boxes), links, pool, rows)


def _laid(vertices: Floats, faces: Ints, slots: NDArray[np.int32]) -> Floats:
    """Return the corners of the triangles of each leaf, number by number; no number where a leaf is not full."""
    from throughlight.trace import tree

    laid = tree.aligned_empty((len(slots), 36), np.float64)
    for run in _runs(len(slots)):
        corners = np.asarray(vertices, np.float64)[faces[slots[run]]]  # leaf, lane, corner, axis
        corners[slots[run] < 0] = np.nan
        laid[run] = corners.transpose(0, 2, 3, 1).reshape(-1, 36)
    return laid
