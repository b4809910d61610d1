"""Gels: a coloured filter before a head, by its transmittance or by the shift of colour temperature it makes."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Annotated

from pydantic import BeforeValidator, Field, model_validator

from throughlight.setup.bands import Band, Transmittances
from throughlight.setup.base import Part, from_kit
from throughlight.setup.kind import refusal
from throughlight.setup.units import Mired, Temperature


class Gel(Part):
    """A gel: transmittance in three bands, or a shift of colour temperature; both are shares of the light before it."""

    name: str = Field("own gel", max_length=80, description="what the sheets call it")
    like: str | None = Field(None, description="kit name to start from; the other keys change it")
    transmittance: Transmittances | None = Field(
        None, description="all bands, or red, green and blue; beside a shift: the share of light that passes"
    )
    from_: Temperature | None = Field(None, alias="from", description="colour temperature before the gel")
    to: Temperature | None = Field(None, description="colour temperature behind it")
    shift: Mired | None = Field(None, description="or the shift itself; above zero is warmer")

    @classmethod
    def unmet(cls, keys: Collection[str]) -> str | None:
        """Say that a gel is one thing or the other."""
        pair, shift = ("from" in keys) + ("to" in keys), "shift" in keys
        if "like" in keys or (pair == 2 and not shift) or (pair == 0 and (shift or "transmittance" in keys)):
            return None
        return (
            'a gel has either transmittance ([0.9, 0.6, 0.3]), or from and to ("5600 K", "3200 K"), '
            'or a shift ("67 mired")'
        )

    @model_validator(mode="after")
    def _passes_light(self) -> Gel:
        if self.transmittance is None:
            return self
        if max(self.transmittance) <= 0.0:
            raise refusal("the gel lets no light through; a transmittance above zero would fit")
        if self.mired is not None and min(self.transmittance) < max(self.transmittance):
            raise refusal("beside a shift of colour, one transmittance for all the light would fit, such as 0.55")
        return self

    @property
    def mired(self) -> float | None:
        """Return the shift, mired, or None for a gel given by its bands."""
        if self.from_ is not None and self.to is not None:
            return 1e6 / self.to - 1e6 / self.from_
        return self.shift

    @property
    def bands(self) -> Band:
        """Return the transmittance by band of a gel that is given by it."""
        assert self.transmittance is not None
        return self.transmittance


def gel_from(value: object) -> object:
    """Return the table that stands for a gel given by kit name, by three bands, or inline."""
    if isinstance(value, list | tuple):
        return {"transmittance": value}
    if isinstance(value, Mapping) and "like" not in value:
        return value
    return from_kit(value, "gels")


KitGel = Annotated[Gel, BeforeValidator(gel_from, json_schema_input_type=Gel | str | list[float])]
