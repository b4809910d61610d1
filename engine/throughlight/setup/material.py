"""Translucent matter: how it scatters and absorbs, and what its skin is like."""

from __future__ import annotations

from typing import Annotated

from pydantic import BeforeValidator, Field, field_validator

from throughlight.setup.bands import Band, Coefficients
from throughlight.setup.base import Part, from_kit, kit_entry
from throughlight.setup.units import pure


class Material(Part):
    """Translucent matter: how it scatters and absorbs, and what its skin is like. Coefficients in 1/m once read."""

    name: str = Field("own material", max_length=80, description="what the sheets call it")
    like: str | None = Field(None, description="kit name to start from; the other keys change it")
    reduced_scattering: Coefficients = Field(description="µs′ = (1 − g)·µs: all bands, or red, green and blue")
    absorption: Coefficients = Field(description="µa: all bands, or red, green and blue")
    g: Annotated[float, pure("an asymmetry", -0.99, 0.99, "0.8")] = Field(
        0.0, description="mean cosine of the scattering angle"
    )
    n: Annotated[float, pure("a refractive index", 1.0, 4.0, "1.5")] = Field(1.5, description="refractive index")
    roughness: Annotated[float, pure("a roughness", 0.0, 1.0, "0.3")] = Field(
        0.0, description="GGX roughness α of the skin; 0 is polished"
    )

    @property
    def scattering(self) -> Band:
        """Scattering coefficient µs = µs′/(1 − g), 1/m."""
        red, green, blue = (one / (1.0 - self.g) for one in self.reduced_scattering)
        return (red, green, blue)

    @field_validator("like")
    @classmethod
    def _known(cls, name: str | None) -> str | None:
        return None if name is None else kit_entry(name, "materials").name


def material_from(value: object) -> object:
    """Return the table that stands for a material given by kit name or inline."""
    return from_kit(value, "materials")


KitMaterial = Annotated[Material, BeforeValidator(material_from, json_schema_input_type=Material | str)]
