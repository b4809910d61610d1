"""What movements and rings do to the picture: the plane of sharp focus, and how dark the corners get.

Geometry of `throughlight.photometry.movements` and `throughlight.photometry.vignette`; the pupil counts as round, with
the area that the f-number means.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from throughlight.photometry import field, movements, vignette
from throughlight.readings.figures import length_words
from throughlight.setup import Camera

_CORNERS = (("top left", -1.0, 1.0), ("top right", 1.0, 1.0), ("bottom left", -1.0, -1.0), ("bottom right", 1.0, -1.0))
_NOTHING = math.exp2(-0.005)
"""Share of light over which a loss rounds to 0.00 stop and isn't told."""
_TELLING = math.exp2(-0.05)
"""Share of light under which the hood counts as cutting the frame: 0.05 stop, what readings are asked for."""


@dataclass(frozen=True)
class PlaneOfFocus:
    """The plane that is sharp: its angle to the sensor, rad, and the place of the hinge line, m.

    `hinge` is the point of the line nearest to the lens, right and up in the plane parallel to the sensor.
    """

    lean: float
    hinge: tuple[float, float]

    @property
    def hinge_distance(self) -> float:
        """Return how far the hinge line lies from the lens, m: f over the sine of the angle between lens and sensor."""
        return math.hypot(*self.hinge)

    @property
    def words(self) -> str:
        """Return the plane as a photographer would say it."""
        lean = f"{math.degrees(self.lean):.1f}° to the sensor"
        return f"turned by {lean}, about a line {length_words(self.hinge_distance)} {_side(*self.hinge)} the lens"

    def as_json(self) -> dict[str, Any]:
        """Return the plane with units in its keys."""
        return {
            "to_sensor_deg": math.degrees(self.lean),
            "hinge_distance_mm": 1e3 * self.hinge_distance,
            "hinge_right_mm": 1e3 * self.hinge[0],
            "hinge_up_mm": 1e3 * self.hinge[1],
        }


def _side(right: float, up: float) -> str:
    """Return on which side of the lens a place lies; a direction within 10° of upright or level counts as such."""
    slack = math.sin(math.radians(10.0)) * math.hypot(right, up)
    upright = "" if abs(up) <= slack else "above" if up > 0.0 else "below"
    level = "" if abs(right) <= slack else "right of" if right > 0.0 else "left of"
    return f"{upright} and {level}" if upright and level else upright + level


@dataclass(frozen=True)
class Corner:
    """How much light the film's darkest corner loses.

    `falloff` is what the picture angle takes, stops over an unmoved lens's axis; `front` and `rings` are the shares of
    the pupil that the front element leaves, and front element and hood together.
    """

    name: str
    falloff: float
    front: float
    rings: float

    @property
    def cut(self) -> float:
        """Return the stops that front element and hood take; infinite where nothing is left."""
        return -math.log2(self.rings) if self.rings > 0.0 else math.inf

    @property
    def cut_by_hood(self) -> bool:
        """Return whether the hood takes more than the front element does, by what shows in a reading."""
        return self.rings < self.front * _TELLING

    @property
    def complaint(self) -> str:
        """Return the sentence about a hood that is seen in the picture, or nothing."""
        if not self.cut_by_hood:
            return ""
        if self.rings == 0.0:
            return f"the hood cuts the frame: no light reaches the {self.name} corner"
        return f"the hood cuts the frame: the {self.name} corner is {self.cut:.1f} stops darker by it"

    @property
    def words(self) -> str:
        """Return the corner's darkening as a photographer would say it."""
        natural = f"{-self.falloff:.2f} stop darker" if self.falloff < 0.0 else f"{self.falloff:.2f} stop brighter"
        said = f"{self.name} {natural} by the picture angle"
        if self.rings > _NOTHING:
            return said
        taken = "all of its light" if self.rings == 0.0 else f"{self.cut:.2f} stop"
        rings = "front element and hood take" if self.rings < self.front else "the front element takes"
        return f"{said}, {rings} {taken}"

    def as_json(self) -> dict[str, Any]:
        """Return the corner with units in its keys; the stops of a black corner are null."""
        return {
            "name": self.name,
            "picture_angle_stops": self.falloff,
            "front_element_and_hood_stops": -self.cut if self.rings > 0.0 else None,
            "front_element_fraction": self.front,
            "front_element_and_hood_fraction": self.rings,
            "hood_cuts_the_frame": self.cut_by_hood,
        }


def plane_of_focus(camera: Camera) -> PlaneOfFocus | None:
    """Return the plane of sharp focus of a lens that leans against the sensor, else None."""
    film = movements.film(camera.focal, camera.focus, camera.movements)
    hinge = movements.hinge(film)
    return None if hinge is None else PlaneOfFocus(movements.sharp_lean(film), hinge)


def darkest_corner(camera: Camera) -> Corner:
    """Return the corner of the frame that loses the most light."""
    film = movements.film(camera.focal, camera.focus, camera.movements)
    unmoved = field.image_distance(camera.focal, camera.focus)
    pupil = 0.5 * camera.focal / camera.f_number
    (depth, front), (end, mouth) = camera.rings
    rim = [(depth, front)] if depth > 0.0 else []
    hood = [(end, mouth)] if camera.hood > 0.0 else []
    found = []
    for name, across, up in _CORNERS:
        place = movements.places(
            film, camera.sensor_width / 2.0, camera.sensor_height / 2.0, np.array(across), np.array(up)
        )
        ahead = float(place @ film.axis)
        slope = math.sqrt(max(0.0, float(place @ place) - ahead * ahead)) / ahead
        shares = [
            vignette.passing(pupil, slope, ahead, camera.focal, rings) if rings else 1.0 for rings in (rim, rim + hood)
        ]
        falloff = math.log2(float(movements.falloff(film, place, unmoved)))
        found.append(Corner(name, falloff, shares[0], shares[1]))
    return min(found, key=lambda corner: (corner.rings * 2.0**corner.falloff, corner.falloff))
