"""A subject: its shape, what it is made of, and what may fill or coat it."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from pydantic import Field, ValidationError, ValidationInfo, field_validator, model_validator
from pydantic_core import InitErrorDetails

from throughlight.setup.base import Part, Vec3, same_place
from throughlight.setup.finishes import KitSurface
from throughlight.setup.kind import refusal
from throughlight.setup.material import KitMaterial, Material, needs_thickness
from throughlight.setup.place import ORIGIN, Place
from throughlight.setup.shapes import Mesh, Revolve, Shape, Slab
from throughlight.setup.units import Angle, Size


class EvenMatter(Part):
    """Matter beside the body's own; it cannot be mapped, since nothing says how thick it is."""

    material: KitMaterial = Field(description="kit name or own coefficients")

    @field_validator("material")
    @classmethod
    def _is_even(cls, material: Material) -> Material:
        needs_thickness(material, False)
        return material


class Fill(EvenMatter):
    """A liquid in a vessel. Its surface is flat: how it climbs the wall (the meniscus) is not modelled."""

    level: Size = Field(description="how high it stands over the inside bottom, as a ruler in it would read")


class Coat(EvenMatter):
    """A layer all round a body, within its outer size: a skin over flesh, a glaze over porcelain."""

    thickness: Size = Field(description="thickness")


class Subject(Part):
    """What is photographed; its middle (of a revolved body or a mesh: its own zero) stands on the mark."""

    name: str = Field("subject", min_length=1, max_length=80, description="what the sheets call it")
    shape: Shape = Field(description="slab, sphere, revolve or mesh")
    at: Place = Field(ORIGIN, description="its middle, or a profile's or mesh's zero; the mark when left out")
    aim: Place | None = Field(
        None, description="what its front faces; the camera when left out (a revolved body stays upright)"
    )
    turn: Angle = Field(0.0, description="turn about the axis through its front")
    material: KitMaterial | None = Field(None, description="translucent: kit name or own coefficients")
    surface: KitSurface | None = Field(None, description="opaque: kit name or own finish")
    fill: Fill | None = Field(None, description="the liquid in a vessel")
    coat: Coat | None = Field(None, description="a layer all round it")
    counts: bool = Field(True, strict=True, description="whether the subject's reading takes it in; false: a prop")

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
        if "shape" in info.data:
            needs_thickness(material, isinstance(info.data["shape"], Slab))
        return material

    @field_validator("fill")
    @classmethod
    def _holds_it(cls, fill: Fill | None, info: ValidationInfo) -> Fill | None:
        shape = info.data.get("shape")
        if fill is None or shape is None:
            return fill
        if not isinstance(shape, Revolve) or shape.wall is None:
            raise refusal('only a vessel holds a liquid; a shape of kind "revolve" with a wall would fit')
        from throughlight.setup.sections import liquid

        try:
            liquid(shape.form, fill.level)
        except ValueError as trouble:
            raise _at("level", str(trouble)) from None
        return fill

    @field_validator("coat")
    @classmethod
    def _has_room(cls, coat: Coat | None, info: ValidationInfo) -> Coat | None:
        shape = info.data.get("shape")
        if coat is None or shape is None:
            return coat
        if isinstance(shape, Mesh):
            raise refusal("a coat inside a mesh is not worked out; a slab, sphere or revolve would fit")
        from throughlight.setup.coats import leave_core

        try:
            leave_core(shape, coat.thickness)
        except ValueError as trouble:
            raise _at("thickness", str(trouble)) from None
        return coat

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

    def faces(self, camera: Vec3) -> Vec3:
        """Return the place that its front faces; left out, the camera at `camera`, or the place level with it."""
        if self.aim is not None:
            return self.aim
        if not isinstance(self.shape, Revolve):
            return camera
        level = (camera[0], self.at[1], camera[2])
        return (self.at[0], self.at[1], self.at[2] + 1.0) if same_place(level, self.at) else level


def _at(key: str, words: str) -> ValidationError:
    """Return a finding at a key inside the table that is being checked."""
    details: Any = [InitErrorDetails(type=refusal(words), loc=(key,), input=None)]
    return ValidationError.from_exception_data("Subject", details)
