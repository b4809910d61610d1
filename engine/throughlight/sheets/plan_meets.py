"""Which boxes and line segments meet, all of one list against all of another: (n, 4) and (m, 4) give (n, m)."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]


def boxes_and_boxes(one: Floats, other: Floats, apart: float = 0.0) -> Mask:
    """Return which boxes (left, bottom, right, top) come nearer to one another than `apart`."""
    a, b = one[:, None, :], other[None, :, :]
    low = np.maximum(a[..., :2], b[..., :2]) - np.minimum(a[..., 2:], b[..., 2:])
    return np.asarray((low < apart).all(axis=-1))


def segments_and_segments(one: Floats, other: Floats) -> Mask:
    """Return which segments (x, y, x, y) cross: each has the other's ends on either side."""
    a, b = one[:, None, :], other[None, :, :]
    return np.asarray(
        (_turn(a, b[..., :2]) * _turn(a, b[..., 2:]) < 0) & (_turn(b, a[..., :2]) * _turn(b, a[..., 2:]) < 0)
    )


def _turn(segment: Floats, place: Floats) -> Floats:
    """Return on which side of a segment a place lies."""
    along, off = segment[..., 2:] - segment[..., :2], place - segment[..., :2]
    return np.asarray(along[..., 0] * off[..., 1] - along[..., 1] * off[..., 0])


def segments_and_boxes(segments: Floats, boxes: Floats) -> Mask:
    """Return which segments have a part inside which boxes, (n, m), by what each pair of sides leaves of them."""
    start, along = segments[:, None, :2], (segments[:, 2:] - segments[:, :2])[:, None, :]
    low, high = boxes[None, :, :2], boxes[None, :, 2:]
    with np.errstate(divide="ignore", invalid="ignore"):
        first, second = (low - start) / along, (high - start) / along
    level = np.broadcast_to(along == 0.0, first.shape)
    inside = (start >= low) & (start <= high)
    enter = np.where(level, np.where(inside, -np.inf, np.inf), np.minimum(first, second)).max(axis=-1)
    leave = np.where(level, np.where(inside, np.inf, -np.inf), np.maximum(first, second)).min(axis=-1)
    return np.asarray((enter < leave) & (enter < 1.0) & (leave > 0.0))
