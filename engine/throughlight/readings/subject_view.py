"""The subject as the camera stands to it: how deep it is along the axis and how it fills the frame.

A body is wholly outside when a plane through the lens parts it from the picture angle's pyramid. Such planes that touch
the pyramid are a·x + b·y = (|a| + |b|)·z with x and y in half frames a metre of depth z; a sweep of (a, b) tries them.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from throughlight.readings.standing import Floats, View, disc_outline
from throughlight.setup import Disc, Mesh, Picture, Polygon, Rectangle, Revolve, Slab, Sphere, Subject, Svg
from throughlight.setup.islands import corners_of
from throughlight.setup.meshes import upright
from throughlight.setup.subject_solids import skin
from throughlight.stage.frames import facing

_PARTING_PLANES = 120
_BALL_POINTS = 400
_THREE_WAYS = (np.eye(3), np.eye(3)[:, [1, 2, 0]], np.eye(3)[:, [2, 0, 1]])  # a ball by its three great circles


@dataclass(frozen=True)
class SubjectView:
    """The subject as the camera stands to it: m along the axis, and parts of the frame's width and height.

    `nearest` and `farthest` are its ends along the axis from the lens, `depth` their difference; `inside` tells
    whether its whole outline is in the frame, `outside` whether none of it is. `outline` holds points (n, 3) that span
    it, right, up and forward of the lens in the film's axes, m.
    """

    nearest: float
    farthest: float
    fills_width: float
    fills_height: float
    inside: bool
    outside: bool
    outline: Floats = field(default_factory=lambda: np.empty((0, 3)), compare=False)

    @property
    def depth(self) -> float:
        """Return the subject's depth along the axis, m."""
        return self.farthest - self.nearest


def subject_view(subjects: Sequence[Subject], eye: tuple[float, float, float], view: View) -> SubjectView:
    """Return how the camera at `eye` sees the subjects, at least one, taken together.

    Raises
    ------
    OSError, ValueError
        If a mesh file cannot be opened or read.
    """
    first = subjects[0]
    if isinstance(first.shape, Sphere) and len(subjects) == 1:
        return _sphere_view(np.asarray(first.at, float), 0.5 * first.shape.diameter, view)
    world = np.concatenate(
        [one.at + _points(one.shape) @ facing(one.at, one.faces(eye), one.turn).T for one in subjects]
    )
    seen = view.seen(world)
    depth = seen[:, 2]
    if float(depth.min()) <= 0.0:  # beside or behind the lens: it has no image
        outside = _outside(seen, 0.0, view)
        return SubjectView(float(depth.min()), float(depth.max()), 0.0, 0.0, False, outside, view.square(seen))
    right, up = seen[:, 0] / depth / view.across, seen[:, 1] / depth / view.upward
    inside = float(np.abs([right, up]).max()) <= 1.0
    return SubjectView(
        nearest=float(depth.min()),
        farthest=float(depth.max()),
        fills_width=0.5 * float(np.ptp(right)),
        fills_height=0.5 * float(np.ptp(up)),
        inside=inside,
        outside=not inside and _outside(seen, 0.0, view),
        outline=view.square(seen),
    )


def _sphere_view(centre: Floats, radius: float, view: View) -> SubjectView:
    """Return a ball's view from the tangents to it: tan(α ± β) with sin β = r over its distance in that plane."""
    seen = view.seen(centre[None, :])
    right, up, depth = view.square(seen)[0]
    outside, outline = _outside(seen, radius, view), view.square(seen) + radius * _ball()
    if depth <= radius:
        return SubjectView(float(depth - radius), float(depth + radius), 0.0, 0.0, False, outside, outline)
    ends = []
    for aside, half, off in zip((right, up), (view.across, view.upward), view.middle, strict=True):
        middle, spread = math.atan2(aside, depth), math.asin(radius / math.hypot(aside, depth))
        ends.append(((math.tan(middle - spread) - off) / half, (math.tan(middle + spread) - off) / half))
    return SubjectView(
        nearest=float(depth - radius),
        farthest=float(depth + radius),
        fills_width=0.5 * (ends[0][1] - ends[0][0]),
        fills_height=0.5 * (ends[1][1] - ends[1][0]),
        inside=max(abs(end) for pair in ends for end in pair) <= 1.0,
        outside=outside,
        outline=outline,
    )


def _ball() -> Floats:
    """Return points (n, 3) spread evenly over the unit sphere, from the nearest to the farthest along the axis."""
    depth = np.linspace(-1.0, 1.0, _BALL_POINTS)
    angle = np.arange(_BALL_POINTS) * (math.pi * (3.0 - math.sqrt(5.0)))  # the golden angle
    wide = np.sqrt(np.maximum(0.0, 1.0 - depth * depth))
    return np.stack([wide * np.cos(angle), wide * np.sin(angle), depth], axis=1)


def _outside(seen: Floats, radius: float, view: View) -> bool:
    """Return whether balls of that radius about points (n, 3) in camera coordinates are all outside the frame."""
    if float(seen[:, 2].max()) <= -radius:  # behind the lens
        return True
    for angle in np.arange(_PARTING_PLANES) * (2.0 * math.pi / _PARTING_PLANES):
        a, b = math.cos(angle), math.sin(angle)
        plane = np.array([a / view.across, b / view.upward, -(abs(a) + abs(b))])
        if float((seen @ plane).min()) >= radius * view.steepness(plane):
            return True
    return False


def _points(shape: Slab | Sphere | Revolve | Mesh) -> Floats:
    """Return points (n, 3) that span the shape in its own frame, m: rims of a slab or a revolved body, mesh corners."""
    if isinstance(shape, Sphere):
        turns = [disc_outline(np.zeros(3), axes, shape.diameter) for axes in _THREE_WAYS]
        return np.concatenate(turns)
    if isinstance(shape, Mesh):
        from throughlight.stage.meshes import load_mesh

        return upright(np.asarray(load_mesh(shape.file, shape.metres)[0], float), shape.up)
    if isinstance(shape, Revolve):
        return skin(shape)
    flat = _outline(shape.outline)
    half = np.array([0.0, 0.0, 0.5 * shape.thickness])
    return np.concatenate([flat - half, flat + half])


def _outline(outline: Disc | Rectangle | Polygon | Picture | Svg) -> Floats:
    if isinstance(outline, Disc):
        return disc_outline(np.zeros(3), np.eye(3), outline.diameter)
    if isinstance(outline, Rectangle):
        x, y = 0.5 * outline.width, 0.5 * outline.height
        return np.array([[-x, -y, 0.0], [x, -y, 0.0], [x, y, 0.0], [-x, y, 0.0]])
    corners = corners_of(outline.islands)
    return np.column_stack([corners, np.zeros(len(corners))])
