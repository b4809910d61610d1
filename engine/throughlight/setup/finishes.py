"""Finishes of opaque things: matte, cloth, mirror, metal, gloss, and a printed pattern on those with a ground.

A metal gives back what Fresnel's law says of its complex index n + ik at 650, 550 and 450 nm, which stand for red,
green and blue. A gloss is a clear skin over a matte ground.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Annotated, Any, Literal, get_args

from pydantic import BeforeValidator, Field, ValidationError, field_validator, model_validator
from pydantic_core import InitErrorDetails

from throughlight.setup.bands import Band, Bands, Reflectances
from throughlight.setup.base import Part, from_kit, kit_entry
from throughlight.setup.kind import Kind, misfit, refusal
from throughlight.setup.laid import LaidPicture
from throughlight.setup.units import PERCENT, PLACE, Quantity, pure

FinishKind = Literal["matte", "cloth", "mirror", "metal", "gloss"]

_NONE: Band = (0.0, 0.0, 0.0)
_ALLOWED = {
    "matte": ("reflectance", "pattern"),
    "cloth": ("reflectance", "pattern", "pile", "sheen"),
    "mirror": ("reflectance",),
    "metal": ("index", "extinction", "roughness"),
    "gloss": ("reflectance", "pattern", "n", "roughness"),
}
"""The keys that say what each kind does with light."""
_SAID = {
    "reflectance": "a reflectance",
    "pattern": "a pattern",
    "pile": "a pile",
    "sheen": "a sheen",
    "index": "an index of red, green and blue",
    "extinction": "an extinction",
    "roughness": "a roughness",
    "n": "an index n",
}
_PRINTED_WHITE = Quantity("a reflectance", PERCENT.units, ("0.85", "85 %"), low=0.001, high=1.0, bare=True)


@dataclass(frozen=True)
class _InFace(Kind):
    """Reads a place in a face's own plane: to its right and up, as its front is looked at."""

    def parse(self, value: object) -> tuple[float, float]:
        """Return (x, y), m.

        Raises
        ------
        PydanticCustomError
            When it is not two lengths.
        """
        if not isinstance(value, list | tuple) or len(value) != 2:
            raise misfit(value, 'two lengths would fit, to the right and up from the middle, such as ["1 cm", "0 cm"]')
        return (PLACE.parse(value[0]), PLACE.parse(value[1]))

    def describe(self) -> dict[str, Any]:
        """Describe the two lengths."""
        return {"type": "array", "items": PLACE.describe(), "minItems": 2, "maxItems": 2}


class Pattern(LaidPicture):
    """A picture printed on a face, in place of an even reflectance; beyond its edges its border goes on.

    Front and back of a card see the same print through the card: its left is the back's right.
    """

    at: Annotated[tuple[float, float], _InFace()] = Field(
        (0.0, 0.0), description="where its middle lies, to the right and up from the middle of the face"
    )
    white: Annotated[float, _PRINTED_WHITE] = Field(1.0, description="reflectance that the picture's white stands for")


class Surface(Part):
    """A finish: matte, cloth with a pile of fibres that catches grazing light, mirror, metal, or gloss."""

    name: str = Field("own finish", max_length=80, description="what the sheets call it")
    like: str | None = Field(None, description="kit name to start from; the other keys change it")
    kind: FinishKind = Field("matte", description="matte, cloth with a pile, mirror, metal, or gloss over a ground")
    reflectance: Reflectances = Field(
        _NONE, description="share of the light given back, 0 to 1: all bands, or [r, g, b]; gloss: by the ground"
    )
    pattern: Pattern | None = Field(None, description="matte, cloth and gloss: a print in place of the reflectance")
    pile: Annotated[float, pure("an optical thickness", 0.0, 10.0, "0.05")] = Field(
        0.0, description="cloth only: optical thickness of the layer of fibres"
    )
    sheen: Reflectances = Field(_NONE, description="cloth only: albedo of the fibres")
    index: Annotated[Band, Bands(pure("a refractive index", 0.0, 20.0, "0.06", above=True))] | None = Field(
        None, description="metal only: n at 650, 550 and 450 nm"
    )
    extinction: Annotated[Band, Bands(pure("an extinction", 0.0, 30.0, "3.6"))] | None = Field(
        None, description="metal only: k at 650, 550 and 450 nm"
    )
    roughness: Annotated[float, pure("a roughness", 0.0, 1.0, "0.3")] = Field(
        0.0, description="metal and gloss: GGX roughness α; 0 is polished"
    )
    n: Annotated[float, pure("a refractive index", 1.0, 4.0, "1.5")] = Field(
        1.5, description="gloss only: refractive index of the clear skin"
    )

    @field_validator("like")
    @classmethod
    def _known(cls, name: str | None) -> str | None:
        return None if name is None else kit_entry(name, "surfaces", "cloths").name

    @model_validator(mode="after")
    def _keys_of_its_kind(self) -> Surface:
        wrong = [*_misplaced(self.kind, self.model_fields_set), *_missing(self.kind, self.model_fields_set)]
        if wrong:
            raise ValidationError.from_exception_data("Surface", wrong)
        return self

    @property
    def complex_index(self) -> tuple[Band, Band]:
        """Return n and k by band of a metal."""
        assert self.index is not None
        assert self.extinction is not None
        return self.index, self.extinction


def _misplaced(kind: FinishKind, keys: set[str]) -> Iterator[InitErrorDetails]:
    """Say which keys belong to finishes of other kinds, or to none together."""
    for key in _SAID:
        if key in keys and key not in _ALLOWED[kind]:
            kinds = [f'"{one}"' for one in get_args(FinishKind) if key in _ALLOWED[one]]
            words = f"found {_SAID[key]} on a {kind} finish; kind = {_either(kinds)} would fit"
            yield InitErrorDetails(type=refusal(words), loc=(key,), input=None)
    if {"reflectance", "pattern"} <= keys and "pattern" in _ALLOWED[kind]:
        words = "found a reflectance beside a pattern; the pattern's own, white = 0.85, would fit"
        yield InitErrorDetails(type=refusal(words), loc=("reflectance",), input=None)


def _either(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} or {names[-1]}"


def _missing(kind: FinishKind, keys: set[str]) -> Iterator[InitErrorDetails]:
    """Say which keys a finish of this kind cannot do without."""
    needed = ("index", "extinction") if kind == "metal" else () if "pattern" in keys else ("reflectance",)
    for key in needed:
        if key not in keys:
            yield InitErrorDetails(type="missing", loc=(key,), input=None)


def surface_from(value: object) -> object:
    """Return the table that stands for a surface given by kit name or inline.

    Of the kit's entry only those keys are taken over that go with what the table says itself: `{ like = "silver", kind
    = "matte", reflectance = 0.9 }` leaves the metal's index behind, and a pattern the reflectance.
    """
    table = from_kit(value, "surfaces", "cloths")
    if table is value or not isinstance(table, Mapping):
        return table
    own = set(value) if isinstance(value, Mapping) else set()
    kind = table.get("kind", "matte")
    left = set(_SAID) - set(_ALLOWED[kind]) if kind in get_args(FinishKind) else set()
    if "pattern" in table:
        left.add("reflectance")
    return {key: one for key, one in table.items() if key in own or key not in left}


KitSurface = Annotated[Surface, BeforeValidator(surface_from, json_schema_input_type=Surface | str)]
