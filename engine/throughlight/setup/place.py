"""Where a thing stands: coordinates, or a bearing round the subject with a distance and a height.

Right-handed, origin at the subject's mark, +x to camera right, +y up, +z toward the camera. A bearing is read in plan:
0 at the camera, 90 deg at camera right, 180 deg directly behind; the distance is in plan, the height is y:

    (x, y, z) = (d·sin b, h, d·cos b).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any

import numpy as np
from numpy.typing import NDArray

from throughlight.setup.kind import Kind, found, misfit, refusal
from throughlight.setup.units import ANGLE, DEPTH, PLACE

Vec3 = tuple[float, float, float]

FARTHEST = 1000.0
"""m; nothing on a table-top set stands farther away."""
_FITS = (
    'a place would fit, such as ["12 cm", "0 cm", "-30 cm"] (x right, y up, z toward the camera) '
    'or { bearing = "150 deg", distance = "70 cm", height = "10 cm" }'
)
_KEYS = ("bearing", "distance", "height")


def crossed(a: NDArray[np.float64], b: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return a × b of two vectors, (3,); numpy's own, made for many at a time, takes ten times as long for two."""
    (ax, ay, az), (bx, by, bz) = a.tolist(), b.tolist()
    return np.array((ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx))


@dataclass(frozen=True)
class PlaceKind(Kind):
    """Reads a place in either way of writing it."""

    def parse(self, value: object) -> Vec3:
        """Return (x, y, z), m.

        Raises
        ------
        PydanticCustomError
            When it is neither three lengths nor a bearing with a distance.
        """
        if isinstance(value, Mapping):
            place = _from_bearing(value)
        elif isinstance(value, list | tuple) and len(value) == 3:
            x, y, z = (PLACE.parse(one) for one in value)
            place = (x, y, z)
        else:
            raise misfit(value, _FITS)
        if math.hypot(*place) > FARTHEST:
            raise refusal(
                f"found a place {math.hypot(*place):g} m away; within {FARTHEST:g} m of the subject would fit"
            )
        return place

    def describe(self) -> dict[str, Any]:
        """Describe both ways of writing it."""
        length = {"type": "string", "examples": ["12 cm"], "description": "a length"}
        bearing = {
            "type": "object",
            "properties": {
                "bearing": {
                    "type": "string",
                    "description": "plan angle: 0 at the camera, 90 deg at camera right",
                },
                "distance": {"type": "string", "description": "length in plan, from the subject's mark"},
                "height": {"type": "string", "description": "length above the mark; 0 when left out"},
            },
            "required": ["bearing", "distance"],
            "additionalProperties": False,
        }
        three = {"type": "array", "items": length, "minItems": 3, "maxItems": 3}
        return {
            "anyOf": [three, bearing],
            "description": "a place: x to camera right, y up, z toward the camera",
        }


def _from_bearing(value: Mapping[str, Any]) -> Vec3:
    unknown = [key for key in value if key not in _KEYS]
    if unknown or "bearing" not in value or "distance" not in value:
        named = f"{found(unknown[0])} is none of its keys; " if unknown else ""
        raise misfit(value, named + _FITS)
    bearing = ANGLE.parse(value["bearing"])
    distance = DEPTH.parse(value["distance"])
    height = PLACE.parse(value["height"]) if "height" in value else 0.0
    return (distance * math.sin(bearing), height, distance * math.cos(bearing))


Place = Annotated[Vec3, PlaceKind()]
ORIGIN: Vec3 = (0.0, 0.0, 0.0)
