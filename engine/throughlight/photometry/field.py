"""What the lens draws: magnification, picture angle, depth of field, diffraction.

A lens of focal length f focused at distance s (front principal plane to plane of focus, along the axis) has
m = f/(s − f). With pupil magnification P its entrance pupil stands e = f·(1/m + 1/P) from that plane, and a point
at distance u from the principal plane is drawn as a disc of diameter

    b = m · (f/N) · |u − s| / (e + u − s).

Depth of field is where b stays under the circle of confusion. For P = 1, e = s and these are the usual formulas with
the hyperfocal distance (Kingslake 1992, Optics in Photography, ch. 6). Airy: first dark ring, diameter
2·1.21967·λ·N_w.
"""

from __future__ import annotations

import math
from typing import NamedTuple

AIRY_RADIUS = 1.2196698912665045
"""Radius of the first dark ring over λ·N: first zero of J₁ over π (3.8317060/π)."""
GREEN = 0.55e-6
"""Wavelength, m, for which the Airy disc is told: near the eye's peak."""
CIRCLES_PER_DIAGONAL = 1500.0
"""The circle of confusion is the sensor's diagonal over this: 0.029 mm for 36 × 24 mm (common practice, no source)."""


class DepthOfField(NamedTuple):
    """Distances along the axis, m, from the lens: nearest and farthest sharp plane, and their difference."""

    near: float
    far: float
    total: float


def magnification(focal: float, distance: float) -> float:
    """Return image size over subject size, m = f/(s − f), for focus at `distance`.

    Raises
    ------
    ValueError
        If the plane of focus lies within the focal length, where no real image forms.
    """
    if not distance > focal:
        raise ValueError(f"focus at {distance:g} m lies within the focal length of {focal:g} m: no image forms")
    return focal / (distance - focal)


def focus_distance(focal: float, magnification: float) -> float:
    """Return the distance, m, from lens to plane of focus that gives a magnification: s = f·(1 + 1/m)."""
    return focal * (1.0 + 1.0 / magnification)


def image_distance(focal: float, distance: float) -> float:
    """Return the distance, m, from the lens to the sensor: i = f·(1 + m)."""
    return focal * (1.0 + magnification(focal, distance))


def picture_angle(extent: float, image_distance: float) -> float:
    """Return the angle, radians, that a sensor side (or diagonal) of `extent` m takes in: 2·atan(w/2i)."""
    return 2.0 * math.atan(0.5 * extent / image_distance)


def crop_factor(width: float, height: float) -> float:
    """Return how many times the 36 × 24 mm diagonal a sensor's diagonal goes into it."""
    return math.hypot(0.036, 0.024) / math.hypot(width, height)


def circle_of_confusion(sensor_width: float, sensor_height: float) -> float:
    """Return the largest blur, m, that passes for sharp on this sensor: its diagonal over 1500."""
    return math.hypot(sensor_width, sensor_height) / CIRCLES_PER_DIAGONAL


def hyperfocal(focal: float, f_number: float, circle: float) -> float:
    """Return the nearest focus, m, at which infinity is still sharp: f²/(N·c) + f."""
    return focal**2 / (f_number * circle) + focal


def _pupil_distance(focal: float, distance: float, pupil_magnification: float) -> float:
    """Return the distance e, m, from entrance pupil to plane of focus."""
    return focal * (1.0 / magnification(focal, distance) + 1.0 / pupil_magnification)


def depth_of_field(
    focal: float, f_number: float, circle: float, distance: float, pupil_magnification: float = 1.0
) -> DepthOfField:
    """Return the sharp range around the plane of focus.

    Parameters
    ----------
    focal, f_number : float
        Focal length, m, and engraved f-number.
    circle : float
        Circle of confusion on the sensor, m.
    distance : float
        Lens to plane of focus, m.
    pupil_magnification : float
        Exit over entrance pupil diameter.

    Returns
    -------
    DepthOfField
        Distances from the lens, m; `far` and `total` are infinite from the hyperfocal distance on.
    """
    pupil = focal / f_number
    blur_there = circle / magnification(focal, distance)  # the circle, seen in the plane of focus
    reach = _pupil_distance(focal, distance, pupil_magnification)
    before = reach * blur_there / (pupil + blur_there)
    behind = reach * blur_there / (pupil - blur_there) if pupil > blur_there else math.inf
    return DepthOfField(distance - before, distance + behind, before + behind)


def blur_disc(focal: float, f_number: float, distance: float, point: float, pupil_magnification: float = 1.0) -> float:
    """Return the diameter, m on the sensor, of the disc drawn for a point at `point` m with focus at `distance` m."""
    offset = point - distance
    reach = _pupil_distance(focal, distance, pupil_magnification)
    return magnification(focal, distance) * (focal / f_number) * abs(offset) / (reach + offset)


def airy_diameter(working_f_number: float, wavelength: float = GREEN) -> float:
    """Return the diameter, m, of the first dark ring of the diffraction disc on the sensor."""
    return 2.0 * AIRY_RADIUS * wavelength * working_f_number
