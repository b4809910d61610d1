"""Where to split a run of triangles: the surface-area heuristic over bins.

A split costs A_left·⌈n_left/4⌉ + A_right·⌈n_right/4⌉: area of the box times the leaves of four triangles that it takes
to hold them. The candidates are the borders of equal bins of the boxes' centres along each axis.

Sources: MacDonald and Booth 1990, "Heuristics for ray tracing using space subdivision"; Wald 2007, "On fast
construction of SAH-based bounding volume hierarchies".
"""

from __future__ import annotations

import numpy as np

from throughlight.optics.kernel import kernel

BINS = 16
_SPARE = np.int64(BINS)
"""The row behind the bins, for the box that grows over them; of the type that rows have, or all would compile twice."""


@kernel
def half_area(bins, row):
    """Return half the area of a box."""
    x = bins[row, 3] - bins[row, 0]
    y = bins[row, 4] - bins[row, 1]
    z = bins[row, 5] - bins[row, 2]
    return x * y + y * z + z * x


@kernel
def clear(bins, row):
    """Make a box that holds nothing."""
    for k in range(3):
        bins[row, k] = np.inf
        bins[row, k + 3] = -np.inf


@kernel
def grow(bins, row, boxes, item):
    """Make a box hold another."""
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
def _groups(count):
    """Return how many leaves' worth a number of triangles is: ⌈count/4⌉."""
    return (count + 3) >> 2


@kernel
def _cheapest_border(bins, counts, right_costs):
    """Return the least cost over the borders between filled bins, and that border."""
    clear(bins, _SPARE)
    count = 0
    for k in range(BINS - 1, 0, -1):
        grow(bins, _SPARE, bins, k)
        count += counts[k]
        right_costs[k] = half_area(bins, _SPARE) * _groups(count) if count > 0 else np.inf
    clear(bins, _SPARE)
    count = 0
    best, border = np.inf, 0
    for k in range(BINS - 1):
        grow(bins, _SPARE, bins, k)
        count += counts[k]
        if count > 0:
            cost = half_area(bins, _SPARE) * _groups(count) + right_costs[k + 1]
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
            clear(bins, k)
            counts[k] = 0
        for i in range(start, end):
            k = _bin_of(boxes, i, axis, low, scale)
            grow(bins, k, boxes, i)
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
def split(boxes, order, start, end, balanced, bins, counts, right_costs):
    """Bring a run into two parts, equal ones if `balanced`; return where the second begins."""
    if not balanced:
        axis, low, scale, border = _choose(boxes, start, end, bins, counts, right_costs)
        if axis >= 0:
            return _partition(boxes, order, start, end, axis, low, scale, border)
    return (start + end) // 2
