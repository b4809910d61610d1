"""Heads: what shines, how strongly, from where. A flash or a continuous lamp, with what sits on it."""

from __future__ import annotations

import math
import re
from collections.abc import Collection, Mapping
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, ValidationInfo, field_validator, model_validator

from throughlight.setup.base import Part, filled, folder_of, kit_entry, same_place
from throughlight.setup.faces import Disc, Face, Rectangle, Tube
from throughlight.setup.gels import KitGel
from throughlight.setup.kind import misfit, refusal
from throughlight.setup.place import ORIGIN, Place
from throughlight.setup.profile import AngularProfile, LampFile, opening_named
from throughlight.setup.shades import BarnDoors, Snoot, left_open
from throughlight.setup.units import (
    Angle,
    Beam,
    CutOff,
    Efficacy,
    Energy,
    FNumber,
    Illuminance,
    IsoSpeed,
    Power,
    Size,
    StopRange,
    Stops,
    Temperature,
    pure,
)

_LAMBERTIAN = 2.0943951023931953
_READING = re.compile(r"\s*(f/[\d.]+)\s+at\s+([^,]{1,30}?)\s*,\s*(ISO\s*[\d.]+)\s*", re.IGNORECASE)
_LUX = re.compile(r"\s*(.{1,30}?)\s+at\s+(.{1,30}?)\s*", re.IGNORECASE)
_FLASH = ("energy", "meter", "guide_number")
_CONTINUOUS = ("power", "illuminance", "output")

Efficiency = Annotated[float, pure("an efficiency", 0.0, 1.0, "0.7", above=True)]


class Meter(Part):
    """A flat-receptor flash meter's reading on the head's axis."""

    f_number: FNumber = Field(description="what the meter shows")
    distance: Size = Field(description="from the face (of a tube: from its axis) to the meter")
    iso: IsoSpeed = Field(100.0, description="ISO speed set on the meter")


class LuxReading(Part):
    """What a flat receptor on a continuous lamp's axis shows."""

    illuminance: Illuminance = Field(description="what the receptor shows")
    distance: Size = Field(description="from the face (of a tube: from its axis) to the receptor")


def _meter_of(value: object) -> object:
    """Turn "f/11 at 1 m, ISO 100" into its table."""
    if not isinstance(value, str):
        return value
    match = _READING.fullmatch(value) if len(value) < 80 else None
    if match is None:
        raise misfit(value, 'a meter reading would fit, such as "f/11 at 1 m, ISO 100"')
    return dict(zip(("f_number", "distance", "iso"), match.groups(), strict=True))


def _lux_of(value: object) -> object:
    """Turn "5000 lx at 1 m" into its table."""
    if not isinstance(value, str):
        return value
    match = _LUX.fullmatch(value) if len(value) < 80 else None
    if match is None:
        raise misfit(value, 'an illuminance and where it is read would fit, such as "5000 lx at 1 m"')
    return dict(zip(("illuminance", "distance"), match.groups(), strict=True))


ReadMeter = Annotated[Meter, BeforeValidator(_meter_of, json_schema_input_type=Meter | str)]
ReadLux = Annotated[LuxReading, BeforeValidator(_lux_of, json_schema_input_type=LuxReading | str)]


def _face_of_lamp(name: str, folder: Path) -> dict[str, str]:
    """Return the table of a lamp file's luminous opening; any will do where the file, as is said of it, is no good."""
    opening = opening_named(name, folder)
    kind, a, b = ("disc", 0.02, 0.0) if opening is None else opening
    if kind == "disc":
        return {"shape": kind, "diameter": f"{a!r} m"}
    return {"shape": kind, "width": f"{a!r} m", "height": f"{b!r} m"}


class Head(Part):
    """A flash head or a continuous lamp, with its modifier and what is hung before it."""

    name: str = Field("head", min_length=1, max_length=80, description="what the sheets call it")
    at: Place = Field(description="the middle of its face")
    aim: Place = Field(ORIGIN, description="where it points; the subject's mark when left out")
    roll: Angle = Field(0.0, description="turn about its axis")
    modifier: str | None = Field(None, description="kit name of a bowl, softbox or tube: face, beam and efficiency")
    face: Face = Field(description="what shines: disc, rectangle or tube")
    beam: Beam = Field(_LAMBERTIAN, description="full angle at half the axial intensity; 120 deg is Lambertian")
    profile: AngularProfile | None = Field(None, description="how the light falls off, instead of the beam")
    efficiency: Efficiency = Field(1.0, description="share of the light that leaves the modifier")
    grid: CutOff | None = Field(None, description="honeycomb grid, by the full angle beyond which nothing passes")
    snoot: Snoot | None = Field(None, description="a black tube before the face")
    barn_doors: BarnDoors | None = Field(None, description="black doors at the edges of the face")
    gel: KitGel | None = Field(None, description="coloured gel: kit name, three transmittances, or a shift of colour")
    energy: Energy | None = Field(None, description="stored energy of one flash")
    efficacy: Efficacy = Field(35.0, description="light per stored energy, or per watt")
    meter: ReadMeter | None = Field(None, description='meter reading as it stands, such as "f/11 at 1 m, ISO 100"')
    guide_number: Size | None = Field(None, description="guide number at ISO 100, a length")
    power: Power | None = Field(None, description="power of a continuous lamp; needs its efficacy")
    illuminance: ReadLux | None = Field(None, description='lamp\'s reading as it stands, such as "5000 lx at 1 m"')
    output: Literal["file"] | None = Field(None, description="a continuous lamp as strong as its LM-63 file says")
    stops: Stops = Field(0.0, description="turned up or down from that")
    range: StopRange = Field(6.0, description="how far the head can be turned down from that")
    temperature: Temperature = Field(5600.0, description="colour temperature")

    @property
    def continuous(self) -> bool:
        """Return whether it shines all the time, and not in a flash."""
        return any(getattr(self, way) is not None for way in _CONTINUOUS)

    @model_validator(mode="before")
    @classmethod
    def _filled_up(cls, data: object, info: ValidationInfo) -> object:
        table = filled(data, "modifier", "modifiers")
        if not isinstance(table, Mapping) or not isinstance(data, Mapping):
            return table
        full: dict[str, Any] = dict(table)
        if "beam" in data and "profile" not in data:
            full.pop("profile", None)  # the head's own word counts before its modifier's
        if isinstance(full.get("profile"), str) and "face" not in full:
            full["face"] = _face_of_lamp(full["profile"], folder_of(info))
        return full

    @field_validator("modifier")
    @classmethod
    def _known_modifier(cls, name: str | None) -> str | None:
        return None if name is None else kit_entry(name, "modifiers").name

    @classmethod
    def unmet(cls, keys: Collection[str]) -> str | None:
        """Say that a head has exactly one output, and one way its light falls off."""
        given = [way for way in (*_FLASH, *_CONTINUOUS) if way in keys]
        if len(given) != 1:
            said = f"found {' and '.join(given)} together" if given else "the head has no energy"
            return (
                f'{said}; exactly one of energy ("250 J"), meter ("f/11 at 1 m, ISO 100") and guide_number ("40 m"), '
                'or for a continuous lamp power ("300 W"), illuminance ("5000 lx at 1 m") and output ("file") would fit'
            )
        if given == ["power"] and "efficacy" not in keys:
            return 'the lamp has a power but no efficacy; about "25 lm/W" for halogen, "90 lm/W" for LED would fit'
        if "beam" in keys and "profile" in keys:
            return "found beam and profile together; one of the two would fit"
        return None

    @model_validator(mode="after")
    def _can_be(self) -> Head:
        for doubt in (self._contradiction(), self._off_colour()):
            if doubt is not None:
                raise refusal(doubt)
        return self

    def _contradiction(self) -> str | None:
        """Return what keys say against one another, in words."""
        if same_place(self.at, self.aim):
            return '"at" and "aim" are the same place; a head that points somewhere would fit'
        if self.output is not None and not isinstance(self.profile, LampFile):
            return 'output = "file" needs a lamp file; profile = "lamp.ies" would fit'
        if isinstance(self.face, Tube):
            flat = [key for key in ("profile", "grid", "snoot", "barn_doors") if getattr(self, key) is not None]
            return f"found {flat[0]} on a tube; a flat face, a disc or a rectangle, would fit" if flat else None
        if self.snoot is not None:
            if left_open(self.face, self.snoot) is None:
                return "the snoot cuts the face's corners; one as narrow as its short side, or round it all, would fit"
            if self._nearest_reading <= self.snoot.length:
                return "the meter stands inside the snoot; a distance beyond its mouth would fit"
        return self._without_axis()

    @property
    def _nearest_reading(self) -> float:
        """Return how far away the head was read, m; infinite where it was not."""
        reading = self.meter if self.meter is not None else self.illuminance
        return math.inf if reading is None else reading.distance

    def _without_axis(self) -> str | None:
        """Return what is wrong with a reading where no light goes."""
        if isinstance(self.profile, LampFile):
            axial = float(self.profile.lamp.candela[:, 0].max())
        else:
            axial = 1.0 if self.profile is None else self.profile.intensities[0]
        if axial <= 0.0 and any(getattr(self, way) is not None for way in ("meter", "guide_number", "illuminance")):
            return "the profile sends no light along the axis, where a reading is taken; energy or power would fit"
        return None

    def _off_colour(self) -> str | None:
        """Return what is wrong between gel and lamp."""
        from throughlight.photometry.gel import shifted

        if self.gel is None or self.gel.mired is None:
            return None
        try:
            shifted(self.temperature, self.gel.mired)
        except ValueError as trouble:
            return f"{trouble}; a weaker gel or a lamp of another colour would fit"
        return None

    @property
    def opening(self) -> Disc | Rectangle | Tube:
        """Return what of the face shines into the set: all of it, or what a snoot leaves open."""
        if self.snoot is None or isinstance(self.face, Tube):
            return self.face
        rest = left_open(self.face, self.snoot)
        return self.face if rest is None else rest
