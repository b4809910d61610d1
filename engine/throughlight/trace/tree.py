"""The tree of boxes over a mesh: eight children to a node.

Of the runs of triangles below a node the one with the largest box is split in two, until there are eight or none holds
more than four (Wald, Benthin, Boulos 2008, "Getting rid of packets"). A node keeps the boxes of its children, padded a
little and in float32, axis by axis, so that a ray reads one node to decide on eight boxes.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from throughlight.optics.kernel import entry, kernel
from throughlight.trace.splits import BINS, clear, grow, half_area, split

LEAF = 4
"""The most triangles in a leaf: they are tested together."""

WIDE = 8
"""The most children of a node: their boxes are tested together."""

_MOST = 2**28
_BALANCED_BELOW = 20  # from this depth on, halve by count, eight parts a node: so 2²⁸ triangles end within 9 nodes more
DEEPEST = _BALANCED_BELOW + 9
"""No way from the root to a leaf leads through more nodes than this."""

_PAD = np.float32(2.0**-22)  # of the largest coordinate: covers the rounding to float32 and that of a ray's distances


class Tree(NamedTuple):
    """The tree over one mesh, node 0 its root.

    Attributes
    ----------
    boxes
        (m, 48) float32, bounds of the children of each node: eight numbers each for the low x, y, z, the high x, y, z.
        A place without a child has bounds that nothing meets, and the first leaf's link.
    links
        (m, 8) int32, where each child is: twice a node's row, or twice a row of `slots` plus one.
    slots
        (leaves, 4) int32, the triangles of each leaf; −1 fills up.
    """

    boxes: np.ndarray
    links: np.ndarray
    slots: np.ndarray


@kernel
def _note(runs, spans, row, boxes, start, end):
    """Keep a run of triangles and its bounds as one of a node's children."""
    runs[row, 0], runs[row, 1] = start, end
    clear(spans, row)
    for i in range(start, end):
        grow(spans, row, boxes, i)


@kernel
def _widest(runs, spans, count, balanced):
    """Return the child to split next: the one with the largest box, or the most triangles; −1 when all are leaves."""
    best, chosen = -1.0, -1
    for row in range(count):
        size = runs[row, 1] - runs[row, 0]
        worth = float(size) if balanced else float(half_area(spans, row))
        if size > LEAF and worth > best:
            best, chosen = worth, row
    return chosen


@kernel
def _write_box(nodes, node, lane, spans):
    for k in range(6):
        nodes[node, k * WIDE + lane] = spans[lane, k]


@entry
def _build(boxes, order, nodes, links, slots, runs, spans, bins, counts, right_costs, todo):
    """Build the tree over `boxes`, reordering them and `order`; return the numbers of nodes and of leaves."""
    used, leaves, waiting = 1, 0, 1
    todo[0, 0], todo[0, 1], todo[0, 2], todo[0, 3] = 0, len(order), 0, 0
    while waiting > 0:
        waiting -= 1
        start, end, node, depth = todo[waiting, 0], todo[waiting, 1], todo[waiting, 2], todo[waiting, 3]
        balanced = depth >= _BALANCED_BELOW
        _note(runs, spans, np.int64(0), boxes, start, end)
        count = np.int64(1)
        while count < WIDE:
            row = _widest(runs, spans, count, balanced)
            if row < 0:
                break
            a, c = runs[row, 0], runs[row, 1]
            b = split(boxes, order, a, c, balanced, bins, counts, right_costs)
            _note(runs, spans, row, boxes, a, b)
            _note(runs, spans, count, boxes, b, c)
            count += 1
        for lane in range(count, WIDE):
            clear(spans, lane)
        for lane in range(WIDE):
            _write_box(nodes, node, lane, spans)
            links[node, lane] = 1
            if lane >= count:
                continue
            a, b = runs[lane, 0], runs[lane, 1]
            if b - a > LEAF:
                links[node, lane] = 2 * used
                todo[waiting, 0], todo[waiting, 1], todo[waiting, 2], todo[waiting, 3] = a, b, used, depth + 1
                waiting, used = waiting + 1, used + 1
            else:
                links[node, lane] = 2 * leaves + 1
                for k in range(LEAF):
                    slots[leaves, k] = order[a + k] if a + k < b else -1
                leaves += 1
    return used, leaves


def build(vertices: np.ndarray, faces: np.ndarray) -> Tree:
    """Build the tree over the triangles of a mesh.

    Parameters
    ----------
    vertices
        (k, 3) corners.
    faces
        (n, 3) rows of `vertices`, n ≥ 1.

    Raises
    ------
    ValueError
        If there is no triangle, too many, or a corner that is not finite.
    """
    count = len(faces)
    if not 0 < count < _MOST:
        raise ValueError(f"a tree needs 1 to {_MOST - 1} triangles, not {count}")
    boxes = _padded_boxes(np.asarray(vertices), np.asarray(faces))
    order = np.arange(count, dtype=np.int32)
    most = count // 4 + 1  # a node has eight children, or only leaves and five triangles: at most 8/35 of the triangles
    nodes, links = np.empty((most, 6 * WIDE), np.float32), np.empty((most, WIDE), np.int32)
    slots = np.empty((count, LEAF), np.int32)
    runs, spans = np.empty((WIDE, 2), np.int64), np.empty((WIDE, 6), np.float32)
    bins, counts = np.empty((BINS + 1, 6), np.float32), np.empty(BINS, np.int64)
    todo = np.empty((WIDE * DEEPEST, 4), np.int64)
    used, leaves = _build(boxes, order, nodes, links, slots, runs, spans, bins, counts, np.empty(BINS), todo)
    return Tree(aligned(nodes[:used]), links[:used].copy(), slots[:leaves].copy())


def _padded_boxes(vertices: np.ndarray, faces: np.ndarray) -> np.ndarray:
    """Return the (n, 6) float32 box of each triangle, a little too large."""
    boxes = np.empty((len(faces), 6), dtype=np.float32)
    for start in range(0, len(faces), 2**16):
        points = vertices[faces[start : start + 2**16]]
        boxes[start : start + 2**16, :3] = points.min(axis=1)
        boxes[start : start + 2**16, 3:] = points.max(axis=1)
    if not np.isfinite(boxes).all():
        raise ValueError("a corner of the mesh is not a finite number")
    pad = np.abs(boxes).max() * _PAD
    boxes[:, :3] -= pad
    boxes[:, 3:] += pad
    return boxes


def aligned_empty(shape: tuple[int, ...], dtype: type) -> np.ndarray:
    """Return a table that begins at a border of the processor's cache lines, which saves a ray half a line a row."""
    size = int(np.prod(shape)) * np.dtype(dtype).itemsize
    raw = np.empty(size + 64, np.uint8)
    start = -raw.ctypes.data % 64
    return raw[start : start + size].view(dtype).reshape(shape)


def aligned(table: np.ndarray) -> np.ndarray:
    """Return a copy of a table as of `aligned_empty`."""
    copy = aligned_empty(table.shape, table.dtype.type)
    copy[...] = table
    return copy


def shifted(links: np.ndarray, nodes: int, leaves: int) -> np.ndarray:
    """Return a tree's links moved to stand behind `nodes` nodes and `leaves` leaves of other trees.

    Raises
    ------
    ValueError
        If the pools grow beyond what a link can count.
    """
    if leaves + WIDE * len(links) >= _MOST:
        raise ValueError(f"all meshes together may have {_MOST - 1} triangles at most")
    return links + np.where(links & 1, 2 * leaves, 2 * nodes).astype(np.int32)
