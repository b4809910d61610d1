"""What the camera sees of the set, as lines on a plan: the picture's edges, the plane of focus and the sharp range.

Each is told along the four rays to the middles of the picture's sides. A lens that leans against the sensor is sharp
where the bundle's disc stays under the circle of confusion (`throughlight.photometry.movements`); an upright one
between the two planes of `throughlight.photometry.field`.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from throughlight.photometry import field, movements
from throughlight.readings.camera import CameraReading
from throughlight.readings.standing import view_of
from throughlight.setup import Camera

Floats = NDArray[np.float64]

ENDLESS = 100.0
"""m from the lens, where a sharp range without end is cut off."""


class Sight(NamedTuple):
    """The picture's edges.

    `lens` (3,) is where the rays begin; `rays` (4, 3) run to the middles of the picture's left, right, lower and upper
    side, one metre deep each; `near`, `focus`, `far` (4,) are the depths at which each enters the sharp range, is
    sharpest, and leaves it, m. `angle_width`, `angle_height` are the picture angles, rad.
    """

    lens: Floats
    rays: Floats
    near: Floats
    focus: Floats
    far: Floats
    angle_width: float
    angle_height: float

    def at(self, depths: Floats) -> Floats:
        """Return the place of each ray at its depth, (4, 3)."""
        return self.lens + depths[:, None] * self.rays


def sight_of(camera: Camera, reading: CameraReading) -> Sight:
    """Return the lines that a camera's picture draws through the set."""
    view = view_of(camera)
    middle = np.array([*view.middle, 1.0])
    aside = np.array([[-view.across, 0.0], [view.across, 0.0], [0.0, -view.upward], [0.0, view.upward]])
    seen = middle + np.column_stack([aside, np.zeros(4)])
    depth = reading.depth_of_field
    if camera.movements.any:
        near, focus, far = _leaning(camera, seen)
    else:
        near, focus, far = (np.full(4, min(one, ENDLESS)) for one in (depth.near, reading.focus, depth.far))
    return Sight(view.place, seen @ view.axes.T, near, focus, far, reading.angle_width, reading.angle_height)


def leans(camera: Camera) -> bool:
    """Return whether lens and sensor lean against each other or the subject: what is sharp is a wedge then."""
    return camera.movements._replace(shift=(0.0, 0.0)).any


def _leaning(camera: Camera, rays: Floats) -> tuple[Floats, Floats, Floats]:
    film = movements.film(camera.focal, camera.focus, camera.movements)
    share = field.circle_of_confusion(*camera.sensor) / (camera.focal / camera.f_number)
    ahead = rays @ film.axis
    near, focus, far = (_sharp(film, film.distance / blur, ahead) for blur in (1.0 - share, 1.0, 1.0 + share))
    return near, focus, far


def _sharp(film: movements.Film, distance: float, ahead: Floats) -> Floats:
    """Return how deep rays that gain `ahead` along the lens's axis are sharp on a film at `distance`."""
    gained = distance * ahead - film.focal
    with np.errstate(divide="ignore"):
        depth = np.where(gained > 0.0, distance * film.focal / gained, math.inf)
    return np.minimum(depth, ENDLESS)
