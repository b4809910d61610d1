"""How tilts, swings and shifts are written, and which of them no lens could draw an image with."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, Any

import numpy as np

from throughlight.photometry import movements as moves
from throughlight.setup.kind import Kind, misfit
from throughlight.setup.units import ANGLE, PLACE

_STEEPEST = math.radians(45.0)
_LEAN_FITS = 'an angle under 45 deg either way would fit, such as "5 deg"'
_SHIFT_FITS = 'how far right and how far up would fit, such as ["0 mm", "10 mm"]'


@dataclass(frozen=True)
class LeanKind(Kind):
    """Reads an angle under 45 degrees either way."""

    def parse(self, value: object) -> float:
        """Return the angle, rad.

        Raises
        ------
        PydanticCustomError
            When it is no angle or too steep.
        """
        angle = ANGLE.parse(value)
        if abs(angle) >= _STEEPEST * (1.0 - 1e-12):
            raise misfit(value, _LEAN_FITS)
        return angle

    def describe(self) -> dict[str, Any]:
        """Describe the text."""
        return {"type": "string", "examples": ["5 deg", "-3 deg"], "description": "an angle under 45 deg either way"}


@dataclass(frozen=True)
class ShiftKind(Kind):
    """Reads [right, up]."""

    def parse(self, value: object) -> tuple[float, float]:
        """Return the lens's shift to the right and up, m.

        Raises
        ------
        PydanticCustomError
            When it is not two lengths.
        """
        if not isinstance(value, list | tuple) or len(value) != 2:
            raise misfit(value, _SHIFT_FITS)
        return (PLACE.parse(value[0]), PLACE.parse(value[1]))

    def describe(self) -> dict[str, Any]:
        """Describe the pair."""
        length = {"type": "string", "examples": ["10 mm"], "description": "a length"}
        return {
            "type": "array",
            "items": length,
            "minItems": 2,
            "maxItems": 2,
            "description": "how far the lens is shifted to the right and up",
        }


Lean = Annotated[float, LeanKind()]
Shift = Annotated[tuple[float, float], ShiftKind()]


def undrawable(
    focal: float,
    focus: float,
    movements: moves.Movements,
    sensor: tuple[float, float],
    front: float,
    rings: Sequence[float],
) -> str | None:
    """Return what keeps a moved lens from drawing the whole frame, as a sentence, or None.

    Parameters
    ----------
    focal, focus
        Focal length and distance to the plane of focus, m.
    movements
        How lens and film are moved.
    sensor
        Width and height, m.
    front
        Radius of the front element, m.
    rings
        How far front element and hood's mouth stand before the entrance pupil, m, in this order.
    """
    if not moves.reach(focal, focus, movements) > 0.0:
        return (
            f"found focus at {focus * 1e3:g} mm, which is within the focal length of {focal * 1e3:g} mm along the axis "
            "of the turned lens; a longer distance or less tilt and swing would fit"
        )
    film = moves.film(focal, focus, movements)
    corner = np.array([-1.0, 1.0, 1.0, -1.0]), np.array([1.0, 1.0, -1.0, -1.0])
    ahead = moves.places(film, sensor[0] / 2.0, sensor[1] / 2.0, *corner) @ film.axis
    if float(ahead.min()) <= 0.0:
        return "a part of the sensor stands before the lens; less tilt, swing or shift would fit"
    normal, distance = moves.sharp_plane(film)
    along = float(normal @ film.axis)
    spread = front * math.sqrt(max(0.0, 1.0 - along * along))
    if abs(distance - rings[0] * along) <= spread:
        return "the plane of focus passes through the lens; less tilt or swing would fit"
    if max(rings) * (1.0 / focal - 1.0 / float(ahead.max())) >= 1.0:
        return (
            f"found a lens and hood that reach {max(rings) * 1e3:g} mm before the pupil, as far as the plane of focus; "
            "a shallower hood or a longer distance would fit"
        )
    return None
