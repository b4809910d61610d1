"""Flat outlines and emitting faces that are given by sizes: disc, rectangle, polygon, tube."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field, field_validator

from throughlight.setup.base import Part
from throughlight.setup.islands import Island, Islands
from throughlight.setup.kind import misfit, refusal
from throughlight.setup.units import PLACE, Size

MOST_POINTS = 10_000


class Disc(Part):
    """A disc."""

    shape: Literal["disc"] = "disc"
    diameter: Size = Field(description="diameter")


class Rectangle(Part):
    """A rectangle."""

    shape: Literal["rectangle"] = "rectangle"
    width: Size = Field(description="width")
    height: Size = Field(description="height")


class Tube(Part):
    """A tube that shines all round its side; it lies level, across the line to its aim."""

    shape: Literal["tube"] = "tube"
    length: Size = Field(description="length")
    diameter: Size = Field(description="diameter")


class Polygon(Part):
    """An outline through points, closed by itself; x to the right and y up as seen from the front."""

    shape: Literal["polygon"] = "polygon"
    points: tuple[tuple[float, float], ...] = Field(
        description='corners in order, such as [["-3 cm", "0 cm"], ["3 cm", "0 cm"], ["0 cm", "5 cm"]]',
        json_schema_extra={
            "items": {"type": "array", "items": {"type": "string"}, "minItems": 2, "maxItems": 2},
            "minItems": 3,
        },
    )

    @field_validator("points", mode="before")
    @classmethod
    def _read_points(cls, value: object) -> tuple[tuple[float, float], ...]:
        fits = f"3 to {MOST_POINTS} corners of two lengths each would fit"
        if not isinstance(value, list | tuple) or not 3 <= len(value) <= MOST_POINTS:
            raise misfit(value, fits)
        if not all(isinstance(point, list | tuple) and len(point) == 2 for point in value):
            raise misfit(value, fits)
        return tuple((PLACE.parse(x), PLACE.parse(y)) for x, y in value)

    @field_validator("points", mode="after")
    @classmethod
    def _simple(cls, points: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
        from shapely.geometry import Polygon as Outline

        outline = Outline(points)
        if not outline.is_valid or outline.area <= 0.0:
            raise refusal("the outline crosses or touches itself; an outline with an inside would fit")
        return points

    @property
    def islands(self) -> Islands:
        """What it encloses."""
        return (Island(self.points),)


Face = Annotated[Disc | Rectangle | Tube, Field(discriminator="shape")]
