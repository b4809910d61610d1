"""Three bands, red, green and blue (ITU-R BT.709): one value for all, three values, or three numbers and one unit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Any

from throughlight.setup.kind import Kind, misfit
from throughlight.setup.units import PER_LENGTH, REFLECTANCE, TRANSMITTANCE, Quantity

Band = tuple[float, float, float]


@dataclass(frozen=True)
class Bands(Kind):
    """Three quantities of one kind: `0.9`, `[0.9, 0.8, 0.7]`, `"0.2 1/mm"` or `"2.2 2.4 2.0 1/mm"`."""

    kind: Quantity

    def parse(self, value: object) -> Band:
        """Return red, green and blue in SI.

        Raises
        ------
        PydanticCustomError
            When it is neither one value nor three, or a value does not fit its kind.
        """
        if isinstance(value, str):
            words = value.split(maxsplit=3)
            if len(words) == 4 and len(value) < 160:
                value = [f"{number.rstrip(',')} {words[3]}" for number in words[:3]]
        if not isinstance(value, list | tuple):
            one = self.kind.parse(value)
            return (one, one, one)
        if len(value) != 3:
            raise misfit(value, f"one value, or three for red, green and blue: {self.kind.fits}")
        red, green, blue = (self.kind.parse(one) for one in value)
        return (red, green, blue)

    def describe(self) -> dict[str, Any]:
        """Describe both ways of writing it."""
        one = self.kind.describe()
        three = {"type": "array", "items": one, "minItems": 3, "maxItems": 3}
        return {
            "anyOf": [one, three],
            "description": f"{one['description']}; three of them are red, green and blue",
        }


Reflectances = Annotated[Band, Bands(REFLECTANCE)]
Coefficients = Annotated[Band, Bands(PER_LENGTH)]
Transmittances = Annotated[Band, Bands(TRANSMITTANCE)]
