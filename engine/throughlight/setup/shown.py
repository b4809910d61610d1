"""What a meter shows, as it stands on it: aperture, shutter time, exposure value or lux, each as stops of light."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Annotated, Any, NamedTuple

from throughlight.setup.kind import Kind, misfit
from throughlight.setup.units import ILLUMINANCE, TIME

_FITS = '"f/16", "f/16 + 0.3 stop", "1/60 s", "EV 11.3" or "300 lx" would fit'
_APERTURE = re.compile(r"\s*f/\s*(\d{1,3}(?:\.\d{1,4})?)\s*(?:([+-])\s*(\d(?:\.\d{1,3})?)\s*stops?)?\s*", re.IGNORECASE)
_VALUE = re.compile(r"\s*EV\s*([+-]?\d{1,2}(?:\.\d{1,3})?)\s*", re.IGNORECASE)
_LIGHT = re.compile(r".{1,20}(?:lx|lux|fc)\s*")


class Shown(NamedTuple):
    """A meter's figure.

    sort: aperture, shutter time, exposure value or light. stops: log2 of the light, up to a constant of the sort.
    """

    sort: str
    stops: float


@dataclass(frozen=True)
class ShownKind(Kind):
    """Reads a meter's figure. More light: a smaller aperture (larger number), a shorter time, a higher value."""

    def parse(self, value: object) -> Shown:
        """Return the sort of figure and the stops of light.

        Raises
        ------
        PydanticCustomError
            When no meter shows that.
        """
        if not isinstance(value, str) or len(value) > 40:
            raise misfit(value, f"what the meter shows: {_FITS}")
        if match := _APERTURE.fullmatch(value):
            number, sign, tenths = float(match[1]), match[2], match[3]
            if number > 0.0:
                more = 0.0 if tenths is None else float(f"{sign}{tenths}")
                return Shown("aperture", 2.0 * math.log2(number) + more)
        elif match := _VALUE.fullmatch(value):
            return Shown("exposure value", float(match[1]))
        elif _LIGHT.fullmatch(value):
            light = ILLUMINANCE.parse(value)
            if light > 0.0:
                return Shown("light", math.log2(light))
        elif value.strip().endswith("s"):
            return Shown("shutter time", -math.log2(TIME.parse(value)))
        raise misfit(value, f"what the meter shows: {_FITS}")

    def describe(self) -> dict[str, Any]:
        """Describe the text for an editor."""
        return {"type": "string", "examples": ["f/16 + 0.3 stop"], "description": f"what the meter shows: {_FITS}"}


MeterShows = Annotated[Shown, ShownKind()]
