"""The subject: its shape, and either a material that light enters or a surface that it does not."""

from __future__ import annotations

from collections.abc import Collection
from pathlib import Path
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, ValidationInfo, field_validator, model_validator

from throughlight.setup.base import Part, folder_of, same_place
from throughlight.setup.faces import Outline
from throughlight.setup.kind import misfit, refusal
from throughlight.setup.material import KitMaterial, Material, needs_thickness
from throughlight.setup.place import ORIGIN, Place
from throughlight.setup.surfaces import KitSurface
from throughlight.setup.units import LENGTHS, Angle, Size, pure


class Slab(Part):
    """A flat slice: an outline and a thickness. Its front faces the subject's aim."""

    kind: Literal["slab"] = "slab"
    outline: Outline = Field(description="disc, rectangle or polygon")
    thickness: Size = Field(description="thickness")


class Sphere(Part):
    """A ball."""

    kind: Literal["sphere"] = "sphere"
    diameter: Size = Field(description="diameter")


def _unit_size(value: object) -> float:
    if not isinstance(value, str) or value not in LENGTHS:
        raise misfit(value, f"the unit of the file's numbers would fit: {', '.join(LENGTHS)}")
    return float(LENGTHS[value])


class Mesh(Part):
    """A shape from a file: STL, OBJ, PLY or GLB."""

    kind: Literal["mesh"] = "mesh"
    file: Path = Field(description="STL, OBJ, PLY or GLB, beside the setup file")
    unit: Annotated[
        float, BeforeValidator(_unit_size, json_schema_input_type=Literal["m", "cm", "mm", "um", "in", "ft"])
    ] = Field(description="unit of the file's numbers")
    scale: Annotated[float, pure("a scale", 0.0, 1e6, "1.0", above=True)] = Field(1.0, description="enlargement")

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


Shape = Annotated[Slab | Sphere | Mesh, Field(discriminator="kind")]


class Subject(Part):
    """What is photographed; its middle stands on the mark when nothing else is said."""

    name: str = Field("subject", min_length=1, max_length=80, description="what the sheets call it")
    shape: Shape = Field(description="slab, sphere or mesh")
    at: Place = Field(ORIGIN, description="its middle; the mark when left out")
    aim: Place | None = Field(None, description="what its front faces; the camera when left out")
    turn: Angle = Field(0.0, description="turn about the axis through its front")
    material: KitMaterial | None = Field(None, description="translucent: kit name or own coefficients")
    surface: KitSurface | None = Field(None, description="opaque: kit name or own finish")

    @classmethod
    def unmet(cls, keys: Collection[str]) -> str | None:
        """Say that a subject is made of exactly one thing."""
        if ("material" in keys) != ("surface" in keys):
            return None
        said = "found both material and surface" if "material" in keys else "the subject has no material or surface"
        return f"{said}; exactly one of material (translucent) and surface (opaque) would fit"

    @field_validator("material")
    @classmethod
    def _map_has_a_thickness(cls, material: Material | None, info: ValidationInfo) -> Material | None:
        needs_thickness(material, "shape" not in info.data or isinstance(info.data["shape"], Slab))
        return material

    @model_validator(mode="after")
    def _faces_somewhere(self) -> Subject:
        if self.aim is not None and same_place(self.at, self.aim):
            raise refusal('"at" and "aim" are the same place; a subject that faces something would fit')
        return self

    @model_validator(mode="after")
    def _has_an_inside(self) -> Subject:
        if self.material is not None and isinstance(self.shape, Mesh):
            from throughlight.setup.meshes import needs_inside

            needs_inside(self.shape.file)
        return self
