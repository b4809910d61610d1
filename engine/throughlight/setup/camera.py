"""The camera: sensor, lens, exposure and where it stands."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated, Any

from pydantic import Field, ValidationInfo, field_validator, model_validator

from throughlight import kit
from throughlight.photometry.movements import Movements
from throughlight.setup.base import Part, derived, filled, kit_entry, same_place
from throughlight.setup.kind import Kind, found, misfit, refusal
from throughlight.setup.movements import Lean, Shift, undrawable
from throughlight.setup.place import ORIGIN, Place
from throughlight.setup.units import (
    DEPTH,
    Angle,
    Depth,
    FNumber,
    IsoSpeed,
    Share,
    Size,
    Temperature,
    Time,
    Whole,
    pure,
)

MOST_PIXELS = 40_000_000
LONG_SIDE = 900
_SMALLEST_FRONT = 0.040
_FRONT_OVER_PUPIL = 1.15
_SENSOR_FITS = 'width x height with a unit, such as "36x24 mm", or a format of the kit, such as "36x24"'

Blades = Annotated[int, Whole("a number of aperture blades (0 for a round opening)", 0, 30, 7)]
PupilMagnification = Annotated[float, pure("a pupil magnification", 0.05, 20.0, "1.0", "1.5")]


@dataclass(frozen=True)
class SensorKind(Kind):
    """Reads "36x24 mm" or the name of a format."""

    def parse(self, value: object) -> tuple[float, float]:
        """Return width and height, m.

        Raises
        ------
        PydanticCustomError
            When it is neither two lengths nor a known format, or a side is zero.
        """
        if not isinstance(value, str) or len(value) > 80:
            raise misfit(value, _SENSOR_FITS + " would fit")
        width, times, rest = value.lower().replace("×", "x").partition("x")
        height, _, unit = rest.strip().partition(" ")
        if times and unit:
            sides = (DEPTH.parse(f"{width.strip()} {unit}"), DEPTH.parse(f"{height} {unit}"))
            if not all(1e-3 <= side <= 1.0 for side in sides):
                raise misfit(value, "a sensor with sides from 1 mm to 1 m would fit")
            return sides
        entry = kit.find("bodies", value)
        if entry is None:
            raise misfit(value, _SENSOR_FITS + " would fit")
        return self.parse(entry.values["sensor"])

    def describe(self) -> dict[str, Any]:
        """Describe the text."""
        return {
            "type": "string",
            "examples": ["36x24 mm", "36x24"],
            "description": "sensor size: " + _SENSOR_FITS,
        }


@dataclass(frozen=True)
class PixelsKind(Kind):
    """Reads [width, height] and refuses what no machine should try."""

    def parse(self, value: object) -> tuple[int, int]:
        """Return width and height.

        Raises
        ------
        PydanticCustomError
            When it is not two whole numbers from 1 up, or more than 40 million pixels together.
        """
        if not isinstance(value, list | tuple) or [type(side) for side in value] != [int, int]:
            raise misfit(value, "width and height in whole pixels would fit, such as [900, 600]")
        width, height = value
        if width < 1 or height < 1:
            raise refusal(f"found {found(width)} x {found(height)} pixels; at least 1 x 1 would fit")
        if width * height > MOST_PIXELS:
            asked = f"{found(width)} x {found(height)}"
            raise refusal(f"found {asked} pixels; up to {MOST_PIXELS // 10**6} million in all would fit")
        return (width, height)

    def describe(self) -> dict[str, Any]:
        """Describe the pair."""
        side = {"type": "integer", "minimum": 1}
        return {
            "type": "array",
            "items": side,
            "minItems": 2,
            "maxItems": 2,
            "description": "picture size in pixels",
        }


def _front(data: dict[str, Any]) -> float:
    """Return the front element's diameter when none is given: a little more than the entrance pupil, at least 40 mm."""
    pupil: float = data["focal"] / data["f_number"]
    return max(pupil * _FRONT_OVER_PUPIL, _SMALLEST_FRONT)


def _pixels(data: dict[str, Any]) -> tuple[int, int]:
    """Return 900 pixels along the longer side and the sensor's aspect."""
    width, height = data["sensor"]
    scale = LONG_SIDE / max(width, height)
    return (max(1, round(width * scale)), max(1, round(height * scale)))


class Camera(Part):
    """The camera; lengths in m, times in s, angles in rad once read."""

    body: str | None = Field(None, description="kit name of a body: gives sensor and sync speed")
    sensor: Annotated[tuple[float, float], SensorKind()]
    focal: Size = Field(description="focal length")
    f_number: FNumber = Field(description="engraved f-number")
    shutter: Time = Field(description="shutter time")
    iso: IsoSpeed = Field(description="ISO speed")
    at: Place = Field(description="where the lens stands (its entrance pupil)")
    aim: Place = Field(
        ORIGIN,
        description="the place in the middle of the frame while lens and sensor are not moved; the subject's mark when "
        "left out",
    )
    roll: Angle = Field(0.0, description="turn of the camera about its axis")
    focus: Size = Field(
        default_factory=derived(lambda data: math.dist(data["at"], data["aim"]), 1.0),
        description="distance from the lens to the plane of focus along the axis; the aim when left out",
    )
    tilt: Lean = Field(0.0, description="of the lens; forward, so that its axis looks down, is positive")
    swing: Lean = Field(0.0, description="of the lens; to camera right is positive")
    back_tilt: Lean = Field(0.0, description="of the sensor; forward, so that it looks down, is positive")
    back_swing: Lean = Field(0.0, description="of the sensor; to camera right is positive")
    shift: Shift = Field((0.0, 0.0), description="of the lens along the sensor: to the right and up, seen from behind")
    transmittance: Annotated[float, pure("a transmittance", 0.0, 1.0, "0.9", above=True)] = Field(
        0.9, description="of the lens, 0 to 1"
    )
    front_element: Size = Field(
        default_factory=derived(_front, 1.0),
        description="diameter of the front element; 1.15 times the entrance pupil, at least 40 mm, when left out",
    )
    pupil_depth: Depth = Field(0.0, description="how far the entrance pupil lies behind the front element")
    hood: Depth = Field(0.0, description="depth of the lens hood before the front element")
    hood_diameter: Size = Field(
        default_factory=derived(lambda data: data["front_element"], 1.0),
        description="width of the hood's mouth; that of the front element when left out",
    )
    glare: Share = Field(0.01, description="the lens's veiling-glare index (ISO 9358)")
    blades: Blades = Field(0, description="aperture blades; 0 is a round opening, of the same area at one f-number")
    blade_turn: Angle = Field(0.0, description="turn of the aperture blades, anticlockwise seen from behind the camera")
    pupil_magnification: PupilMagnification = Field(1.0, description="exit over entrance pupil diameter")
    balance: Temperature = Field(5600.0, description="white balance")
    sync: Time = Field(1.0 / 200.0, description="fastest shutter time with the whole sensor open for flash")
    pixels: Annotated[tuple[int, int], PixelsKind()] = Field(
        default_factory=derived(_pixels, (1, 1)),
        description="picture size; 900 along the longer side when left out",
    )

    @property
    def sensor_width(self) -> float:
        """Width of the sensor, m."""
        return self.sensor[0]

    @property
    def sensor_height(self) -> float:
        """Height of the sensor, m."""
        return self.sensor[1]

    @property
    def movements(self) -> Movements:
        """How lens and sensor are moved."""
        return Movements(self.tilt, self.swing, self.back_tilt, self.back_swing, self.shift)

    @property
    def rings(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """Front element's rim and hood's mouth: how far each stands before the entrance pupil, and its radius, m."""
        front, mouth = self.front_element / 2.0, self.hood_diameter / 2.0
        return (self.pupil_depth, front), (self.pupil_depth + self.hood, mouth if self.hood > 0.0 else front)

    @model_validator(mode="before")
    @classmethod
    def _filled_from_body(cls, data: object) -> object:
        return filled(data, "body", "bodies")

    @field_validator("body")
    @classmethod
    def _known_body(cls, name: str | None) -> str | None:
        return None if name is None else kit_entry(name, "bodies").name

    @field_validator("shift")
    @classmethod
    def _not_off_the_sensor(cls, shift: tuple[float, float], info: ValidationInfo) -> tuple[float, float]:
        width, height = info.data.get("sensor", (math.inf, math.inf))
        if abs(shift[0]) > width or abs(shift[1]) > height:
            raise refusal(
                f"found a shift of {shift[0] * 1e3:g} mm right and {shift[1] * 1e3:g} mm up, more than the sensor's "
                f"{width * 1e3:g} x {height * 1e3:g} mm; at most the sensor's own sides would fit"
            )
        return shift

    @model_validator(mode="after")
    def _draws_an_image(self) -> Camera:
        if same_place(self.at, self.aim):
            raise refusal('"at" and "aim" are the same place; a camera that looks somewhere would fit')
        if self.focus <= self.focal:
            raise refusal(
                f"found focus at {self.focus * 1e3:g} mm with a focal length of {self.focal * 1e3:g} mm; "
                "no image forms within the focal length, a longer distance would fit"
            )
        if self.focal / self.f_number > self.front_element * (1.0 + 1e-9):
            raise refusal(
                f"found a front element of {self.front_element * 1e3:g} mm; one at least as wide as the entrance pupil "
                f"({self.focal / self.f_number * 1e3:.4g} mm) would fit"
            )
        if self.hood > 0.0 and self.focal / self.f_number > self.hood_diameter * (1.0 + 1e-9):
            raise refusal(
                f"found a hood {self.hood_diameter * 1e3:g} mm wide; one at least as wide as the entrance pupil "
                f"({self.focal / self.f_number * 1e3:.4g} mm) would fit"
            )
        (near, front), (far, _) = self.rings
        trouble = undrawable(self.focal, self.focus, self.movements, self.sensor, front, (near, far))
        if trouble is not None:
            raise refusal(trouble)
        return self
