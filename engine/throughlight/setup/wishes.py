"""What is wanted of the picture, how it is finished, where it is read, and the light of the room."""

from __future__ import annotations

import re
from collections.abc import Collection
from typing import Annotated

from pydantic import BeforeValidator, Field

from throughlight.setup.base import Part
from throughlight.setup.kind import misfit
from throughlight.setup.units import (
    Angle,
    BlackPoint,
    FrameShare,
    Illuminance,
    Lift,
    Saturation,
    SmallAngle,
    StopRange,
    Stops,
    Temperature,
)

_RATIO = re.compile(r"\s*(\d{1,6}(?:\.\d{1,6})?)\s*:\s*(\d{1,6}(?:\.\d{1,6})?)\s*")


class Ambient(Part):
    """The light of the room, the same from all sides."""

    illuminance: Illuminance = Field(description="what a flat receptor at the subject reads")
    temperature: Temperature = Field(5600.0, description="colour temperature")


class Wanted(Part):
    """What the picture has to meet; what is left out is not judged."""

    subject: Stops | None = Field(None, description="subject's mean, stops over mid-grey")
    subject_tolerance: StopRange = Field(0.5, description="how far the subject may be off that")
    backdrop_under: StopRange | None = Field(
        None, description="how far the backdrop's brightest patch must lie under the subject"
    )
    veil: Stops | None = Field(None, description="the most veil that is tolerable, stops over mid-grey")


def _ratio(value: object) -> float:
    match = _RATIO.fullmatch(value) if isinstance(value, str) and len(value) < 40 else None
    if match is None or min(sides := [float(side) for side in match.groups()]) <= 0.0:
        raise misfit(value, 'a ratio of width to height would fit, such as "4:5"')
    if not 0.01 <= sides[0] / sides[1] <= 100.0:
        raise misfit(value, "a ratio from 1:100 to 100:1 would fit")
    return sides[0] / sides[1]


class Finish(Part):
    """What is done to the picture afterwards, in linear light; no reading takes it."""

    turn: Angle = Field(0.0, description="turn of the picture, counter-clockwise")
    straighten: SmallAngle = Field(0.0, description="a small turn more, counter-clockwise, at most 45 degrees")
    crop: Annotated[float, BeforeValidator(_ratio, json_schema_input_type=str)] | None = Field(
        None, description='crop to width:height, such as "4:5"'
    )
    hide_supports: bool = Field(False, strict=True, description="leave wires, rods and clamps out of the picture")
    support_shadows: bool = Field(
        False, strict=True, description="keep the shadows of hidden supports: only the camera looks past them"
    )
    exposure: Lift = Field(0.0, description="lift of the whole picture")
    black_point: BlackPoint | None = Field(None, description="what becomes black, stops over mid-grey")
    saturation: Saturation = Field(1.0, description="strength of colours; 100 % leaves them, 0 % gives greys")

    @classmethod
    def unmet(cls, keys: Collection[str]) -> str | None:
        """Say that shadows are kept of hidden supports only."""
        if "support_shadows" not in keys or "hide_supports" in keys:
            return None
        return "found support_shadows without hide_supports; hide_supports = true beside it would fit"

    @property
    def whole_turn(self) -> float:
        """Return turn and straightening together, radians."""
        return self.turn + self.straighten


class Pitch(Part):
    """What a client reads beside the picture; `title`, `client` and `creator` are the first set's that says them."""

    look: str | None = Field(None, min_length=1, max_length=80, description="name of this look; the set's title if not")
    sentence: str | None = Field(None, max_length=300, description="a sentence of yours under the picture")
    title: str | None = Field(None, min_length=1, max_length=120, description="title of the whole pitch")
    client: str | None = Field(None, min_length=1, max_length=120, description="whom the pitch is for")
    creator: str | None = Field(None, min_length=1, max_length=120, description="who made it; kept in the file too")


class Spot(Part):
    """A place in the frame to read."""

    name: str = Field("spot", min_length=1, max_length=80, description="what the sheets call it")
    x: FrameShare = Field(description="from the frame's left edge")
    y: FrameShare = Field(description="from the frame's top edge")
