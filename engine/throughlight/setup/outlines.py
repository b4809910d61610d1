"""Outlines of a slab that come from a file: the silhouette in a picture, or an SVG drawing."""

from __future__ import annotations

from collections.abc import Collection
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, PrivateAttr, ValidationInfo, field_validator, model_validator

from throughlight.setup import drawing, silhouette
from throughlight.setup.base import Part, folder_of
from throughlight.setup.faces import Disc, Polygon, Rectangle
from throughlight.setup.islands import Islands
from throughlight.setup.kind import misfit
from throughlight.setup.meshes import locate
from throughlight.setup.units import Size, pure


class Picture(Part):
    """The silhouette of a thing in a picture; its middle is that of its bounding box."""

    shape: Literal["picture"] = "picture"
    file: Path = Field(description="PNG, JPEG, TIFF, WebP or BMP, beside the setup file")
    width: Size = Field(description="of the thing itself, from its left to its right end")
    threshold: Annotated[float, pure("a threshold", 0.01, 0.99, "0.5")] = Field(
        0.5, description="part of the way from black to white (or from clear to opaque) at which the thing begins"
    )
    dark: bool | None = Field(
        None, strict=True, description="whether it is dark on light; seen from the picture when left out"
    )
    tolerance: Size | None = Field(None, description="how far the outline is simplified; 0.3 pixel when left out")
    _islands: Islands = PrivateAttr(default=())

    @field_validator("file", mode="before")
    @classmethod
    def _beside_the_setup(cls, value: object, info: ValidationInfo) -> Path:
        return locate(
            value, folder_of(info), silhouette.KINDS, silhouette.MOST_BYTES, "a PNG, JPEG, TIFF, WebP or BMP file"
        )

    @model_validator(mode="after")
    def _trace(self) -> Picture:
        self._islands = silhouette.silhouette(self.file, self.width, self.threshold, self.dark, self.tolerance)
        return self

    @property
    def islands(self) -> Islands:
        """What it encloses."""
        return self._islands


class Svg(Part):
    """What an SVG drawing, or one SVG path, encloses; its middle is that of its bounding box."""

    shape: Literal["svg"] = "svg"
    file: Path | None = Field(None, description="SVG, beside the setup file; or give `path`")
    path: str | None = Field(None, description='an SVG path, such as "M0 0 H8 V5 Z"; or give `file`')
    width: Size = Field(description="of the drawn outline, from its left to its right end")
    _islands: Islands = PrivateAttr(default=())

    @classmethod
    def unmet(cls, keys: Collection[str]) -> str | None:
        """Say that the outline comes from exactly one place."""
        if ("file" in keys) != ("path" in keys):
            return None
        said = "found both file and path" if "file" in keys else "the outline has no drawing"
        return f'{said}; exactly one of file ("cut.svg") and path ("M0 0 H8 V5 Z") would fit'

    @field_validator("file", mode="before")
    @classmethod
    def _beside_the_setup(cls, value: object, info: ValidationInfo) -> Path:
        return locate(value, folder_of(info), drawing.KINDS, drawing.MOST_BYTES, "an SVG file")

    @field_validator("path", mode="before")
    @classmethod
    def _readable(cls, value: object) -> str:
        if not isinstance(value, str) or not value.strip():
            raise misfit(value, 'an SVG path would fit, such as "M0 0 H8 V5 Z"')
        return value

    @model_validator(mode="after")
    def _trace(self) -> Svg:
        if self.file is not None:
            self._islands = drawing.drawn(self.file, self.width)
        elif self.path is not None:
            self._islands = drawing.path_outline(self.path, self.width)
        return self

    @property
    def islands(self) -> Islands:
        """What it encloses."""
        return self._islands


Outline = Annotated[Disc | Rectangle | Polygon | Picture | Svg, Field(discriminator="shape")]
