"""Windows: rectangles of even luminance that shine into the room all the time."""

from __future__ import annotations

from pydantic import Field, model_validator

from throughlight.setup.base import Part, same_place
from throughlight.setup.kind import refusal
from throughlight.setup.place import ORIGIN, Place
from throughlight.setup.units import Angle, Luminance, Size, Temperature


class Window(Part):
    """A window: as bright from everywhere, for as long as the shutter is open."""

    name: str = Field("window", min_length=1, max_length=80, description="what the sheets call it")
    at: Place = Field(description="its middle")
    aim: Place = Field(ORIGIN, description="where it looks into the room; the subject's mark when left out")
    roll: Angle = Field(0.0, description="turn about that line")
    width: Size = Field(description="width")
    height: Size = Field(description="height")
    luminance: Luminance = Field(description="what a spot meter reads off it")
    temperature: Temperature = Field(5600.0, description="colour temperature")

    @model_validator(mode="after")
    def _looks_somewhere(self) -> Window:
        if same_place(self.at, self.aim):
            raise refusal('"at" and "aim" are the same place; a window that looks somewhere would fit')
        return self
