"""Translucent matter: how it scatters and absorbs, what its skin is like, and the picture it may be mapped from."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field, field_validator

from throughlight.setup.bands import Band, Bands, Coefficients
from throughlight.setup.base import Part, from_kit, kit_entry
from throughlight.setup.kind import refusal
from throughlight.setup.laid import LaidPicture
from throughlight.setup.units import PERCENT, Quantity, Size, pure

_WHITE = Quantity("a share of white", PERCENT.units, ("0.94", "94 %"), low=0.0, above=True, high=1.0, bare=True)


class Map(LaidPicture):
    """A picture of the slice on a light table, from which each place gets coefficients of its own.

    The picture lies on the slab's front, its middle on the slab's middle, upright as the subject stands, and goes on
    unchanged through the thickness; beyond its edges its border repeats.
    """

    thickness: Size | None = Field(
        None, description="thickness of the slice when it was photographed; the slab's when left out"
    )
    bare: Annotated[Band, Bands(_WHITE)] = Field(
        (1.0, 1.0, 1.0),
        description="code value of the bare light table in the picture, as a share of white (240 of 255 is 0.94)",
    )
    seen: Literal["light table", "diffuse"] = Field(
        "light table",
        description="how the slice was seen: straight on before an even light, or all the light that comes through",
    )


class Material(Part):
    """Translucent matter: how it scatters and absorbs, and what its skin is like. Coefficients in 1/m once read."""

    name: str = Field("own material", max_length=80, description="what the sheets call it")
    like: str | None = Field(None, description="kit name to start from; the other keys change it")
    reduced_scattering: Coefficients = Field(description="µs′ = (1 − g)·µs: all bands, or red, green and blue")
    absorption: Coefficients = Field(description="µa: all bands, or red, green and blue; a map takes its place")
    g: Annotated[float, pure("an asymmetry", -0.99, 0.99, "0.8")] = Field(
        0.0, description="mean cosine of the scattering angle"
    )
    n: Annotated[float, pure("a refractive index", 1.0, 4.0, "1.5")] = Field(1.5, description="refractive index")
    roughness: Annotated[float, pure("a roughness", 0.0, 1.0, "0.3")] = Field(
        0.0, description="GGX roughness α of the skin; 0 is polished"
    )
    map: Map | None = Field(None, description="picture of the slice on a light table")

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
    """Return the table that stands for a material given by kit name or inline; a map gives the absorption."""
    table = from_kit(value, "materials")
    if isinstance(table, Mapping) and "map" in table and "absorption" not in table:
        return {**table, "absorption": "0 1/m"}
    return table


def needs_thickness(material: Material | None, has_one: bool) -> None:
    """Check that the thickness through which a mapped material was photographed is known.

    Parameters
    ----------
    material
        What the body is made of.
    has_one
        Whether the body has a thickness of its own, as a slab has.

    Raises
    ------
    PydanticCustomError
        When it is not.
    """
    if material is not None and material.map is not None and material.map.thickness is None and not has_one:
        raise refusal(
            "a map tells what a slice of known thickness passes, and this body has no one thickness; "
            "a slab, or the slice's thickness in the map, would fit"
        )


KitMaterial = Annotated[Material, BeforeValidator(material_from, json_schema_input_type=Material | str)]
