"""What a subject can be: a slab, a ball, a body of revolution, a mesh from a file."""

from __future__ import annotations

from collections.abc import Collection
from itertools import pairwise
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, ValidationInfo, field_validator, model_validator

from throughlight.setup.base import Part, folder_of
from throughlight.setup.faces import Disc, Rectangle
from throughlight.setup.kind import misfit, refusal
from throughlight.setup.outlines import Outline
from throughlight.setup.sections import Form, section
from throughlight.setup.units import DEPTH, LENGTHS, PLACE, Depth, Size, pure

MOST_POINTS = 2000


class Slab(Part):
    """A flat slice: an outline and a thickness. Its front faces the subject's aim."""

    kind: Literal["slab"] = "slab"
    outline: Outline = Field(description="disc, rectangle, polygon, picture or svg")
    thickness: Size = Field(description="thickness")
    edge: Depth = Field(0.0, description="radius to which the rims of front and back are rounded; sharp when left out")

    @field_validator("edge")
    @classmethod
    def _leaves_a_side(cls, edge: float, info: ValidationInfo) -> float:
        outline = info.data.get("outline")
        limits: dict[str, float] = {}
        if "thickness" in info.data:
            limits["thickness"] = 0.5 * info.data["thickness"]
        if isinstance(outline, Disc):
            limits["diameter"] = 0.5 * outline.diameter
        if isinstance(outline, Rectangle):
            limits["shorter side"] = 0.5 * min(outline.width, outline.height)
        for what, most in limits.items():
            if edge > most * (1.0 + 1e-9):
                fits = f"one of at most half the {what} ({most * 1e3:.4g} mm) would fit"
                raise refusal(f"found an edge of {edge * 1e3:.4g} mm; {fits}")
        return min([edge, *limits.values()])


class Sphere(Part):
    """A ball."""

    kind: Literal["sphere"] = "sphere"
    diameter: Size = Field(description="diameter")


class Revolve(Part):
    """A body of revolution about its own upright axis, y; its zero height stands at the subject's place.

    Without a wall it is solid, from the axis to the profile. With one it is a vessel, open at the end of the profile.
    """

    kind: Literal["revolve"] = "revolve"
    profile: tuple[tuple[float, float], ...] = Field(
        description='radius and height from the foot to the rim, such as [["2 cm", "0 cm"], ["3 cm", "5 cm"]]',
        json_schema_extra={
            "items": {"type": "array", "items": {"type": "string"}, "minItems": 2, "maxItems": 2},
            "minItems": 2,
        },
    )
    smooth: bool = Field(False, strict=True, description="draw a smooth curve through the profile's points")
    wall: Size | None = Field(None, description="thickness of a vessel's wall, inside the profile; solid when left out")
    base: Size | None = Field(None, description="thickness of a vessel's bottom at the axis; as the wall when left out")
    rim: Literal["round", "flat"] = Field("round", description="how a vessel's wall ends")
    closed: bool = Field(False, strict=True, description="a hollow body without an opening, from axis to axis")

    @classmethod
    def unmet(cls, keys: Collection[str]) -> str | None:
        """Say what only a vessel has."""
        lone = [key for key in ("base", "rim", "closed") if key in keys and "wall" not in keys]
        return f"found {lone[0]} without a wall, which only a vessel has; a wall would fit" if lone else None

    @field_validator("profile", mode="before")
    @classmethod
    def _read_profile(cls, value: object) -> tuple[tuple[float, float], ...]:
        fits = f"2 to {MOST_POINTS} points of a radius and a height each would fit"
        if not isinstance(value, list | tuple) or not 2 <= len(value) <= MOST_POINTS:
            raise misfit(value, fits)
        if not all(isinstance(point, list | tuple) and len(point) == 2 for point in value):
            raise misfit(value, fits)
        points = tuple((DEPTH.parse(r), PLACE.parse(h)) for r, h in value)
        for i, (one, other) in enumerate(pairwise(points), 2):
            if one == other:
                raise refusal(f"point {i} of the profile is the one before it; points that differ would fit")
        if any(r == 0.0 for r, _ in points[1:-1]):
            raise refusal("the profile meets the axis between its ends; one that stays beside it would fit")
        return points

    @model_validator(mode="after")
    def _can_be_made(self) -> Revolve:
        if self.wall is not None and self.base is not None and self.base < self.wall:
            raise refusal("the base is thinner than the wall; a base of at least the wall's thickness would fit")
        try:
            section(self.form)
        except ValueError as trouble:
            raise refusal(str(trouble)) from None
        return self

    @property
    def form(self) -> Form:
        """What makes its section."""
        return Form(self.profile, self.smooth, self.wall, self.base, self.rim == "round", self.closed)


def _unit_size(value: object) -> float:
    if not isinstance(value, str) or value not in LENGTHS:
        raise misfit(value, f"the unit of the file's numbers would fit: {', '.join(LENGTHS)}")
    return float(LENGTHS[value])


class Mesh(Part):
    """A shape from a file: STL, OBJ, PLY or GLB; the file's zero stands at the subject's place."""

    kind: Literal["mesh"] = "mesh"
    file: Path = Field(description="STL, OBJ, PLY or GLB, beside the setup file")
    unit: Annotated[
        float, BeforeValidator(_unit_size, json_schema_input_type=Literal["m", "cm", "mm", "um", "in", "ft"])
    ] = Field(description="unit of the file's numbers")
    scale: Annotated[float, pure("a scale", 0.0, 1e6, "1.0", above=True)] = Field(1.0, description="enlargement")
    up: Literal["y", "z"] = Field("y", description="the file's axis that points up")

    @field_validator("file", mode="before")
    @classmethod
    def _beside_the_setup(cls, value: object, info: ValidationInfo) -> Path:
        from throughlight.setup.meshes import locate

        return locate(value, folder_of(info))

    @model_validator(mode="after")
    def _can_be_used(self) -> Mesh:
        from throughlight.setup.meshes import inspect

        inspect(self.file, self.metres)
        return self

    @property
    def metres(self) -> float:
        """Metres for one unit of the file."""
        return self.unit * self.scale


Shape = Annotated[Slab | Sphere | Revolve | Mesh, Field(discriminator="kind")]
