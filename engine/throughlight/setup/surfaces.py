"""What does not shine and is not looked through: cards, flags, backdrop, table, supports."""

from __future__ import annotations

from collections.abc import Collection
from typing import Annotated

from pydantic import Field, model_validator

from throughlight.setup.base import Part, derived, same_place
from throughlight.setup.finishes import KitSurface, Surface, surface_from
from throughlight.setup.kind import refusal
from throughlight.setup.place import ORIGIN, Place, Vec3
from throughlight.setup.units import PLACE, Angle, Size


def _kit_surface(name: str) -> Surface:
    return Surface.model_validate(surface_from(name))


class Card(Part):
    """A card: its front faces its aim. Black one side and white the other is the normal card."""

    name: str = Field("card", min_length=1, max_length=80, description="what the sheets call it")
    at: Place = Field(description="its middle")
    aim: Place = Field(ORIGIN, description="what its front faces; the subject's mark when left out")
    roll: Angle = Field(0.0, description="turn about its middle")
    width: Size = Field(description="width")
    height: Size = Field(description="height")
    front: KitSurface = Field(default_factory=lambda: _kit_surface("white card"), description="finish of the front")
    back: KitSurface = Field(default_factory=lambda: _kit_surface("black card"), description="finish of the back")

    @model_validator(mode="after")
    def _faces_something(self) -> Card:
        if same_place(self.at, self.aim):
            raise refusal('"at" and "aim" are the same place; a card that faces something would fit')
        return self


class Flag(Card):
    """A flag: a card that is black on both sides when nothing else is said."""

    name: str = Field("flag", min_length=1, max_length=80, description="what the sheets call it")
    front: KitSurface = Field(default_factory=lambda: _kit_surface("black card"), description="finish of the front")


class Backdrop(Part):
    """The backdrop, behind the subject's mark."""

    distance: Size | None = Field(None, description="how far behind the subject's mark; or give `at`")
    at: Place = Field(
        default_factory=derived(lambda data: _behind(data["distance"]), ORIGIN),
        description="its middle; or give `distance`",
    )
    aim: Place = Field(
        default_factory=derived(lambda data: _toward_camera(data["at"]), ORIGIN),
        description="what its front faces; the camera side when left out",
    )
    width: Size = Field(description="width")
    height: Size = Field(description="height")
    surface: KitSurface = Field(alias="cloth", description="kit name of a cloth or paper, or a finish of your own")

    @classmethod
    def unmet(cls, keys: Collection[str]) -> str | None:
        """Say that a backdrop has exactly one place."""
        if ("at" in keys) != ("distance" in keys):
            return None
        said = "found both at and distance" if "at" in keys else "the backdrop has no place"
        return f'{said}; exactly one of distance ("90 cm") and at would fit'

    @model_validator(mode="after")
    def _faces_something(self) -> Backdrop:
        if same_place(self.at, self.aim):
            raise refusal('"at" and "aim" are the same place; a backdrop that faces something would fit')
        return self


def _behind(distance: float | None) -> Vec3:
    return ORIGIN if distance is None else (0.0, 0.0, -distance)


def _toward_camera(at: Vec3) -> Vec3:
    return (at[0], at[1], at[2] + 1.0)


class Table(Part):
    """A table top: flat, level, without thickness."""

    height: Annotated[float, PLACE] = Field(description="height of its top over the subject's mark (often below: < 0)")
    at: Place = Field(
        default_factory=derived(lambda data: (0.0, data["height"], 0.0), ORIGIN),
        description="its middle in plan; under the subject's mark when left out",
    )
    width: Size = Field(description="from left to right")
    depth: Size = Field(description="from front to back")
    surface: KitSurface = Field(description="kit name of a surface or cloth, or a finish of your own")

    @model_validator(mode="after")
    def _one_height(self) -> Table:
        if self.at[1] not in (0.0, self.height):
            raise refusal(
                'found two heights; leave the second number of "at" at "0 cm", height says how high the top is'
            )
        return self


class Support(Part):
    """A straight wire or rod between two places."""

    name: str = Field("support", min_length=1, max_length=80, description="what the sheets call it")
    start: Place = Field(alias="from", description="one end")
    end: Place = Field(alias="to", description="the other end")
    diameter: Size = Field(description="diameter")
    surface: KitSurface = Field(default_factory=lambda: _kit_surface("bare steel"), description="finish")

    @model_validator(mode="after")
    def _has_length(self) -> Support:
        if same_place(self.start, self.end):
            raise refusal('"from" and "to" are the same place; two ends would fit')
        return self
