"""Thin sheets that are looked through: clear wrap, tracing paper, scrims, diffusion film.

Of the light that falls on a sheet along its normal it passes some straight on, spreads some over its other side and
gives some back, spread. A film of index n > 1 also mirrors, and what passes, is spread and given back is at most

    T(0) = 2n / (n² + 1)

which is what a clear plate passes along the normal (Stokes 1862, "On the intensity of the light reflected from or
transmitted through a pile of plates", Proc. R. Soc. 11).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated

from pydantic import BeforeValidator, Field, ValidationError, field_validator, model_validator
from pydantic_core import InitErrorDetails

from throughlight.setup.bands import Band, Reflectances, Transmittances
from throughlight.setup.base import Part, from_kit, kit_entry, same_place
from throughlight.setup.kind import refusal
from throughlight.setup.place import ORIGIN, Place
from throughlight.setup.units import Angle, Size, pure

_ROUNDING = 1e-9


def most_passed(n: float) -> float:
    """Return what a clear plate of index n passes along its normal, 2n/(n² + 1)."""
    return 2.0 * n / (n * n + 1.0)


class Sheeting(Part):
    """What a sheet is made of: its shares of light along the normal, alike on both sides."""

    name: str = Field("own sheet", max_length=80, description="what the sheets call it")
    like: str | None = Field(None, description="kit name to start from; the other keys change it")
    transmittance: Transmittances = Field(description="all that passes, straight and spread: all bands, or [r, g, b]")
    diffuse: Transmittances = Field(description="the part of it that is spread; 0 for a clear sheet")
    reflectance: Reflectances = Field((0.0, 0.0, 0.0), description="share of the light given back, spread")
    n: Annotated[float, pure("a refractive index", 1.0, 4.0, "1.5")] = Field(
        1.0, description="refractive index of a film with glossy faces; left out: it mirrors nothing"
    )

    @field_validator("like")
    @classmethod
    def _known(cls, name: str | None) -> str | None:
        return None if name is None else kit_entry(name, "sheets").name

    @model_validator(mode="after")
    def _gives_no_more_than_it_gets(self) -> Sheeting:
        wrong = [*self._spreads_too_much(), *self._passes_too_much()]
        if wrong:
            raise ValidationError.from_exception_data("Sheeting", wrong)
        return self

    def _spreads_too_much(self) -> Iterator[InitErrorDetails]:
        spread, total = max(zip(self.diffuse, self.transmittance, strict=True), key=lambda pair: pair[0] - pair[1])
        if spread > total + _ROUNDING:
            words = f"found {spread:g} spread where {total:g} passes in all; at most {total:g} would fit"
            yield InitErrorDetails(type=refusal(words), loc=("diffuse",), input=None)

    def _passes_too_much(self) -> Iterator[InitErrorDetails]:
        most = most_passed(self.n)
        total, back = max(zip(self.transmittance, self.reflectance, strict=True), key=sum)
        if total + back > most + _ROUNDING:
            rest = f": a film of n = {self.n:g} mirrors the rest" if self.n > 1.0 else ""
            words = (
                f"found {total:g} that passes and {back:g} given back; at most {_floor(most)} together would fit{rest}"
            )
            yield InitErrorDetails(type=refusal(words), loc=("transmittance",), input=None)

    @property
    def straight(self) -> Band:
        """Return the share that passes straight on, by band."""
        red, green, blue = (
            max(0.0, total - spread) for total, spread in zip(self.transmittance, self.diffuse, strict=True)
        )
        return (red, green, blue)


def _floor(share: float) -> str:
    """Return a limit with four digits, never above it."""
    return f"{int(share * 1e4 + 1e-6) / 1e4:g}"


def sheeting_from(value: object) -> object:
    """Return the table that stands for a sheet's matter given by kit name or inline."""
    return from_kit(value, "sheets")


KitSheeting = Annotated[Sheeting, BeforeValidator(sheeting_from, json_schema_input_type=Sheeting | str)]


class Sheet(Part):
    """A sheet stretched flat: light falls through it, straight or spread, from either side."""

    name: str = Field("sheet", min_length=1, max_length=80, description="what the sheets call it")
    at: Place = Field(description="its middle")
    aim: Place = Field(ORIGIN, description="what it faces; the subject's mark when left out")
    roll: Angle = Field(0.0, description="turn about its middle")
    width: Size = Field(description="width")
    height: Size = Field(description="height")
    sheeting: KitSheeting = Field(alias="sheet", description="kit name of a sheet, or shares of your own")

    @model_validator(mode="after")
    def _faces_something(self) -> Sheet:
        if same_place(self.at, self.aim):
            raise refusal('"at" and "aim" are the same place; a sheet that faces something would fit')
        return self
