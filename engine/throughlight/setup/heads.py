"""Heads: what shines, how strongly, from where. Output by joules, by a meter reading or by a guide number."""

from __future__ import annotations

import re
from collections.abc import Collection
from typing import Annotated

from pydantic import BeforeValidator, Field, field_validator, model_validator

from throughlight.setup.base import Part, filled, kit_entry, same_place
from throughlight.setup.faces import Face
from throughlight.setup.kind import misfit, refusal
from throughlight.setup.place import ORIGIN, Place
from throughlight.setup.units import (
    Angle,
    Beam,
    Efficacy,
    Energy,
    FNumber,
    IsoSpeed,
    Size,
    StopRange,
    Stops,
    Temperature,
    pure,
)

_LAMBERTIAN = 2.0943951023931953
_READING = re.compile(r"\s*(f/[\d.]+)\s+at\s+([^,]{1,30}?)\s*,\s*(ISO\s*[\d.]+)\s*", re.IGNORECASE)
_WAYS = ("energy", "meter", "guide_number")

Efficiency = Annotated[float, pure("an efficiency", 0.0, 1.0, "0.7", above=True)]


class Meter(Part):
    """A flat-receptor flash meter's reading on the head's axis."""

    f_number: FNumber = Field(description="what the meter shows")
    distance: Size = Field(description="from the face (of a tube: from its axis) to the meter")
    iso: IsoSpeed = Field(100.0, description="ISO speed set on the meter")


def _spelled_out(value: object) -> object:
    """Turn "f/11 at 1 m, ISO 100" into its table."""
    if not isinstance(value, str):
        return value
    match = _READING.fullmatch(value) if len(value) < 80 else None
    if match is None:
        raise misfit(value, 'a meter reading would fit, such as "f/11 at 1 m, ISO 100"')
    return dict(zip(("f_number", "distance", "iso"), match.groups(), strict=True))


class Head(Part):
    """A flash head with its modifier."""

    name: str = Field("head", min_length=1, max_length=80, description="what the sheets call it")
    at: Place = Field(description="the middle of its face")
    aim: Place = Field(ORIGIN, description="where it points; the subject's mark when left out")
    roll: Angle = Field(0.0, description="turn about its axis")
    modifier: str | None = Field(None, description="kit name of a bowl, softbox or tube: face, beam and efficiency")
    face: Face = Field(description="what shines: disc, rectangle or tube")
    beam: Beam = Field(_LAMBERTIAN, description="full angle at half the axial intensity; 120 deg is Lambertian")
    efficiency: Efficiency = Field(1.0, description="share of the light that leaves the modifier")
    energy: Energy | None = Field(None, description="stored energy of one flash")
    efficacy: Efficacy = Field(35.0, description="light per stored energy")
    meter: Annotated[Meter, BeforeValidator(_spelled_out, json_schema_input_type=Meter | str)] | None = Field(
        None, description='meter reading, such as "f/11 at 1 m, ISO 100"'
    )
    guide_number: Size | None = Field(None, description="guide number at ISO 100, a length")
    stops: Stops = Field(0.0, description="turned up or down from that")
    range: StopRange = Field(6.0, description="how far the head can be turned down from that")
    temperature: Temperature = Field(5600.0, description="colour temperature")

    @model_validator(mode="before")
    @classmethod
    def _filled_from_modifier(cls, data: object) -> object:
        return filled(data, "modifier", "modifiers")

    @field_validator("modifier")
    @classmethod
    def _known_modifier(cls, name: str | None) -> str | None:
        return None if name is None else kit_entry(name, "modifiers").name

    @classmethod
    def unmet(cls, keys: Collection[str]) -> str | None:
        """Say that a head has exactly one output."""
        given = [way for way in _WAYS if way in keys]
        if len(given) == 1:
            return None
        said = f"found {' and '.join(given)} together" if given else "the head has no energy"
        return (
            f'{said}; exactly one of energy ("250 J"), meter ("f/11 at 1 m, ISO 100") '
            'and guide_number ("40 m") would fit'
        )

    @model_validator(mode="after")
    def _points_somewhere(self) -> Head:
        if same_place(self.at, self.aim):
            raise refusal('"at" and "aim" are the same place; a head that points somewhere would fit')
        return self
