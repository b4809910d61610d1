"""Guiding a bounce toward the bodies that glow.

In a set whose heads hide behind the backdrop, all that an opaque face gets comes through the subject, which fills a
small part of what the face sees. So a part q of the bounces is aimed at the balls round the translucent bodies, evenly
over each one's cone, and the mixture's density,

    p(ω) = (1 − q)·p_face(ω) + q·Σ shares·[ω in cone] / (2π·(1 − cos θ)),

stands for the face's own wherever that is used: nothing is counted twice, and nothing is left out. q is small where a
head may shine on the face, for there the glow matters less. Source: Veach and Guibas 1995 (one-sample mixtures).
"""

from __future__ import annotations

import math

import numpy as np

from throughlight.optics.circle import turn
from throughlight.optics.kernel import kernel
from throughlight.optics.vectors import basis, dot, scale, subtract, to_world
from throughlight.trace.lights import centre

_DARK, _LIT = 0.5, 0.1
"""The part of guided bounces on a face that no head can shine on, and on one that some head may."""


def guides_of(shapes: np.ndarray) -> np.ndarray:
    """Return the table of `Stage.guides`: (n, 4) middle and radius, m, of the ball round each translucent body.

    A body within another's bounds needs no ball of its own.
    """
    rows = shapes[shapes["medium"] >= 0]
    low = np.stack([rows[f"lo_{axis}"] for axis in "xyz"], axis=1)
    high = np.stack([rows[f"hi_{axis}"] for axis in "xyz"], axis=1)
    kept = [
        i
        for i in range(len(rows))
        if not any(
            (low[j] <= low[i]).all() and (high[i] <= high[j]).all() and (j < i or (low[j] != low[i]).any())
            for j in range(len(rows))
            if j != i
        )
    ]
    middle, radius = (low + high) / 2.0, np.linalg.norm(high - low, axis=1) / 2.0
    return np.ascontiguousarray(np.column_stack([middle, radius])[kept].reshape(-1, 4))


@kernel
def _cone(stage, i, x):
    """Return the axis toward a ball and 1 − cos of the half angle that it fills as seen from x; −1 from inside."""
    line = (stage.guides[i, 0] - x[0], stage.guides[i, 1] - x[1], stage.guides[i, 2] - x[2])
    squared = dot(line, line)
    radius = stage.guides[i, 3]
    sine2 = radius * radius / squared if squared > 0.0 else 2.0
    if sine2 >= 1.0:
        return line, -1.0
    return scale(line, 1.0 / math.sqrt(squared)), sine2 / (1.0 + math.sqrt(1.0 - sine2))


@kernel
def guided_part(stage, x, normal):
    """Return q for a face at x: 0 without bodies to guide to."""
    n = stage.guides.shape[0]
    outside = np.int64(0)
    for i in range(n):
        _, wide = _cone(stage, i, x)
        outside += wide > 0.0
    if outside == 0:
        return 0.0
    for i in range(stage.heads.shape[0]):
        head = stage.heads[i]
        reach = head["sa"] + head["sb"] + head["sc"]
        if dot(subtract(centre(head), x), normal) > -reach:
            return _LIT
    return _DARK


@kernel
def density(stage, x, direction):
    """Return the density of `sample` in a direction, 1/sr."""
    n = stage.guides.shape[0]
    total, outside = 0.0, 0
    for i in range(n):
        axis, wide = _cone(stage, i, x)
        if wide > 0.0:
            outside += 1
            if 1.0 - dot(axis, direction) <= wide:
                total += 1.0 / wide
    return total / (2.0 * math.pi * outside) if outside > 0 else 0.0


@kernel
def sample(stage, x, u0, u1, u2):
    """Return a direction from x, spread evenly over the cone of one of the balls that x is outside of."""
    n = stage.guides.shape[0]
    outside = 0
    for i in range(n):
        _, wide = _cone(stage, i, x)
        outside += wide > 0.0
    wanted = min(np.int64(u0 * outside), outside - 1)
    axis, wide = _cone(stage, np.int64(0), x)
    for i in range(n):
        axis, wide = _cone(stage, i, x)
        if wide > 0.0:
            if wanted == 0:
                break
            wanted -= 1
    fall = u1 * wide
    sine = math.sqrt(max(0.0, fall * (2.0 - fall)))
    c, s = turn(u2)
    t, b = basis(axis)
    return to_world(t, b, axis, (sine * c, sine * s, 1.0 - fall))
