"""Movements of a view camera: lens and film tilted, swung and shifted against each other, through a thin lens.

Seen from the middle of the lens the picture is a plain perspective on the film's plane, whatever way the lens leans. In
the film's own axes (right, up, forward out of the camera) the upright film lies in the plane z = D. With the lens's
axis l and the focal length f, the image of a point p lies on the film when

    p·(D·l − f·z) = D·f,

the plane of sharp focus. It meets film plane and lens plane in one line (Scheimpflug 1904), and turns about the hinge
line when the film is racked, f/sin α from the lens in the plane parallel to the film, with α between lens and film
(Merklinger 1996, Focusing the View Camera). A bundle through a pupil of diameter d, meant to meet at the film
distance D_p = f·p_z/(p·l − f), is d·|D/D_p − 1| wide at the film, measured square to the lens's axis.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


class Movements(NamedTuple):
    """Angles in radians, shift in m (right, up).

    A positive tilt leans forward, so that the axis looks down; a positive swing turns to camera right. The shift is
    that of the lens along the film, relative to it.
    """

    tilt: float = 0.0
    swing: float = 0.0
    back_tilt: float = 0.0
    back_swing: float = 0.0
    shift: tuple[float, float] = (0.0, 0.0)

    @property
    def any(self) -> bool:
        """Return whether anything is moved at all."""
        return self != Movements()


class Film(NamedTuple):
    """The film before the lens's eye, upright, with the lens in the origin.

    Attributes
    ----------
    focal
        Focal length f, m.
    distance
        D, from the lens square to the film's plane, m.
    centre
        (right, up) of the middle of the frame in the film's axes, m.
    lens_axes, film_axes
        (3, 3) columns right, up and forward, in the camera's unmoved axes.
    """

    focal: float
    distance: float
    centre: tuple[float, float]
    lens_axes: Floats
    film_axes: Floats

    @property
    def axis(self) -> Floats:
        """Return the lens's axis l in the film's axes."""
        axis: Floats = self.lens_axes[:, 2] @ self.film_axes
        return axis


def turned(tilt: float, swing: float) -> Floats:
    """Return the axes right, up, forward (columns) of a standard that is swung, then tilted; angles in radians."""
    c, s, cw, sw = math.cos(tilt), math.sin(tilt), math.cos(swing), math.sin(swing)
    return np.array([[cw, sw * s, sw * c], [0.0, c, -s], [-sw, cw * s, cw * c]])


def reach(focal: float, focus: float, movements: Movements) -> float:
    """Return how far behind the lens the image of the camera's axis at `focus` lies, along that axis, m.

    Not positive where no image forms.
    """
    ahead = focus * math.cos(movements.tilt) * math.cos(movements.swing)
    return focal * focus / (ahead - focal) if ahead != focal else -math.inf


def film(focal: float, focus: float, movements: Movements) -> Film:
    """Return where the film stands so that the point at `focus` along the camera's unmoved axis is sharp.

    Parameters
    ----------
    focal, focus : float
        Focal length and distance from the lens, m.
    movements : Movements
        How lens and film are moved.

    Raises
    ------
    ValueError
        If no image of that point forms behind the lens.
    """
    image = reach(focal, focus, movements)
    if not image > 0.0:
        raise ValueError(f"focus at {focus:g} m lies within the focal length of {focal:g} m: no image forms")
    lens_axes = turned(movements.tilt, movements.swing)
    film_axes = turned(movements.back_tilt, movements.back_swing)
    right, up, forward = (float(part) for part in image * film_axes[2])
    return Film(focal, forward, (right + movements.shift[0], up + movements.shift[1]), lens_axes, film_axes)


def places(film: Film, half_width: float, half_height: float, across: Floats, up: Floats) -> Floats:
    """Return upright film points (..., 3) in the film's axes, m, for places from −1 to 1 across and up the frame."""
    x, y = film.centre[0] + half_width * across, film.centre[1] + half_height * up
    return np.stack([x, y, np.full(np.shape(x), film.distance)], axis=-1)


def falloff(film: Film, points: Floats, reference: float) -> Floats:
    """Return a uniform field's exposure at upright film points, over that on the axis of an unmoved lens.

    cos θ at the lens times cos θ at the film times (reference over the distance)²; cos⁴θ without movements. Exact for
    a small flat pupil in a thin lens.

    Parameters
    ----------
    film : Film
        Where the film stands.
    points : array
        (..., 3) in the film's axes, m.
    reference : float
        Image distance of the unmoved lens, m.
    """
    squared = np.sum(points * points, axis=-1)
    factor: Floats = (points @ film.axis) * points[..., 2] * reference**2 / (squared * squared)
    return factor


def sharp_plane(film: Film) -> tuple[Floats, float]:
    """Return the plane of sharp focus: points p with p·normal = distance, a unit normal in the film's axes and m."""
    normal = film.distance * film.axis - film.focal * np.array([0.0, 0.0, 1.0])
    size = float(np.linalg.norm(normal))
    return normal / size, film.distance * film.focal / size


def sharp_lean(film: Film) -> float:
    """Return the angle, radians, between the plane of sharp focus and the film."""
    x, y, z = sharp_plane(film)[0]
    return math.atan2(math.hypot(x, y), z)


def hinge(film: Film) -> tuple[float, float] | None:
    """Return the place of the hinge line nearest to the lens, (right, up) in the plane parallel to the film, m.

    It lies f/sin α from the lens; a lens parallel to the film has none.
    """
    right, up, _ = film.axis
    squared = float(right * right + up * up)
    if squared < 1e-24:
        return None
    return film.focal * float(right) / squared, film.focal * float(up) / squared


def film_distances(film: Film, points: Floats) -> Floats:
    """Return the film distance D_p, m, at which each point (..., 3) in the film's axes is sharp.

    Infinite where a point lies in the front focal plane; negative where it has no image.
    """
    with np.errstate(divide="ignore"):
        distances: Floats = film.focal * points[..., 2] / (points @ film.axis - film.focal)
    return distances


def blur(film: Film, pupil: float, points: Floats) -> Floats:
    """Return the diameter, m, of the disc that each point (..., 3) in the film's axes is drawn as.

    Measured square to the lens's axis; `pupil` is the diameter of the entrance pupil, m.
    """
    return pupil * np.abs(film.distance / film_distances(film, points) - 1.0)
