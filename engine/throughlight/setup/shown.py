"""What a meter shows, as it stands on it: aperture, shutter time, exposure value or lux, each as stops of light.

Engraved apertures and times are rounded: f/22 is 2^4.5 = 22.6 and 1/60 s is 1/64 s. The mark is meant and not its
number, so each counts as the third or half of a stop that it stands for.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Annotated, Any, NamedTuple

from throughlight.setup.kind import Kind, misfit
from throughlight.setup.trade_numbers import plain_number, plain_stops
from throughlight.setup.units import ILLUMINANCE, TIME

_FITS = '"f/16", "f/16 + 0.3 stop", "1/60 s", "EV 11.3" or "300 lx" would fit'
_APERTURE = re.compile(r"\s*f/\s*(\d{1,3}(?:\.\d{1,4})?)\s*(?:([+-])\s*(\d(?:\.\d{1,3})?)\s*stops?)?\s*", re.IGNORECASE)
_VALUE = re.compile(r"\s*EV\s*([+-]?\d{1,2}(?:\.\d{1,3})?)\s*", re.IGNORECASE)
_ROUNDED = 0.1  # stops between an engraved time and the third that it stands for
APERTURES = (
    1.0, 1.1, 1.3, 1.4, 1.6, 1.8, 2.0, 2.2, 2.5, 2.8, 3.2, 3.5, 4.0, 4.5, 5.0, 5.6, 6.3, 7.1, 8.0, 9.0, 10.0, 11.0,
    13.0, 14.0, 16.0, 18.0, 20.0, 22.0, 25.0, 29.0, 32.0, 36.0, 40.0, 45.0, 51.0, 57.0, 64.0, 72.0, 80.0, 90.0,
)  # fmt: skip
_HALVES = {1.2: 0.5, 1.7: 1.5, 2.4: 2.5, 3.3: 3.5, 4.8: 4.5, 6.7: 5.5, 9.5: 6.5, 19.0: 8.5, 27.0: 9.5, 38.0: 10.5}
"""Engraved apertures by thirds from f/1 on, and stops of those at the half: common practice, no source."""
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
        value = plain_number(value)
        if match := _APERTURE.fullmatch(plain_stops(value)):
            number, sign, tenths = float(match[1]), match[2], match[3]
            mark = _mark(number)
            if mark is None:
                raise misfit(value, 'no aperture is engraved so; f/16 and 7 tenths is written "f/16 + 0.7 stop"')
            return Shown("aperture", mark + (0.0 if tenths is None else float(f"{sign}{tenths}")))
        elif match := _VALUE.fullmatch(value):
            return Shown("exposure value", float(match[1]))
        elif _LIGHT.fullmatch(value):
            light = ILLUMINANCE.parse(value)
            if light > 0.0:
                return Shown("light", math.log2(light))
        elif value.strip().endswith("s"):
            stops = -math.log2(TIME.parse(value))
            mark = round(3.0 * stops) / 3.0
            return Shown("shutter time", mark if abs(mark - stops) < _ROUNDED else stops)
        raise misfit(value, f"what the meter shows: {_FITS}")

    def describe(self) -> dict[str, Any]:
        """Describe the text for an editor."""
        return {"type": "string", "examples": ["f/16 + 0.3 stop"], "description": f"what the meter shows: {_FITS}"}


def _mark(number: float) -> float | None:
    """Return the stops, 2·log2 N, that an engraved aperture stands for; None when it is no mark."""
    if number in _HALVES:
        return _HALVES[number]
    return APERTURES.index(number) / 3.0 if number in APERTURES else None


MeterShows = Annotated[Shown, ShownKind()]
