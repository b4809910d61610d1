"""Curves through points: centripetal Catmull–Rom splines, and how finely a bend is cut into straight steps.

A piece between P1 and P2 is the blend of the parabolas through P0 P1 P2 and P1 P2 P3, with knots a square root of the
distance apart (Barry and Goldman 1988; no cusp and no loop arises: Yuksel, Schaefer and Keyser 2011).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

STEEPEST = math.radians(2.5)
"""The most that a curve turns from one straight step to the next."""
_DENSE = 48


def through(points: Array, before: Array, after: Array) -> Array:
    """Return a smooth curve through points (n, 2) as corners, the points among them.

    Parameters
    ----------
    points
        Where it passes, in order; neighbours differ.
    before, after
        Points beyond both ends, which set the direction there.
    """
    whole = np.concatenate([before[None], points, after[None]])
    pieces = [thinned(_piece(*whole[i : i + 4]))[:-1] for i in range(len(points) - 1)]
    return np.concatenate([*pieces, points[-1:]])


def _piece(p0: Array, p1: Array, p2: Array, p3: Array) -> Array:
    """Return the curve from p1 to p2 (Barry and Goldman's pyramid)."""
    t0 = 0.0
    t1 = t0 + math.sqrt(math.dist(p0, p1))
    t2 = t1 + math.sqrt(math.dist(p1, p2))
    t3 = t2 + math.sqrt(math.dist(p2, p3))
    t = np.linspace(t1, t2, _DENSE + 1)[:, None]

    def mixed(a: Array, b: Array, start: float, end: float) -> Array:
        return np.asarray(((end - t) * a + (t - start) * b) / (end - start))

    a1, a2, a3 = mixed(p0, p1, t0, t1), mixed(p1, p2, t1, t2), mixed(p2, p3, t2, t3)
    curve = mixed(mixed(a1, a2, t0, t2), mixed(a2, a3, t1, t3), t1, t2)
    curve[0], curve[-1] = p1, p2
    return curve


def thinned(dense: Array, finest: float = STEEPEST) -> Array:
    """Return as few of a finely cut curve's corners (n, 2) as let no step turn by more than `finest`, ends kept.

    No step is longer than a twelfth of the curve, so that gentle bends stay true too.
    """
    along = np.diff(dense, axis=0)
    length = np.linalg.norm(along, axis=1)
    if not length.sum() > 0.0:
        return dense[[0, -1]]
    heading = np.unwrap(np.arctan2(along[:, 1], along[:, 0]))
    if np.ptp(heading) < 1e-9:
        return dense[[0, -1]]
    turn = np.concatenate([[0.0], np.abs(np.diff(heading)), [0.0]])
    effort = np.cumsum(np.concatenate([[0.0], 0.5 * (turn[1:] + turn[:-1]) / finest + 12.0 * length / length.sum()]))
    steps = math.ceil(effort[-1])
    kept = np.searchsorted(effort, np.linspace(0.0, effort[-1], steps + 1)[1:-1])
    return np.asarray(dense[np.unique(np.concatenate([[0], kept, [len(dense) - 1]]))])
