"""The tree of boxes over a mesh: a binary bounding-volume hierarchy built by the binned surface-area heuristic.

A split costs A_left·n_left + A_right·n_right (area of the box times triangles in it); the candidates are the borders of
equal bins of the boxes' centres along each axis. Leaves hold at most four triangles. A node keeps the boxes of both its
children, padded a little and in float32, so that a ray reads one node to decide on two boxes.

Sources: MacDonald and Booth 1990, "Heuristics for ray tracing using space subdivision"; Wald 2007, "On fast
construction of SAH-based bounding volume hierarchies".
"""

from __future__ import annotations

import numpy as np

from throughlight.optics.kernel import entry, kernel

LEAF = 4
"""The most triangles in a leaf."""

BINS = 16
_BALANCED_BELOW = 36  # from this depth on, halve by count: with 2²⁸ triangles at most, no leaf lies below depth 64
_MOST = 2**28
_PAD = np.float32(2.0**-22)  # of the largest coordinate: covers the rounding to float32 and that of a ray's distances


@kernel
def leaf_link(first, count):
    """Return the link to a leaf of `count` triangles from `first` on: a negative number."""
    return -(first * 8 + count) - 1


@kernel
def leaf_span(link):
    """Return the first triangle and one past the last of a leaf's link."""
    code = -(link + 1)
    first = code >> 3
    return first, first + (code & 7)


@kernel
def _half_area(bins, row):
    x = bins[row, 3] - bins[row, 0]
    y = bins[row, 4] - bins[row, 1]
    z = bins[row, 5] - bins[row, 2]
    return x * y + y * z + z * x


@kernel
def _clear(bins, row):
    for k in range(3):
        bins[row, k] = np.inf
        bins[row, k + 3] = -np.inf


@kernel
def _grow(bins, row, boxes, item):
    for k in range(3):
        bins[row, k] = min(bins[row, k], boxes[item, k])
        bins[row, k + 3] = max(bins[row, k + 3], boxes[item, k + 3])


@kernel
def _spread(boxes, start, end):
    """Return the bounds of twice the centres of a run of boxes."""
    x0 = y0 = z0 = np.inf
    x1 = y1 = z1 = -np.inf
    for i in range(start, end):
        x, y, z = boxes[i, 0] + boxes[i, 3], boxes[i, 1] + boxes[i, 4], boxes[i, 2] + boxes[i, 5]
        x0, x1 = min(x0, x), max(x1, x)
        y0, y1 = min(y0, y), max(y1, y)
        z0, z1 = min(z0, z), max(z1, z)
    return (x0, y0, z0), (x1, y1, z1)


@kernel
def _bin_of(boxes, item, axis, low, scale):
    return min(BINS - 1, int((boxes[item, axis] + boxes[item, axis + 3] - low) * scale))


@kernel
def _cheapest_border(bins, counts, right_costs):
    """Return the least cost over the borders between filled bins, and that border."""
    _clear(bins, BINS)
    count = 0
    for k in range(BINS - 1, 0, -1):
        _grow(bins, BINS, bins, k)
        count += counts[k]
        right_costs[k] = _half_area(bins, BINS) * count if count > 0 else np.inf
    _clear(bins, BINS)
    count = 0
    best, border = np.inf, 0
    for k in range(BINS - 1):
        _grow(bins, BINS, bins, k)
        count += counts[k]
        if count > 0:
            cost = _half_area(bins, BINS) * count + right_costs[k + 1]
            if cost < best:
                best, border = cost, k + 1
    return best, border


@kernel
def _choose(boxes, start, end, bins, counts, right_costs):
    """Return the best split of a run: axis (−1 when all centres coincide), low, scale, border."""
    lows, highs = _spread(boxes, start, end)
    best, best_axis, best_low, best_scale, best_border = np.inf, -1, 0.0, 0.0, 0
    for axis in range(3):
        low, high = lows[axis], highs[axis]
        if not high > low:
            continue
        scale = BINS / (high - low)
        if not scale < np.inf:
            continue
        for k in range(BINS):
            _clear(bins, k)
            counts[k] = 0
        for i in range(start, end):
            k = _bin_of(boxes, i, axis, low, scale)
            _grow(bins, k, boxes, i)
            counts[k] += 1
        cost, border = _cheapest_border(bins, counts, right_costs)
        if cost < best:
            best, best_axis, best_low, best_scale, best_border = cost, axis, low, scale, border
    return best_axis, best_low, best_scale, best_border


@kernel
def _swap(boxes, order, a, b):
    for k in range(6):
        boxes[a, k], boxes[b, k] = boxes[b, k], boxes[a, k]
    order[a], order[b] = order[b], order[a]


@kernel
def _partition(boxes, order, start, end, axis, low, scale, border):
    """Bring the boxes of the lower bins to the front of their run; return where the others begin."""
    left, right = start, end - 1
    while True:
        while left <= right and _bin_of(boxes, left, axis, low, scale) < border:
            left += 1
        while left <= right and _bin_of(boxes, right, axis, low, scale) >= border:
            right -= 1
        if left >= right:
            return left
        _swap(boxes, order, left, right)


@kernel
def _write_box(nodes, node, side, boxes, start, end):
    for k in range(3):
        low, high = boxes[start, k], boxes[start, k + 3]
        for i in range(start + 1, end):
            low = min(low, boxes[i, k])
            high = max(high, boxes[i, k + 3])
        nodes[node, side * 6 + k] = low
        nodes[node, side * 6 + 3 + k] = high


@entry
def _build(boxes, order, nodes, links, bins, counts, right_costs, todo):
    """Build the tree over `boxes`, reordering them and `order`; return the number of nodes."""
    used, waiting = 1, 1
    todo[0, 0], todo[0, 1], todo[0, 2], todo[0, 3] = 0, len(order), 0, 0
    while waiting > 0:
        waiting -= 1
        start, end, node, depth = todo[waiting, 0], todo[waiting, 1], todo[waiting, 2], todo[waiting, 3]
        middle = (start + end) // 2
        if end - start > 2 and depth < _BALANCED_BELOW:
            axis, low, scale, border = _choose(boxes, start, end, bins, counts, right_costs)
            if axis >= 0:
                middle = _partition(boxes, order, start, end, axis, low, scale, border)
        for side in range(2):
            a, b = (start, middle) if side == 0 else (middle, end)
            _write_box(nodes, node, side, boxes, a, b)
            if b - a <= LEAF:
                links[node, side] = leaf_link(a, b - a)
            else:
                links[node, side] = used
                links[used, 2] = node
                if side == 1 and links[node, 0] > 0:
                    links[used, 3], links[links[node, 0], 3] = links[node, 0], used
                todo[waiting, 0], todo[waiting, 1], todo[waiting, 2], todo[waiting, 3] = a, b, used, depth + 1
                waiting += 1
                used += 1
    return used


def build(corners: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Build the tree over the triangles of a mesh.

    Parameters
    ----------
    corners
        (n, 9) corners of each triangle, n ≥ 1.

    Returns
    -------
    order
        (n,) int64: triangle i of the tree is `corners[order[i]]`.
    boxes
        (m, 12) float32: low and high corner of the first child's box, then of the second's.
    links
        (m, 4) int32: both children (a node, or a leaf by `leaf_link`), the parent (−1 at node 0, the root), and the
        sibling where that is a node too (else −1).

    Raises
    ------
    ValueError
        If there is no triangle, too many, or a corner that is not finite.
    """
    count = len(corners)
    if not 0 < count < _MOST:
        raise ValueError(f"a tree needs 1 to {_MOST - 1} triangles, not {count}")
    points = np.asarray(corners, dtype=np.float64).reshape(count, 3, 3)
    boxes = np.empty((count, 6), dtype=np.float32)
    boxes[:, :3] = np.minimum(np.minimum(points[:, 0], points[:, 1]), points[:, 2])
    boxes[:, 3:] = np.maximum(np.maximum(points[:, 0], points[:, 1]), points[:, 2])
    if not np.isfinite(boxes).all():
        raise ValueError("a corner of the mesh is not a finite number")
    pad = np.abs(boxes).max() * _PAD
    boxes[:, :3] -= pad
    boxes[:, 3:] += pad
    order = np.arange(count, dtype=np.int64)
    nodes = np.empty((count, 12), dtype=np.float32)
    links = np.full((count, 4), -1, dtype=np.int32)
    bins = np.empty((BINS + 1, 6), dtype=np.float32)
    counts = np.empty(BINS, dtype=np.int64)
    used = _build(boxes, order, nodes, links, bins, counts, np.empty(BINS), np.empty((128, 4), dtype=np.int64))
    return order, nodes[:used].copy(), links[:used].copy()


def shifted(links: np.ndarray, nodes: int, triangles: int) -> np.ndarray:
    """Return a tree's links moved to stand behind `nodes` nodes and `triangles` triangles of other trees.

    Raises
    ------
    ValueError
        If the pools grow beyond what a link can count.
    """
    if triangles + 4 * len(links) >= _MOST:
        raise ValueError(f"all meshes together may have {_MOST - 1} triangles at most")
    moved = links.copy()
    children = links[:, :2]
    moved[:, :2] = np.where(children >= 0, children + nodes, children - 8 * triangles)
    moved[:, 2:] = np.where(links[:, 2:] >= 0, links[:, 2:] + nodes, -1)
    return moved
