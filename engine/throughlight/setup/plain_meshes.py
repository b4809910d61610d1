"""The plainest mesh files, binary STL and binary PLY of nothing but triangles, taken as the arrays that they are.

Most meshes are such files, and the general reader costs more to import than all the rest of a small set to read. What
is in any way unusual is left to it: text, quads, parts other than corners and faces, a length that doesn't come out.

The formats, from memory: STL has 80 bytes of anything, the number of triangles, and for each its normal, three corners
and two bytes (3D Systems 1989). PLY has a head in text that names its parts and their properties in the order in which
they follow (Turk 1994).
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Body = tuple[NDArray[np.float64], NDArray[np.int64]]

_HEAD = 4096
_ENDS = {b"binary_little_endian": "<", b"binary_big_endian": ">"}
_NUMBERS = {
    **dict.fromkeys((b"char", b"int8"), "i1"),
    **dict.fromkeys((b"uchar", b"uint8"), "u1"),
    **dict.fromkeys((b"short", b"int16"), "i2"),
    **dict.fromkeys((b"ushort", b"uint16"), "u2"),
    **dict.fromkeys((b"int", b"int32"), "i4"),
    **dict.fromkeys((b"uint", b"uint32"), "u4"),
    **dict.fromkeys((b"float", b"float32"), "f4"),
    **dict.fromkeys((b"double", b"float64"), "f8"),
}
_CORNERS = (b"vertex_indices", b"vertex_index")
_TRIANGLE = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("rest", "<u2")])


def read_plain(path: Path) -> Body | None:
    """Return corners (n, 3) and faces (m, 3) of a plain STL or PLY file, or None where it is another kind of file.

    Raises
    ------
    OSError
        If the file cannot be opened.
    """
    kind = path.suffix.lower()
    if kind == ".stl":
        return _stl(path)
    return _ply(path) if kind == ".ply" else None


def _stl(path: Path) -> Body | None:
    size = path.stat().st_size
    with path.open("rb") as stream:
        count = int.from_bytes(stream.read(84)[80:], "little")
        if count == 0 or size != 84 + _TRIANGLE.itemsize * count:
            return None
        triangles = np.fromfile(stream, _TRIANGLE, count)
    if len(triangles) != count:
        return None
    corners = triangles["corners"].reshape(-1, 3).astype(np.float64)
    return corners, np.arange(3 * count, dtype=np.int64).reshape(-1, 3)


def _ply(path: Path) -> Body | None:
    size = path.stat().st_size
    with path.open("rb") as stream:
        head = stream.read(_HEAD)
        end = head.find(b"end_header\n")
        tables = _tables(head[:end]) if end >= 0 else None
        if tables is None:
            return None
        start = end + len(b"end_header\n")
        (corner, corners), (face, faces) = tables
        if faces == 0 or size != start + corner.itemsize * corners + face.itemsize * faces:
            return None
        stream.seek(start)
        points, rows = np.fromfile(stream, corner, corners), np.fromfile(stream, face, faces)
    if len(points) != corners or len(rows) != faces or (rows["count"] != 3).any():
        return None
    return np.column_stack([points[axis].astype(np.float64) for axis in "xyz"]), rows["corners"].astype(np.int64)


def _tables(head: bytes) -> tuple[tuple[np.dtype[np.void], int], tuple[np.dtype[np.void], int]] | None:
    """Return the layouts and lengths of a PLY file's corners and faces, from its head."""
    lines = [line.split() for line in head.splitlines() if not line.startswith((b"comment", b"obj_info"))]
    if len(lines) < 2 or lines[0] != [b"ply"] or len(lines[1]) != 3 or lines[1][1] not in _ENDS:
        return None
    order = _ENDS[lines[1][1]]
    at = [k for k, words in enumerate(lines) if words[:1] == [b"element"]]
    if len(at) != 2 or at[0] != 2 or lines[at[1] + 1 :] != lines[-1:]:
        return None
    corners, faces = _length(lines[at[0]], b"vertex"), _length(lines[at[1]], b"face")
    corner, face = _corner(lines[at[0] + 1 : at[1]], order), _face(lines[-1], order)
    if corners is None or faces is None or corner is None or face is None:
        return None
    return (corner, corners), (face, faces)


def _length(words: list[bytes], name: bytes) -> int | None:
    return int(words[2]) if len(words) == 3 and words[1] == name and words[2].isdigit() and len(words[2]) < 10 else None


def _corner(properties: list[list[bytes]], order: str) -> np.dtype[np.void] | None:
    """Return the layout of a corner whose properties are all single numbers, x, y and z among them."""
    if any(len(words) != 3 or words[0] != b"property" or words[1] not in _NUMBERS for words in properties):
        return None
    names = [words[2].decode("latin-1") for words in properties]
    if len(set(names)) != len(names) or not {"x", "y", "z"} <= set(names):
        return None
    return np.dtype([(name, order + _NUMBERS[words[1]]) for name, words in zip(names, properties, strict=True)])


def _face(words: list[bytes], order: str) -> np.dtype[np.void] | None:
    """Return the layout of a triangle, whose only property is the list of its three corners."""
    if len(words) != 5 or words[:2] != [b"property", b"list"] or words[4] not in _CORNERS:
        return None
    count, row = _NUMBERS.get(words[2], ""), _NUMBERS.get(words[3], "")
    if count[:1] not in ("i", "u") or row[:1] not in ("i", "u"):
        return None
    return np.dtype([("count", order + count), ("corners", order + row, 3)])
